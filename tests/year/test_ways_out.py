"""A year that cannot be met is told with what would feed everybody and what that costs; a lot of animals fewer."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from click.testing import CliRunner

from rationlp.api import OpenFarm, open_farm
from rationlp.book.records import Arrival, HerdStep, Lot, Place
from rationlp.book_units import units_of
from rationlp.cli.app import app
from rationlp.errors import RequestError
from rationlp.farm import Farm
from rationlp.herd.moves import fed_animals, lots_of
from rationlp.herd.season import Season
from rationlp.show.year.decisions import _grain
from rationlp.show.year.lines import unfed_lines
from rationlp.year.model import RunsOut, Sale
from rationlp.year.plan import YearRequest, plan_year
from rationlp.year.program.kitchen import Kitchen
from rationlp.year.program.search import Search
from rationlp.year.studies.ways_out import ways_out, with_ways_out

DEMO = "demo/stillwater_bend"


@pytest.fixture
def short_year(small_year, library):
    """A year whose offers end: enough for a part of the animals."""
    year = replace(small_year(1), until=[99] * len(small_year(1).prices))
    return replace(year, stocks=[1.0, 1.0, *[8.0] * (len(year.stocks) - 2)]).farm(library)


def test_more_of_what_is_used_up_is_told_with_its_tonnes_and_money(short_year):
    request = YearRequest()
    year = with_ways_out(short_year, plan_year(short_year, request), request)
    assert year.unfed
    bought = [way for way in year.ways_out if way.kind == "buy"]
    assert bought
    short = sum(row.tonnes for row in year.unfed)
    prices = {row.offer: row.price_per_tonne for row in short_year.book.supplements}
    for way in bought:
        name = way.what.removeprefix("more ")
        assert way.short_tonnes < short
        assert way.cost == pytest.approx(way.tonnes * prices[name], rel=1e-6)
    all_fed = [way.short_tonnes == 0 for way in year.ways_out]
    assert all_fed == sorted(all_fed, reverse=True)


def test_who_is_short_for_one_reason_is_told_in_one_line_and_the_verdict_speaks_of_nothing_nobody_eats(short_year):
    """Each group and stretch of days had its line, and what the nearest ration lacks stood among the plan's reasons."""
    year = plan_year(short_year)
    assert len({(row.group, row.why) for row in year.unfed}) == len(year.unfed)
    lines = list(unfed_lines(year, short_year.book))
    assert len(lines) == len({row.why for row in year.unfed})
    assert all(any(row.group in line and row.why in line for line in lines) for row in year.unfed)
    stops = {reason.text for reason in year.verdict.reasons if reason.severity == "stop"}
    assert stops == {row.verdict.reasons[0].text for row in year.unfed}


@pytest.mark.slow
def test_ways_out_that_need_no_other_ration_keep_todays(short_year, monkeypatch):
    request, made = YearRequest(), []
    year = plan_year(short_year, request)
    take_over = Search.take_over
    monkeypatch.setattr(Search, "take_over", lambda *told: None)
    cold = ways_out(short_year, year, request)
    monkeypatch.setattr(Search, "take_over", take_over)
    monkeypatch.setattr(Kitchen, "__init__", lambda *told: made.append(told))
    warm = ways_out(short_year, year, request)
    assert not made
    assert [(way.what, way.kind) for way in warm] == [(way.what, way.kind) for way in cold]
    assert [way.year_cost for way in warm] == pytest.approx([way.year_cost for way in cold])


def test_a_way_out_holds_when_it_is_taken(short_year):
    request = YearRequest()
    way = with_ways_out(short_year, plan_year(short_year, request), request).ways_out[0]
    name = way.what.removeprefix("more ")
    offers = [replace(r, stock_kg=None) if r.offer == name else r for r in short_year.book.supplements]
    year = plan_year(short_year.with_offers(offers))
    assert sum(row.tonnes for row in year.unfed) == pytest.approx(way.short_tonnes)
    assert year.cost == pytest.approx(way.year_cost, rel=1e-9)


def test_the_farms_own_cap_that_stands_in_the_way_is_named(small_year, library):
    farm = small_year(1).farm(library)
    offers = tuple(replace(row, stock_kg=None, max_share=0.05) for row in farm.book.supplements)
    farm = farm.with_offers(offers)
    request = YearRequest()
    year = with_ways_out(farm, plan_year(farm, request), request)
    assert year.unfed
    lifted = [way for way in year.ways_out if way.kind == "lift"]
    assert [way.what for way in lifted] == ["min_pct and max_pct of the offers"]
    assert not lifted[0].short_tonnes


