"""The overview tells what more certainty costs and what nobody offers that would save most; so does the JSON."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from random_farms import read_sheets, write_sheets

from rationlp.cli.app import app
from rationlp.show.text.ration import print_rations


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    """The demo book for one stage whose energy and fat drive the cost."""
    sheets = read_sheets()
    sheets["groups"] = [row for row in sheets["groups"] if row["stage"] in ("broiler_0_3", "sw_gro_25_50")]
    return write_sheets(sheets, tmp_path_factory.mktemp("overview") / "book")


@pytest.fixture(scope="module")
def document(book):
    done = CliRunner().invoke(app, ["ration", str(book), "--format", "json"])
    assert done.exit_code in (0, 3), done.output
    return json.loads(done.stdout)


def own_cost(ration):
    return ration["cost_per_gcal" if ration["objective"] == "per_energy" else "cost_per_tonne"]


@pytest.mark.slow
def test_more_confidence_never_costs_less(document):
    told = 0
    for ration in document["rations"]:
        levels = ration["confidence_prices"]
        if ration["status"] != "optimal":
            continue
        assert [level["confidence_pct"] for level in levels] == [80, 90, 95]
        costs = [level["cost"] for level in levels if level["cost"] is not None]
        assert costs == sorted(costs) and all(cost >= own_cost(ration) * (1 - 1e-9) for cost in costs)
        told += len(costs)
    assert told


@pytest.mark.slow
def test_the_missing_offer_saves_and_is_not_on_offer(document, book):
    offered = {row["feed"] for row in read_sheets(book)["supplements"]}
    for ration in document["rations"]:
        offer = ration["missing_offer"]
        if offer is None:
            continue
        assert offer["feed"] not in offered and 0 < offer["share"] <= 1
        assert offer["cost_with"] < offer["cost"] == pytest.approx(ration["cost_per_tonne"])
        assert offer["price"] > 0 and offer["priced_by"] and offer["driver"]


@pytest.mark.slow
def test_the_overview_shows_both(document, book, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    done = CliRunner().invoke(app, ["ration", str(book), "--full"])
    assert "80, 90, 95 % sure: how much dearer the ration gets" in " ".join(done.stdout.split())
    named = {ration["missing_offer"]["label"] for ration in document["rations"] if ration["missing_offer"]}
    assert ("What is not on offer and would save most" in done.stdout) == bool(named)
    assert all(label in done.stdout for label in named)
    assert " nan " not in done.stdout and " None " not in done.stdout.split("Cautions")[0]


def test_a_confidence_that_cannot_be_had_is_said_so(demo_book, library, capsys):
    from rationlp.farm import Farm
    from rationlp.rations.formulate import solve_rations

    (made,) = solve_rations(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    cost = made.ration.cost_per_gcal if made.ration.objective == "per_energy" else made.ration.cost_per_tonne
    print_rations([made.ration], Farm(demo_book, library), [((80.0, 1.1 * cost), (90.0, None))], [None])
    told = capsys.readouterr().out
    assert "+10.0 %" in told and "no mix" in told
    assert "would save most" not in told
