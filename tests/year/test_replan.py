"""Planning on from a day: what was mixed is out of the bins; what a new sample changes in the rest of the year."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta

import pytest
from click.testing import CliRunner
from random_farms import read_sheets, write_sheets

from rationlp.book.records import Lot, Place
from rationlp.cli.app import app
from rationlp.herd.season import season_of
from rationlp.ledger.kept import record_for
from rationlp.ledger.shape import Batch, batch_entry
from rationlp.ledger.weighed import SheetName, weighed_mix
from rationlp.reasons import Verdict
from rationlp.year.plan import plan_year
from rationlp.year.program.drawn import drawn_before
from rationlp.year.program.supplies import supplies_of


def run(*arguments):
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.fixture
def weighed_farm(demo_book, library, tmp_path):
    """A farm whose record has 3 t of north and 0.2 t of bran mixed before 15 November, 2 t of north on it."""
    from rationlp.api import OpenFarm

    groups = tuple(row for row in demo_book.groups if row.group in ("growers_early", "hens"))
    book = replace(demo_book, path=tmp_path / "book", groups=groups, herd=(), arrivals=(), actual=())
    farm = OpenFarm(book, library)
    made = [(1, date(2025, 10, 20), {"north": 3000.0, "bran": 200.0}), (2, date(2025, 11, 15), {"north": 2000.0})]
    record_for(book).add(
        batch_entry(
            Batch(weighed_mix(SheetName("hen_brown_110", ("north",), number=number), "", day, kg, book), Verdict())
        )
        for number, day, kg in made
    )
    return farm


@pytest.mark.slow
def test_what_was_mixed_before_the_plan_is_out_of_bins_and_offers(weighed_farm):
    farm = weighed_farm.from_day("2025-11-15")
    drawn = drawn_before(farm, date(2025, 11, 15))
    assert (drawn.batches, drawn.later) == (1, 1)
    assert (drawn.stocks["north"].taken_kg, drawn.stocks["bran"].taken_kg) == (pytest.approx(3000), pytest.approx(200))
    there = {s.name: s for s in supplies_of(farm, season_of(farm.book))}
    assert there["north"].mean_tonnes == pytest.approx(farm.bin("north").tonnes - 3.0)
    assert there["south"].mean_tonnes == pytest.approx(farm.bin("south").tonnes)
    whole = {s.name: s for s in supplies_of(weighed_farm, season_of(weighed_farm.book))}
    assert whole["north"].mean_tonnes == pytest.approx(farm.bin("north").tonnes)


@pytest.mark.slow
def test_the_plan_from_a_day_on_balances_with_the_record(weighed_farm):
    year = plan_year(weighed_farm.from_day("2025-11-15"))
    used = sum(use.tonnes for use in year.uses if use.bin == "north")
    left = next(sale.tonnes for sale in year.sales if sale.bin == "north")
    assert used + left + 3.0 == pytest.approx(weighed_farm.bin("north").tonnes, abs=1e-6)
    assert year.season.first == date(2025, 11, 15)
    assert any("1 batch of the record before the plan begins took 3 t of North bin" in note for note in year.notes)
    assert any("1 batch of the record since the plan begins" in note for note in year.notes)


def test_planning_on_without_a_deviation_costs_what_was_left_of_the_plan(small_year, library):
    year = small_year(2)
    year = replace(year, stocks=[None] * len(year.prices), until=[99] * len(year.prices))
    farm = year.farm(library)
    whole = plan_year(farm)
    day = whole.season.first + timedelta(days=45)
    rest = plan_year(farm.with_setting("plan_from", f"{day:%Y-%m-%d}"))
    eaten = sum(float(fed.head[45:].sum()) / fed.head_days * whole_of(whole, fed.group) for fed in whole.animals)
    assert rest.cost == pytest.approx(eaten, rel=1e-6)


def test_what_was_delivered_before_the_plan_is_fed_before_more_is_bought(small_year, library):
    farm = small_year(2).farm(library)
    before = plan_year(farm)
    bought = {row.offer: sum(p.tonnes for p in before.purchases if p.offer == row.offer) for row in before.purchases}
    name, tonnes = max(bought.items(), key=lambda item: item[1])
    day = before.season.first - timedelta(days=5)
    lot = Lot(Place(), "lot_1", name, day, mass_kg=500 * tonnes)
    there = plan_year(type(farm)(replace(farm.book, lots=(lot,)), library))
    assert there.cost == pytest.approx(before.cost)
    assert [(row.offer, row.used_tonnes) for row in there.on_farm] == [(name, pytest.approx(tonnes / 2))]
    assert sum(row.tonnes for row in there.purchases if row.offer == name) == pytest.approx(tonnes / 2)
    first = min(row.order_by for row in there.purchases if row.offer == name)
    assert first > min(row.order_by for row in before.purchases if row.offer == name)
    assert there.bought_cost < before.bought_cost


def whole_of(year, group):
    """What the feed of a group costs over the year; its mix is the same all the time."""
    return sum(
        p.tonnes * year.search.master.cost_per_tonne(p.mix) for p in year.portions if p.demand.fed.group == group
    )


@pytest.fixture(scope="module")
def two_samples(tmp_path_factory):
    """The demo book with few animals and a second sample of the north bin that has less triticale (invented)."""
    sheets = read_sheets()
    sheets["herd"], sheets["arrivals"], sheets["actual"] = [], [], []
    sheets["groups"] = [row for row in sheets["groups"] if row["group"] in ("growers_early", "hens")]
    first = next(row for row in sheets["samples"] if row["bin"] == "north")
    sheets["samples"].append({**first, "sample": "n2", "taken_on": "2025-12-10"})
    rows = [row for row in sheets["sorted"] if row["sample"] == first["sample"]]
    masses = [float(row["mass_g"]) for row in rows]
    for place, row in enumerate(rows):
        moved = masses[place] + (0.1 * masses[0] if place == 1 else -0.1 * masses[0] if place == 0 else 0.0)
        sheets["sorted"].append({**row, "sample": "n2", "mass_g": f"{moved:g}"})
    return write_sheets(sheets, tmp_path_factory.mktemp("two") / "book"), first["sample"]


@pytest.mark.slow
def test_a_new_sample_is_told_in_money_tonnes_and_dates_of_the_rest_of_the_year(two_samples):
    path, first = two_samples
    answer = run("resample", path, "--before", first, "--after", "n2", "--year", "--format", "json")
    change = json.loads(answer.stdout)["year"]
    assert {"cost", "tonnes", "bought_tonnes", "home_grown_share", "dates"} <= set(change)
    assert change["cost"] or change["tonnes"]
    told = run("resample", path, "--before", first, "--after", "n2", "--year").stdout
    assert "The rest of the feed year from 2025-12-10, against the plan by the old sample: " in told


def test_from_is_for_the_plan(tmp_path):
    answer = run("sheets", "demo/stillwater_bend", "-o", tmp_path / "w.xlsx", "--from", "2026-02-01")
    assert answer.exit_code == 2
