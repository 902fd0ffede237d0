"""Few mixes where own grain is scarce, against every way of sharing out the year by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rationlp.api import open_farm
from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.rations.program.formula import build
from rationlp.rations.solve.general.whole import solve_whole
from rationlp.reasons import Kind, Reason, Severity, Verdict
from rationlp.year.plan import YearRequest, plan_year
from rationlp.year.program import few
from rationlp.year.program.choice import Choice
from rationlp.year.program.few import _fares
from rationlp.year.program.kitchen import joint_formula
from rationlp.year.program.pooled import Fare, merged, pooled
from rationlp.year.program.search import Search

STAGE = "sw_gro_25_50"
SEEDS = pytest.mark.parametrize("seed", range(40))
OFF = 0.02
"""Two mixes come within this part of the best of every way; of the forty years thirty-nine are the best itself."""


@SEEDS
def test_one_mix_for_all_holds_as_much_of_the_scarce_grain_as_there_is(small_year, library, seed):
    year = small_year(seed)
    plan = plan_year(year.farm(library), YearRequest(most_mixes=1))
    best = year.cheapest_few(plan, 1)
    if np.isfinite(best):
        assert plan.few.used == 1
        assert not plan.unfed
        assert plan.cost <= best * (1 + 1e-5)


@pytest.mark.slow
@SEEDS
def test_two_mixes_are_near_the_best_of_every_way_to_share_out_the_year(small_year, library, seed):
    year = small_year(seed)
    plan = plan_year(year.farm(library), YearRequest(most_mixes=2))
    best = year.cheapest_few(plan, 2)
    if np.isfinite(best):
        assert not plan.unfed
        assert plan.cost <= best * (1 + OFF)
        assert plan.few.bound <= best * (1 + 1e-6)


@SEEDS
def test_mixes_made_together_use_no_more_than_there_is(small_year, library, seed):
    year = small_year(seed)
    search = plan_year(year.farm(library)).search
    by_mix = {}
    for portion in search.master.portions():
        by_mix.setdefault(portion.mix.shares, []).append(portion)
    fares = [Fare(held[0].mix, tuple((p.demand, p.tonnes) for p in held)) for held in by_mix.values()]
    found = pooled(search, fares)
    for name in search.master.limited:
        assert sum(t.get(name, 0.0) for t in found.tonnes) <= search.master.supplies[name].tonnes + 1e-6
    for fare, tonnes in zip(fares, found.tonnes, strict=True):
        assert sum(tonnes.values()) == pytest.approx(fare.tonnes, rel=1e-6)
    assert found.cost <= search.master.answer.cost * (1 + 1e-6)


def test_a_requirement_that_hangs_on_a_trace_of_a_concentrated_feed_is_met_by_enough_to_weigh(small_year, library):
    year = replace(
        small_year(0),
        means=np.array([[0.001 * (1 - 5e-5)], [10.0]]),
        prices=np.array([200.0, 90_000.0]),
        stocks=[None, None],
        needs=[[(0, 0.001, None)]],
        groups=[(0, 10.0, 0, 99)],
        until=[99, 99],
    )
    (made,) = solve_rations(year.farm(library))
    assert made.ration.verdict.severity != "stop"
    assert made.shares["offer_1"] >= made.formula.least_share * (1 - 1e-6)


def test_a_program_without_whole_numbers_has_no_bound_of_branches_to_be_held_to():
    found = solve_whole(
        [-2.0, 1.0], [(0.0, 3.0, False), (0.0, None, False)], [({0: 1.0, 1: -1.0}, None, 2.0)], gap=1e-6
    )
    assert found.solution.status == "optimal"
    assert found.solution.objective == pytest.approx(-5.0)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_the_worth_of_what_is_scarce_is_what_more_of_it_saves_with_as_few_mixes(small_year, library, seed):
    """The mixes of a plan of few have no use for more of it as they are; it was worth nothing."""
    plan = plan_year(small_year(seed).farm(library, most_mixes=2))
    search, master = plan.search, plan.search.master
    places = tuple(i for i, mix in enumerate(master.mixes) if any(p.mix is mix for p in plan.portions))
    fares = _fares(search, Choice(places, plan.cost, True, True, len(places)))
    today, tonne = pooled(search, fares), 0.01
    for name in master.limited:
        supply, held = master.supplies[name], today.worth[name]
        assert search.worth_of(name) == pytest.approx(held, abs=1e-6) or plan.unfed
        master.supplies[name] = replace(supply, tonnes=supply.tonnes + tonne)
        more = pooled(search, fares).cost
        master.supplies[name] = replace(supply, tonnes=supply.tonnes - tonne)
        less = pooled(search, fares).cost
        master.supplies[name] = supply
        assert today.cost - more <= held * tonne + 1e-6 <= less - today.cost + 2e-6


def test_a_crystal_is_in_a_shared_mix_for_the_need_of_any_that_eat_it(demo_book, library):
    """Lysine that the growers need was taken out of the mix they share with finishers, who need none: 3 % dearer."""
    farm = Farm(demo_book, library)
    fin, gro = (build(farm.stage(stage), ("north",), farm.candidates, farm) for stage in ("sw_fin_75_100", STAGE))
    joint = joint_formula([fin, gro], dict(zip(fin.program.columns, fin.program.costs, strict=True)))
    rows = {row.key for row in joint.program.rows}
    for name, keys in joint.crystals.items():
        assert set(keys) <= rows
        assert len(keys) == len(set(keys))
        assert len(keys) > len(fin.crystals[name]) or not gro.crystals[name]
    assert any(key.endswith(f":{STAGE}") for key in joint.crystals["lysine"])


def test_two_mixes_made_one_hold_the_energy_of_all_that_eat_them(small_year, library):
    plan = plan_year(small_year(1).farm(library))
    one, other, *_ = (Fare(p.mix, ((p.demand, p.tonnes),)) for p in plan.portions)
    both = next(iter(merged([one, other])))
    shares = dict(both[0].mix.shares)
    assert both[0].tonnes == pytest.approx(one.tonnes + other.tonnes)
    assert sum(shares.values()) == pytest.approx(1.0)
    for name, share in shares.items():
        apart = (dict(f.mix.shares).get(name, 0.0) * f.tonnes for f in (one, other))
        assert share * both[0].tonnes == pytest.approx(sum(apart))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_a_plan_of_one_mix_fewer_is_told_no_dearer_than_two_of_its_mixes_made_one(small_year, library, seed):
    plan = plan_year(small_year(seed).farm(library, most_mixes=3))
    told, asked = plan.few.cost_of_one_fewer, plan_year(small_year(seed).farm(library, most_mixes=2))
    if told is not None and plan.few.used == 3 and asked.few.used == 2 and not asked.unfed:
        assert asked.cost <= told * 1.02
        assert told <= asked.cost * 1.05


@pytest.mark.slow
def test_a_mix_fewer_or_any_number_of_them_is_never_told_by_a_mix_that_must_not_be_fed(
    small_year, library, monkeypatch
):
    """The plan beside it was taken as it came: what one fewer costs could rest on a mix whose verdict is stop."""
    farm = small_year(2).farm(library)
    told = plan_year(farm, YearRequest(most_mixes=2)).few
    assert told.cost_of_one_fewer is not None
    ration, stop = Search.ration, Reason(Kind.SAFETY, Severity.STOP, "Must not be fed.")

    def judged(search, mix, stage):
        found = ration(search, mix, stage)
        for_all = len(mix.answers) == len({demand.stage for demand in search.demands})
        return replace(found, verdict=Verdict((stop,))) if for_all else found

    monkeypatch.setattr(Search, "ration", judged)
    plan = plan_year(farm, YearRequest(most_mixes=2))
    assert plan.few.cost_of_one_fewer is None
    assert plan.few.used == 2
    assert not plan.unfed  # its own mixes were kept out with those of the plan beside it


def test_where_fewer_mixes_are_asked_for_than_can_be_the_fewest_share_what_is_scarce(small_year, library, monkeypatch):
    """Four stages, three of which have no mix in common, and one mix asked for: only mixes of so few stages as were
    asked for were made to share what is scarce, none of which there are."""
    grain, meal, bran, roots = [1.0, 0.0, 0.0], [10.0, 0.0, 0.0], [1.0, 10.0, 0.0], [1.0, 0.0, 10.0]
    year = replace(
        small_year(0),
        means=np.array([grain, meal, bran, roots]),
        prices=np.array([100.0, 200.0, 300.0, 120.0]),
        stocks=[12.0, None, None, None],
        needs=[
            [(0, None, 3.0), (1, None, 5.0), (2, None, 0.01)],
            [(0, None, 3.0), (1, None, 5.0)],
            [(0, 6.0, 7.0)],
            [(0, 9.0, None)],
        ],
        groups=[(0, 10.0, 0, 99), (1, 10.0, 0, 99), (2, 2.0, 0, 99), (3, 2.0, 0, 99)],
        until=[99] * 4,
    )
    shared_out: list[int] = []
    make = few.pooled_mixes
    monkeypatch.setattr(few, "pooled_mixes", lambda search, fares: shared_out.append(len(fares)) or make(search, fares))
    few.add_shared_mixes(plan_year(year.farm(library)).search, 1)
    assert 3 in shared_out
    plan = plan_year(year.farm(library), YearRequest(most_mixes=1))
    assert not plan.unfed
    assert plan.few.used == 3
    (shared,) = (mix for mix in plan.mixes if len(mix.stages) == 2)
    assert shared.stages == ("stage_0", "stage_1")
    assert dict(shared.found.shares)["offer_0"] * shared.tonnes <= 12.0 + 1e-6


@pytest.mark.slow
def test_a_farm_that_asks_for_too_few_mixes_gets_the_fewest_that_its_grain_is_enough_for():
    """Four were asked for: six feed everybody once they share the grain, and seven were made."""
    plan = plan_year(open_farm("demo/stillwater_bend"), YearRequest(most_mixes=4))
    assert not plan.unfed
    assert plan.few.used == len(plan.mixes) == 6
