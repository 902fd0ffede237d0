"""The rations of the demo book against an independent solver on an independently written program."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog

from rationlp.bins import estimate_bin
from rationlp.farm import Farm
from rationlp.feeds.candidates import bin_candidate, offer_candidates
from rationlp.rations.formulate import formulate
from rationlp.rations.program.formula import build
from rationlp.rations.program.least import least_share
from rationlp.rations.solve.optimum import optimum
from rationlp.stages.limits import content
from rationlp.stages.needs import stage_needs, stages_of_book

pytestmark = pytest.mark.slow

TIGHT = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}


def reference_cost(formula, out=frozenset(), least=None):
    """Least cost and its shares by offer, per tonne, by scipy on a program written another way.

    Shares add up to one, right sides are numbers.

    `out` are offers that stay out, `least` the least share of others: what the scales can weigh.

    For the energy objective the ratio cost/energy is minimized by bisection on its value (Dinkelbach's iteration:
    W. Dinkelbach, On nonlinear fractional programming, Management Science 13, 1967), not by a change of variables.
    """
    candidates, stage = formula.candidates, formula.stage
    energy = np.array([c.values[stage.energy] for c in candidates])
    upper, right = [], []
    for need in stage.needs:
        counts = [not need.of_groups or c.group in need.of_groups for c in candidates]  # selenium that is added
        amount = np.array([c.values.get(need.nutrient, 0.0) * n for c, n in zip(candidates, counts, strict=True)])
        weight = energy / need.reference_energy if need.reference_energy else None
        for bound, sign in ((need.minimum, -1.0), (need.maximum, 1.0)):
            if bound is None:
                continue
            upper.append(sign * (amount - bound * weight) if weight is not None else sign * amount)
            right.append(0.0 if weight is not None else sign * bound)
    for ratio in stage.ratios:
        a, b = (np.array([c.values[n] for c in candidates]) for n in (ratio.numerator, ratio.denominator))
        for bound, sign in ((ratio.minimum, -1.0), (ratio.maximum, 1.0)):
            if bound is not None:
                upper.append(sign * (a - bound * b))
                right.append(0.0)
    for cap in formula.caps:
        held = np.array([content(cap, c) for c in candidates])
        if cap.max_share is not None:
            upper.append(held)
            right.append(cap.max_share)
        if cap.min_share is not None:
            upper.append(-held)
            right.append(-cap.min_share)
    equal, equal_right = [np.ones(len(candidates))], [1.0]
    for part in ("vitamins", "trace_minerals"):
        for sign, dose in ((-1.0, "premix_inclusion"), (1.0, "most_premix")):  # from one dose to what the maker allows
            doses = np.array([1 / getattr(c, dose) if part in c.premix_covers else 0.0 for c in candidates])
            if doses.any():
                upper.append(sign * doses)
                right.append(sign)
    bounds = [
        (
            max(c.min_share or 0.0, (least or {}).get(c.name, 0.0)),
            0.0 if c.name in out else 1.0 if c.max_share is None else c.max_share,
        )
        for c in candidates
    ]
    price = np.array([c.price_per_tonne for c in candidates])

    def minimum(costs):
        answer = linprog(costs, upper, right, equal, equal_right, bounds, method="highs-ds", options=TIGHT)
        assert answer.status == 0, answer.message
        return answer.x

    if formula.objective == "per_tonne":
        x = minimum(price)
        return price @ x, dict(zip([c.name for c in candidates], x, strict=True))
    rate = 0.0
    for _ in range(50):
        x = minimum(price - rate * energy)
        new = price @ x / (energy @ x)
        if abs(new - rate) < 1e-13:
            break
        rate = new
    return 1000 * rate, dict(zip([c.name for c in candidates], x, strict=True))


def with_whole_shares(formula, named, out, least):
    """The reference's least cost where nothing that stays out of the ration comes in lighter than can be weighed.

    What one offer leaves open another may fill as lightly: it is out as well then. `named` are the ration's shares.
    """
    up = dict.fromkeys((offer for offer, share in named.items() if share == pytest.approx(least, rel=1e-6)), least)
    while True:
        cost, shares = reference_cost(formula, out, up)
        dust = {name for name, share in shares.items() if 1e-12 < share < least * (1 - 1e-6)} - set(named) - out
        if not dust:
            return cost
        out = out | dust


@pytest.mark.slow
@pytest.mark.parametrize("bin_name", ["north", "south"])
def test_demo_rations_cost_what_an_independent_solver_finds(bin_name, demo_book, library):
    rations = {ration.stage: ration for ration in formulate(Farm(demo_book, library), bins=[bin_name])}
    candidates = [
        bin_candidate(estimate_bin(bin_name, demo_book, library), demo_book),
        *offer_candidates(demo_book, library),
    ]
    stages = stages_of_book(demo_book, library)
    assert len(stages) > 10
    dearer = 0
    for stage_id in stages:
        ration = rations[stage_id]
        assert ration.status == "optimal", (stage_id, ration.shortfalls, ration.conflict)
        formula = build(stage_needs(stage_id, demo_book, library), bin_name, candidates, Farm(demo_book, library))
        ours = ration.cost_per_tonne if formula.objective == "per_tonne" else ration.cost_per_gcal
        least = least_share(demo_book.farm)
        light = {c.name for c, x in zip(formula.candidates, optimum(formula, 50.0)[1].amounts, strict=True) if x}
        named = {line.offer: line.share for line in ration.mix if line.share}
        out = {line.offer for line in ration.mix if line.share == 0} & light
        up = any(share == pytest.approx(least, rel=1e-6) for share in named.values())
        assert all(share >= least * (1 - 1e-6) for share in named.values()), stage_id
        assert ours == pytest.approx(with_whole_shares(formula, named, out, least), rel=1e-6), stage_id
        dearer += bool(out or up)
    assert dearer  # some rations of the demo hold what its hand scale could not weigh, were it not for this
