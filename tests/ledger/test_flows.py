"""What is left of bins and offers: deliveries, batches, what was sold and thrown away, every count."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from rationlp.actual.report import report_of
from rationlp.actual.stock import stock_words
from rationlp.book.records import Flow, FlowKind, Lot, Place
from rationlp.farm import Farm
from rationlp.feeds.contaminants import lots_in_stock
from rationlp.feeds.stock import stock_of
from rationlp.ledger.export import export, rebuild
from rationlp.ledger.flows import keep_moves, moves, with_flows
from rationlp.ledger.kept import record_for
from rationlp.ledger.shape import Batch, batch_entry
from rationlp.ledger.store import Record
from rationlp.ledger.weighed import SheetName, weighed_mix
from rationlp.rations.answer.stock import with_stock
from rationlp.rations.formulate import solve_rations
from rationlp.reasons import Kind, Verdict

DAY = date(2025, 11, 3)
COUNTED, MIXED, SOLD = FlowKind.COUNTED, FlowKind.MIXED, FlowKind.SOLD


def day(number: int) -> date:
    return DAY + timedelta(days=number)


def flow(kind: FlowKind, on: int, kg: float, name: str = "meal") -> Flow:
    return Flow(name, kind, day(on), kg)


@pytest.fixture
def farm(demo_book, library, tmp_path):
    """The demo with 500 kg batches of north grain and bran in its record: one a day for ten days."""
    book = replace(demo_book, path=tmp_path / "farm.xlsx", actual=())
    kg = {"north": 450.0, "bran": 50.0}
    record_for(book).add(
        batch_entry(Batch(weighed_mix(SheetName("sw_boar", ("north",), number=n + 1), "", day(n), kg, book), Verdict()))
        for n in range(10)
    )
    return Farm(with_flows(book), library)


def moved(farm: Farm, *flows: Flow) -> Farm:
    return Farm(with_flows(replace(farm.book, moved=flows)), farm.library)


def test_what_went_is_taken_from_what_there_was():
    flows = [flow(MIXED, 1, 300), flow(SOLD, 2, 100), flow(FlowKind.THROWN_AWAY, 3, 50), flow(MIXED, 1, 9, "other")]
    stock = stock_of("meal", "Meal", 1000, flows)
    assert (stock.left_kg, stock.on_farm_kg, stock.taken_kg) == (550, 550, 450)


@pytest.mark.parametrize(("counted", "off"), [(640, -60), (702, 0), (800, 100)])
def test_a_count_sets_right_and_says_by_how_much(counted, off):
    """1,000 less 300 is 700 by the record that evening; a count within half a percent is no difference."""
    flows = [flow(MIXED, 1, 300), flow(COUNTED, 1, counted), flow(MIXED, 2, 100)]
    stock = stock_of("meal", "Meal", 1000, flows)
    assert stock.left_kg == counted - 100
    assert stock.counts[0].off_kg == pytest.approx(off)


def test_a_delivery_is_part_of_what_there_is_to_have():
    """6 t on offer, 2 t of them delivered, 0.5 t eaten: 1.5 t lie on the farm, 5.5 t are to be had; a count of 1.4 t
    says that 0.1 t went which nobody wrote down."""
    flows = [flow(FlowKind.DELIVERED, 0, 2000), flow(MIXED, 1, 500), flow(COUNTED, 2, 1400)]
    stock = stock_of("meal", "Meal", 6000, flows)
    assert (stock.left_kg, stock.on_farm_kg, stock.counts[0].off_kg) == (5400, 1400, -100)
    endless = stock_of("meal", "Meal", None, flows)
    assert (endless.left_kg, endless.on_farm_kg) == (None, 1400)


def test_what_went_before_an_offer_was_quoted_is_of_an_earlier_quote():
    """Three years of batches under one name were taken out of this season's 6 t."""
    flows = [flow(MIXED, 1, 5000), flow(MIXED, 9, 500)]
    assert stock_of("meal", "Meal", 6000, flows, quoted_on=day(5)).left_kg == 5500


