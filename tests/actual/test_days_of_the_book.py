"""Days are read and shown as the book writes them, wherever the crew, the record or a question has one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time

import pytest
from crew import fill_in
from openpyxl import load_workbook

from rationlp.actual.printed import day_written, filled_sheets, is_hour, printed_sheets
from rationlp.actual.readback import read_back
from rationlp.book.asked import read_asked_day
from rationlp.book.records import Settings
from rationlp.errors import InputError, RequestError
from rationlp.farm import Farm
from rationlp.ledger.made_mix import MadeMix, MadePart, Origin
from rationlp.ledger.shape import Batch
from rationlp.ledger.taken import against
from rationlp.pages.workbook import write_workbook
from rationlp.reasons import Verdict
from rationlp.sheets.pack import make_pack
from rationlp.sheets.request import SheetRequest

GERMAN = Settings(date_format="%d.%m.%Y")
DAY = date(2025, 11, 3)


def made(**other) -> MadeMix:
    parts = (MadePart("north", "bin:north", "North", 1.0, kg=500.0),)
    mix = MadeMix("7KQ4-M2XD", "sw_boar", "Boar", ("north",), (), DAY, Origin.WEIGHED, "", "", parts, number=7)
    return replace(mix, **other)


def test_a_mix_is_named_with_its_day_as_the_book_writes_days():
    assert made().named(GERMAN) == "weighed by the crew 7KQ4-M2XD #7 of 03.11.2025"


def test_a_number_that_is_taken_is_told_with_its_day_as_the_book_writes_days():
    (problem,) = against([made(stage="hen_peak")], {made().key: Batch(made(), Verdict())}, GERMAN).problems
    assert "of 03.11.2025" in problem.found


@pytest.mark.parametrize("written", [DAY, datetime(2025, 11, 3, 7, 30), "03.11.2025", "2025-11-03", "3.11.2025 7:30"])
def test_a_day_is_read_as_the_crew_writes_it(written):
    assert day_written(written, GERMAN) == DAY and not is_hour(written)


def test_the_time_alone_is_no_day():
    assert is_hour(time(7, 30)) and is_hour("7:30") and is_hour("7:30 am") and not is_hour("Monday")


def test_a_question_takes_days_as_the_book_does():
    """`trace --from` took the year first alone."""
    assert read_asked_day("from", "03.11.2025", GERMAN) == DAY == read_asked_day("from", "2025-11-03", GERMAN)
    with pytest.raises(RequestError) as caught:
        read_asked_day("from", "yesterday", GERMAN)
    assert caught.value.problems[0].expected == "a date such as 30.09.2025"


@pytest.fixture(scope="module")
def printed(demo_book, library, tmp_path_factory):
    path = tmp_path_factory.mktemp("days") / "mix.xlsx"
    write_workbook(make_pack(Farm(demo_book, library), SheetRequest(), ["sw_boar"], ["north"]), library, path)
    return path


def written(printed, tmp_path, value, above=None):
    """The sheet with one batch, its day under the column as `value`, that of the sheet as `above`."""
    path = tmp_path / "filled.xlsx"
    path.write_bytes(printed.read_bytes())
    fill_in(path, [DAY])
    (sheet,), _ = printed_sheets(filled_sheets(path))
    book = load_workbook(path)
    tab, last = book[sheet.tab], max(line.row for line in sheet.rows)
    row = next(row for row in range(last, last + 9) if str(tab.cell(row, 1).value).startswith("Date and time"))
    tab[f"{sheet.first_box}{row}"], tab[sheet.date_cell] = value, above
    book.save(path)
    return path, f"{sheet.first_box}{row}"


@pytest.mark.slow
def test_days_on_the_sheet_are_read_in_the_order_of_the_book(printed, tmp_path, demo_book):
    path, _ = written(printed, tmp_path, "03.11.2025")
    book = replace(demo_book, farm=replace(demo_book.farm, date_format="%d.%m.%Y"))
    assert [batch.made_on for batch in read_back(path, book).made] == [DAY]


@pytest.mark.slow
def test_the_time_under_a_column_leaves_the_day_of_the_sheet(printed, tmp_path, demo_book):
    path, _ = written(printed, tmp_path, time(7, 30), DAY)
    assert [batch.made_on for batch in read_back(path, demo_book).made] == [DAY]


@pytest.mark.slow
def test_a_day_that_cannot_be_read_is_asked_for_and_not_passed_over(printed, tmp_path, demo_book):
    """The batch had the day of the sheet instead, without a word."""
    path, cell = written(printed, tmp_path, "tuesday or so", DAY)
    with pytest.raises(InputError) as caught:
        read_back(path, demo_book)
    (problem,) = caught.value.problems
    assert problem.cell == cell and "a date such as 2025-11-03" in problem.expected