def test_a_year_that_is_met_has_no_ways_out(small_year, library):
    farm = small_year(1).farm(library)
    assert not with_ways_out(farm, plan_year(farm), YearRequest()).ways_out


HERD = (
    HerdStep(Place(), "sows", "pregnant", "sw_gest_p2_early", 114, 0.0, None, ""),
    HerdStep(Place(), "sows", "milk", "sw_lact_p2_230", 28, 0.0, None, "again", "pigs", 10.0),
    HerdStep(Place(), "pigs", "nursery", "sw_nur_11_25", 42, 0.1, None, ""),
    HerdStep(Place(), "pigs", "grower", "sw_gro_25_50", 35, 0.0, None, ""),
)
SEASON = Season(date(2026, 1, 1), date(2026, 12, 31))


def test_one_lot_of_pigs_fewer_leaves_the_sows_and_all_other_pigs(demo_book):
    arrivals = (Arrival(Place(), "sows", "pregnant", date(2025, 10, 1), 10),)
    book = replace(demo_book, herd=HERD, arrivals=arrivals, groups=())
    lots = lots_of(book, SEASON)
    assert [(lot.line, lot.on, lot.head) for lot in lots] == [
        ("pigs", date(2026, 2, 20), 100.0),
        ("pigs", date(2026, 7, 12), 100.0),
        ("pigs", date(2026, 12, 1), 100.0),
    ]
    whole = {fed.group: fed.head_days for fed in fed_animals(book, SEASON)}
    less = {
        fed.group: fed.head_days
        for fed in fed_animals(replace(book, left_out=frozenset({("pigs", lots[0].on)})), SEASON)
    }
    assert {name: whole[name] - less[name] for name in whole} == pytest.approx(
        {"sows: pregnant": 0.0, "sows: milk": 0.0, "pigs: nursery": 42 * 95.0, "pigs: grower": 35 * 90.0}
    )


def test_the_lot_that_eats_most_is_left_out_and_told_beside_today():
    farm = open_farm(DEMO)
    fewer = farm.with_fewer("spring_pigs")
    assert isinstance(fewer, OpenFarm)
    assert fewer.book.left_out == {("spring_pigs", date(2026, 2, 16))}
    assert farm.with_fewer("spring_pigs=2026-03-09").book.left_out == {("spring_pigs", date(2026, 3, 9))}
    for asked in ("pigs", "spring_pigs=2026-03-10", "spring_pigs=soon"):
        with pytest.raises(RequestError, match="fewer"):
            farm.with_fewer(asked)


@pytest.mark.long
def test_one_lot_fewer_is_told_in_money_tonnes_and_dates():
    answer = CliRunner().invoke(app, ["year", DEMO, "--fewer", "spring_pigs"])
    assert answer.exit_code == 0
    assert "Planned without the lot of spring_pigs that would begin on 2026-02-16." in answer.stdout
    assert "Against the book as it stands: " in answer.stdout


def test_grain_is_not_called_over_where_animals_go_unfed(short_year):
    """A farm without a premix was told to sell all its grain: nothing in the plan needed it."""
    year = plan_year(short_year, YearRequest())
    bin_ = short_year.book.supplements[0].offer  # stands for a bin
    over, lasts = Sale(bin_, "North bin", 40.0, 200.0), RunsOut(bin_, "North bin", None, None, None)
    year = replace(year, sales=(over,), runs_out=(lasts,))
    units = units_of(short_year.book.farm)
    assert year.unfed and not list(_grain(year, short_year.book, units))
    assert list(_grain(replace(year, unfed=()), short_year.book, units))


def test_nothing_is_told_to_be_bought_that_lies_on_the_farm(short_year):
    """Where more was delivered than the book says there is to have: `Buy more of it, 0 kg`."""
    request = YearRequest()
    scarce = max(plan_year(short_year, request).search.master.limited)
    lot = Lot(Place(), "l1", scarce, date(2026, 9, 1), 40_000.0)
    farm = Farm(replace(short_year.book, lots=(lot,)), short_year.library)
    year = with_ways_out(farm, plan_year(farm, request), request)
    assert next(s for s in year.search.supplies if s.name == scarce).tonnes == pytest.approx(40.0)
    assert all(way.tonnes is None or way.tonnes > 0.001 for way in year.ways_out)