def test_only_what_may_matter_is_read_when_a_book_is_opened(farm):
    """A record of ten years made every command read 20,000 batches (3.9 s)."""
    bins = tuple(replace(row, filled_on=day(4)) for row in farm.book.bins)
    offers = tuple(replace(row, quoted_on=day(6)) for row in farm.book.supplements)
    flows = with_flows(replace(farm.book, bins=bins, supplements=offers, lots=())).flows
    assert min(each.on for each in flows) == day(4)
    undated = (replace(offers[0], stock_kg=1.0, quoted_on=None), *offers[1:])
    assert min(each.on for each in with_flows(replace(farm.book, bins=bins, supplements=undated)).flows) < day(4)


def test_what_went_before_a_bin_was_filled_is_of_other_grain():
    assert stock_of("north", "North", 1000, [flow(MIXED, 1, 300, "north")], since=day(2)).left_kg == 1000


@pytest.mark.slow
def test_rations_and_sheets_stand_on_what_is_left(farm):
    """What was mixed is neither there nor wanted any more; what was thrown away is not there."""
    assert farm.stock("north").left_kg == pytest.approx(1000 * farm.bin("north").tonnes - 4500)
    thrown = 1000 * farm.bin("north").tonnes - 4500 - 2000
    left = moved(farm, Flow("north", FlowKind.THROWN_AWAY, day(9), thrown))
    rations = [one.ration for one in solve_rations(farm, ["sw_gro_25_50"], ["north"])]
    plain = [replace(ration, verdict=Verdict()) for ration in rations]
    (before,), (after,) = with_stock(farm, plain), with_stock(left, plain)
    assert not before.verdict.reasons
    (reason,) = after.verdict.reasons
    assert reason.kind is Kind.STOCK and reason.limit == pytest.approx(2.0)
    assert "after 2025-11-12" in reason.text and "by the record there is" in reason.text


def test_a_count_is_told_with_how_much_and_what_to_look_for(farm):
    there = 1000 * farm.bin("north").tonnes - 4500
    found = report_of(moved(farm, Flow("north", COUNTED, day(9), there - 1000)))
    words = stock_words(found.stocks[0], farm.settings)
    assert words.startswith(f"counted {there - 1000:,.0f} kg on 2025-11-12: 1,000 kg (3 %) less than the record's")
    assert "batches that were not entered" in words and found.good


def test_the_record_keeps_what_the_book_forgets_and_the_book_corrects_it(farm, tmp_path):
    book = replace(
        farm.book,
        moved=(Flow("bran", SOLD, day(1), 30.0), Flow("bran", COUNTED, day(5), 400.0)),
        lots=(Lot(Place(), "B1", "bran", day(0), 500.0),),
    )
    assert keep_moves(book) == 3 and keep_moves(book) == 0
    corrected = replace(book, moved=(Flow("bran", SOLD, day(1), 35.0), Flow("bran", COUNTED, day(5), 400.0)))
    assert [each.kg for each in moves(corrected)] == [500.0, 35.0, 400.0]
    keep_moves(corrected)
    cleared = replace(book, moved=(Flow("bran", SOLD, day(8), 1.0),), lots=())
    assert [each.kg for each in moves(cleared)] == [500.0, 35.0, 400.0, 1.0]
    export(record_for(book), tmp_path / "out")
    assert "2025-11-08,counted,bran,,400.0" in (tmp_path / "out" / "moved.csv").read_text()
    again = Record(tmp_path / "again.record")
    assert rebuild(again, tmp_path / "out") == 12


def test_a_lot_that_was_thrown_away_is_not_in_stock(demo_book):
    (offer,) = [row for row in demo_book.supplements if row.offer == "bran"]
    lots = tuple(Lot(Place(), name, "bran", day(n), 500.0) for n, name in enumerate(("old", "new")))
    book = replace(demo_book, lots=lots, actual=())
    assert [lot.lot for lot in lots_in_stock(offer, book)] == ["old", "new"]
    thrown = replace(book, moved=(Flow("bran", FlowKind.THROWN_AWAY, day(2), 500.0, lot="old"),))
    assert [lot.lot for lot in lots_in_stock(offer, thrown)] == ["new"]
