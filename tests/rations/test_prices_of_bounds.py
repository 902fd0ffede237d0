"""What a bound costs: the change of the objective, found again by solving with a little more of it."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from rationlp.book.records import OwnLimit, Place
from rationlp.cli.app import app
from rationlp.farm import Farm
from rationlp.rations.answer.model import MixLine
from rationlp.rations.formulate import formulate, solve_rations

DEMO = Path(__file__).parents[2] / "demo" / "stillwater_bend"


def objective_of(ration):
    return ration.cost_per_gcal if ration.objective == "per_energy" else ration.cost_per_tonne


@pytest.mark.parametrize("objective", ["per_tonne", "per_energy"])
@pytest.mark.parametrize("seed", range(16))
def test_one_more_unit_of_a_bound_changes_the_objective_by_its_price(random_book, library, seed, objective):
    made = random_book(seed, objective=objective)
    book = replace(made.book, farm=replace(made.book.farm, objective=objective))
    (base,) = formulate(Farm(book, library))
    if base.status != "optimal":
        return
    for place, own in enumerate(book.own_stages):
        line = next(line for line in base.requirements if line.nutrient == own.nutrient)
        if line.binding is None or not line.shadow_price or own.per != "kg":
            continue
        bound = getattr(own, line.binding)
        step, costs = 1e-5 * bound, []
        for move in (step, -step):
            rows = list(book.own_stages)
            rows[place] = replace(own, **{str(line.binding): bound + move})
            (ration,) = formulate(Farm(replace(book, own_stages=tuple(rows)), library))
            costs.append((objective_of(ration) - objective_of(base)) / move)
        low, high = sorted(costs)
        assert low - 1e-4 * abs(low) - 1e-6 <= line.shadow_price <= high + 1e-4 * abs(high) + 1e-6
        assert line.shadow_price_of == ("gcal" if objective == "per_energy" else "tonne")
        assert (line.shadow_price > 0) == (line.binding == "minimum")


@pytest.mark.slow
def test_a_cap_costs_what_one_more_percent_saves(demo_book, library):
    stage = "sw_nur_11_25"
    feed = next(offer.feed for offer in demo_book.supplements if offer.offer == "soy48_bulk")
    (base,) = formulate(Farm(demo_book, library), [stage], ["north"])
    held = sum(line.share for line in base.mix if line.feed == feed)
    for part in (0.8, 0.95):
        rations = []
        for most in (part * held, part * held + 1e-5):
            limit = OwnLimit(Place(), stage, feed, max_share=most, reason="a test of the price")
            (ration,) = formulate(Farm(replace(demo_book, own_limits=(limit,)), library), [stage], ["north"])
            assert ration.status == "optimal"
            rations.append(ration)
        line = next(line for line in rations[0].limits if line.feed == feed and line.binding)
        saved = (objective_of(rations[0]) - objective_of(rations[1])) / 1e-3
        assert line.cost_of_a_percent == pytest.approx(saved, rel=1e-3) and line.shadow_price < 0
        assert line.shadow_price_of == "gcal"


def test_a_feed_that_would_have_to_be_paid_for_comes_in_at_no_price():
    dear = MixLine("salt", "salt", "Salt", 0.0, 300.0, 3672.97)
    near = MixLine("peas", "peas", "Peas", 0.0, 300.0, 20.0)
    held = MixLine("corn", "corn", "Corn", 0.5, 200.0, 0.0)
    assert (dear.enters_at, near.enters_at, held.enters_at) == (None, 280.0, 200.0)


@pytest.mark.slow
def test_no_price_below_zero_is_printed():
    answer = CliRunner().invoke(app, ["ration", str(DEMO), "--stage", "sw_gro_25_50", "--bin", "north", "--full"])
    assert "not at any price" in answer.stdout
    assert "L-tryptophan (must fall by 9" not in answer.stdout
    assert "USD/Gcal a unit" in answer.stdout.replace("\n", " ") or "USD/Gcal" in answer.stdout


def test_the_covariance_of_a_bin_is_told_as_fed():
    (bin_object,) = json.loads(
        CliRunner().invoke(app, ["bin", str(DEMO), "--bin", "north", "--format", "json"]).stdout
    )["bins"]
    names, matrix = bin_object["covariance"]["nutrients"], np.array(bin_object["covariance"]["matrix"])
    sds = {line["nutrient"]: line["sd"] for line in bin_object["nutrients"]}
    assert matrix.shape == (len(names), len(names)) and np.allclose(matrix, matrix.T)
    assert {name: matrix[i, i] ** 0.5 for i, name in enumerate(names)} == pytest.approx({n: sds[n] for n in names})
    assert np.linalg.eigvalsh(matrix / np.outer(*[np.sqrt(matrix.diagonal()) + 1e-12] * 2)).min() > -1e-8
    assert {"crude_protein", "ne_pig", "lysine"} <= set(names)


def test_shadow_prices_in_json(demo_book, library):
    (solved,) = solve_rations(Farm(demo_book, library), ["hen_peak"], ["north"])
    assert {line.shadow_price_of for line in solved.ration.requirements if line.binding} == {"gcal"}
