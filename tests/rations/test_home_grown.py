"""Home-grown share: of each ration and the farm, as a floor, and what each further percent costs."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise

import pytest
from click.testing import CliRunner

from rationlp.book.records import OwnRequirement, Place
from rationlp.cli.app import app
from rationlp.farm import Farm
from rationlp.rations.answer.farm_totals import farm_totals
from rationlp.rations.formulate import formula_of, formulate
from rationlp.rations.studies.frontier import frontier, frontiers

pytestmark = pytest.mark.slow


@pytest.mark.slow
@pytest.mark.parametrize("confidence", [50.0, 80.0])
def test_the_frontier_rises_and_its_price_is_the_next_bit(confidence, demo_book, library):
    book = replace(demo_book, farm=replace(demo_book.farm, confidence_pct=confidence, objective="per_tonne"))
    points = frontiers(Farm(book, library), ["sw_gro_25_50"], ["south"])
    assert len(points) >= 3
    (cheapest,) = formulate(Farm(book, library), ["sw_gro_25_50"], ["south"])
    assert points[0].cost_per_tonne == pytest.approx(cheapest.cost_per_tonne, rel=1e-6)
    assert points[0].home_grown_share == pytest.approx(cheapest.home_grown_share, abs=1e-6)
    for low, high in pairwise(points):
        assert high.home_grown_share > low.home_grown_share
        assert high.cost_per_tonne >= low.cost_per_tonne
        percent = 100 * (high.home_grown_share - low.home_grown_share)
        rise = (high.cost_per_tonne - low.cost_per_tonne) / percent
        assert low.price_of_next_percent <= rise * (1 + 1e-3) + 1e-6  # convex: the first bit is the cheapest
    assert points[-1].price_of_next_percent is None
    beyond = formulate(Farm(book, library), ["sw_gro_25_50"], ["south"], home_grown=points[-1].home_grown_share + 0.005)
    assert beyond[0].status == "nearest"


def test_the_price_of_the_next_percent_is_a_difference(demo_book, library):
    book = replace(demo_book, farm=replace(demo_book.farm, objective="per_tonne"))
    farm = Farm(book, library)
    points = frontier(formula_of(farm, farm.stage("sw_gro_25_50"), ("south",)))
    point = points[1]
    step = 2e-5
    costs = [
        formulate(Farm(book, library), ["sw_gro_25_50"], ["south"], home_grown=point.home_grown_share + h)[
            0
        ].cost_per_tonne
        for h in (step, 3 * step)
    ]
    assert point.price_of_next_percent == pytest.approx((costs[1] - costs[0]) / (200 * step), rel=1e-3)


@pytest.mark.slow
def test_the_frontier_goes_on_past_what_the_trade_uses_at_most(demo_book, library):
    """25 % protein asked for against the 24 % of the trade: `ration` answers and asks, and so does the frontier, which
    leaves crystals and traces in."""
    rows = (OwnRequirement(Place(), "sw_gro_25_50", "crude_protein", 25.0, None, "%", "kg", "own"),)
    farm = Farm(replace(demo_book, own_stages=rows), library)
    points = frontiers(farm, ["sw_gro_25_50"], ["north"])
    (ration,) = formulate(farm, ["sw_gro_25_50"], ["north"])
    assert points and all(point.past_usual for point in points)
    assert points[0].cost_per_gcal == pytest.approx(ration.cost_per_gcal, rel=1e-2)
    assert not any(point.past_usual for point in frontiers(Farm(demo_book, library), ["hen_peak"], ["north"]))


@pytest.mark.slow
def test_a_floor_is_kept_and_the_share_is_that_of_the_mix(demo_book, library):
    for ration in formulate(Farm(demo_book, library), ["sw_gro_25_50", "hen_brown_110"], home_grown=0.75):
        grown = sum(line.share for line in ration.mix if line.offer in ("north", "south"))
        assert ration.home_grown_share == pytest.approx(grown)
        if ration.status == "optimal":
            assert grown >= 0.75 - 1e-9


@pytest.mark.slow
def test_bins_together_are_never_dearer_than_the_better_of_them(demo_book, library):
    for stage in ("sw_gro_25_50", "hen_peak", "broiler_3_6"):
        apart = formulate(Farm(demo_book, library), [stage])
        (both,) = formulate(Farm(demo_book, library), [stage], together=True)
        costs = [r.cost_per_gcal for r in apart]
        assert both.bin == "north+south" and both.status == "optimal"
        assert both.cost_per_gcal <= min(costs) * (1 + 1e-9)


@pytest.mark.slow
def test_the_farm_adds_up(demo_book, library):
    rations = formulate(Farm(demo_book, library), bins=["north"])
    (total,) = farm_totals(demo_book, rations)
    by_stage = {r.stage: r for r in rations}
    tonnes = grown = cost = 0.0
    for g in demo_book.groups:
        r = by_stage[g.stage]
        fed = g.head * ((g.to_date - g.from_date).days + 1) * r.feed_kg_per_head_per_day / 1000
        tonnes, grown, cost = tonnes + fed, grown + fed * r.home_grown_share, cost + fed * r.cost_per_tonne
    assert total.tonnes == pytest.approx(tonnes)
    assert total.home_grown_share == pytest.approx(grown / tonnes)
    assert total.cost == pytest.approx(cost)


@pytest.mark.slow
def test_the_commands(demo_book):
    base = ["ration", str(demo_book.path), "--stage", "sw_gro_25_50", "--bin", "south", "--format", "json"]
    told = json.loads(CliRunner().invoke(app, [*base, "--frontier"]).stdout)
    assert len(told["frontier"]) >= 3
    floor = CliRunner().invoke(app, [*base, "--home-grown", "0.89"])
    (ration,) = json.loads(floor.stdout)["rations"]
    assert floor.exit_code == 0 and ration["home_grown_share"] >= 0.89 - 1e-9
    too_much = CliRunner().invoke(app, [*base, "--home-grown", "0.99"])  # a wish: it may be fed once someone decides
    (ration,) = json.loads(too_much.stdout)["rations"]
    assert too_much.exit_code == 0 and ration["status"] == "nearest"
    assert ration["verdict"]["verdict"] == "ask"
    (reason,) = [r for r in ration["verdict"]["reasons"] if r["nutrient"] == "home_grown_share"]
    assert (reason["kind"], reason["verdict"], reason["limit"]) == ("requirement", "ask", pytest.approx(99))
    assert "the farm asks for at least 99" in reason["text"] and "animals" not in reason["text"]
    assert reason["value"] == pytest.approx(100 * ration["home_grown_share"]) and reason["value"] < 99
    assert CliRunner().invoke(app, [*base, "--home-grown", "1.5"]).exit_code == 2
