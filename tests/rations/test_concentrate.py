"""The bought part of a ration as one mix, and one mix for several stages."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from scipy.optimize import linprog

from rationlp.cli.app import app
from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.rations.program.only_here import bare
from rationlp.rations.solve.optimum import optimum
from rationlp.rations.studies.concentrate import concentrate_of, shared_concentrate, shared_concentrates, weights_of


def whole(book, library, stages, **options):
    return [one for one in solve_rations(Farm(book, library), stages, **options) if one.ration.status == "optimal"]


def test_the_concentrate_and_its_grain_are_the_ration(demo_book, library):
    for one in whole(demo_book, library, ["sw_gro_25_50", "hen_peak"], bins=["north"]):
        mix = concentrate_of(one)
        (use,) = mix.uses
        shares = {line.offer: line.share for line in one.ration.mix if line.share}
        assert sum(part.share for part in mix.parts) == pytest.approx(1)
        assert {p.offer: pytest.approx(p.share * use.inclusion) for p in mix.parts} | {
            p.offer: pytest.approx(p.share) for p in use.grain
        } == shares
        grown = sum(
            p.share * one.ration.mix[[m.offer for m in one.ration.mix].index(p.offer)].price_per_tonne
            for p in use.grain
        )
        assert mix.cost_per_tonne * use.inclusion + grown == pytest.approx(one.ration.cost_per_tonne)
        assert use.premix_doses == pytest.approx(1, abs=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize("confidence", [50.0, 80.0])
def test_one_mix_for_two_stages_meets_both_and_costs_least_extra(confidence, demo_book, library):
    book = replace(demo_book, farm=replace(demo_book.farm, confidence_pct=confidence))
    makes = whole(book, library, ["sw_gro_25_50", "sw_gro_50_75"], bins=["south"])
    (mix,) = shared_concentrates(makes, Farm(book, library))
    assert [use.stage for use in mix.uses] == ["sw_gro_25_50", "sw_gro_50_75"]
    for use, one in zip(mix.uses, makes, strict=True):
        assert use.ration.status == "optimal" and not use.ration.shortfalls
        # the ration of its own, were it not that nothing too light to weigh may be in it: that counts of a bought part
        assert use.cost >= optimum(bare(one.formula), confidence)[1].objective * (1 - 1e-9)
        assert use.inclusion + sum(p.share for p in use.grain) == pytest.approx(1)
        bought = {
            line.offer: line.share / use.inclusion for line in use.ration.mix if line.share and line.offer != "south"
        }
        assert bought == {p.offer: pytest.approx(p.share, abs=1e-7) for p in mix.parts}
        assert use.premix_doses >= 1 - 1e-6
        if confidence > 50:
            low = [line for line in use.ration.requirements if line.probability is not None and line.met_by == "ration"]
            assert min(line.probability for line in low) >= confidence / 100 - 1e-6
    alone = [shared_concentrate([one], weights_of([one], book), Farm(book, library)) for one in makes]
    for one, use in zip(alone, mix.uses, strict=True):
        assert one.uses[0].cost == pytest.approx(one.uses[0].cost_of_own_ration, rel=1e-6)
        assert use.cost <= 1.1 * use.cost_of_own_ration


@pytest.mark.slow
def test_the_shared_mix_against_a_scan_of_inclusion_rates(demo_book, library):
    """With both inclusion rates fixed the least weighted cost is one linear program; none of a fine scan is cheaper."""
    book = replace(demo_book, farm=replace(demo_book.farm, objective="per_tonne"))
    makes = whole(book, library, ["sw_fin_75_100", "sw_fin_100_135"], bins=["south"])
    makes = [replace(one, formula=bare(one.formula)) for one in makes]
    weights = [2.0, 3.0]
    mix = shared_concentrate(makes, weights, Farm(book, library))
    total = sum(w * use.cost for w, use in zip(weights, mix.uses, strict=True))
    bought = [c for c in makes[0].formula.candidates if not c.home_grown]
    price = np.array([c.price_per_tonne for c in bought])
    grain = next(c for c in makes[0].formula.candidates if c.home_grown)

    def cost_at(rates):
        upper, right = [], []
        for one, rate in zip(makes, rates, strict=True):
            place = {c.name: k for k, c in enumerate(one.formula.candidates)}
            order = [place[c.name] for c in bought]
            for row in one.formula.program.rows:
                sign = 1.0 if row.sense == "<=" else -1.0  # a premix dose may be passed
                a = np.array(row.coefficients)
                upper.append(sign * a[order] * rate)
                right.append(-sign * a[place[grain.name]] * (1 - rate))
        costs = sum(w * r for w, r in zip(weights, rates, strict=True)) * price
        answer = linprog(costs, upper, right, np.ones((1, len(bought))), [1.0], method="highs")
        fixed = sum(w * (1 - r) for w, r in zip(weights, rates, strict=True)) * grain.price_per_tonne
        return answer.fun + fixed if answer.status == 0 else np.inf

    best = [use.inclusion for use in mix.uses]
    near = [cost_at([best[0] * a, best[1] * b]) for a in np.linspace(0.85, 1.2, 8) for b in np.linspace(0.85, 1.2, 8)]
    wide = [cost_at([a, b]) for a in np.linspace(0.02, 0.5, 12) for b in np.linspace(0.02, 0.5, 12)]
    assert cost_at(best) == pytest.approx(total, rel=1e-6)
    assert min(*near, *wide) >= total * (1 - mix.unproven_pct / 100 - 1e-7)
    assert mix.unproven_pct < 0.1
    assert np.isfinite([*near, *wide]).sum() > 10


@pytest.mark.slow
def test_stages_that_no_mix_serves_together_get_mixes_of_their_own(demo_book, library):
    makes = whole(demo_book, library, ["sw_gro_25_50", "hen_peak", "sw_gro_50_75"], bins=["north"])
    mixes = shared_concentrates(makes, Farm(demo_book, library))
    assert [[use.stage for use in mix.uses] for mix in mixes] == [["sw_gro_25_50", "sw_gro_50_75"], ["hen_peak"]]


@pytest.mark.slow
def test_the_command_in_every_form(write_book, demo_book):
    path = str(demo_book.path)
    wanted = ["ration", path, "--stage", "sw_gro_25_50", "--stage", "sw_gro_50_75", "--bin", "south", "--concentrate"]
    text = CliRunner().invoke(app, [*wanted, "--shared", "--full"])
    assert text.exit_code == 0 and "Concentrate 1" in text.output and "Home-grown to 100 kg" in text.output
    told = json.loads(CliRunner().invoke(app, [*wanted, "--format", "json"]).stdout)
    assert [len(c["uses"]) for c in told["concentrates"]] == [1, 1]
    rows = list(csv.DictReader(io.StringIO(CliRunner().invoke(app, [*wanted, "--shared", "--format", "csv"]).stdout)))
    parts = [float(row["share"]) for row in rows if row["part"] == "concentrate"]
    assert sum(parts) == pytest.approx(1)
    assert {row["stage"] for row in rows if row["part"] == "inclusion"} == {"sw_gro_25_50", "sw_gro_50_75"}
    wrong = CliRunner().invoke(app, ["ration", path, "--shared"])
    assert wrong.exit_code == 2 and "--concentrate" in wrong.output
