"""Workbooks as people leave them: titles, units in headings and formats, sums, notes, copied names."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from openpyxl import load_workbook
from openpyxl.styles import Font
from openpyxl.workbook import Workbook

from rationlp.book import check_book, read_book
from rationlp.book.checks.check import open_book
from rationlp.book.columns import SHEETS
from rationlp.book.reading.files import shown_unit
from rationlp.book.reading.names import stage_meant
from rationlp.book.reading.typed.headings import Heading, heading
from rationlp.finder import plain
from rationlp.units import KG_PER_LB

Change = Callable[[Workbook], object]


def lines(path: Path, change: Change, library) -> list[str]:
    """The problems of the workbook once it was changed."""
    book = load_workbook(path)
    change(book)
    book.save(path)
    return [problem.line() for problem in check_book(path, library)]


@pytest.fixture
def workbook(demo, tmp_path) -> Path:
    """The demo as a workbook."""
    return demo.write_xlsx(tmp_path / "book.xlsx")


def _title(book: Workbook) -> None:
    book["supplements"].insert_rows(1, 2)
    book["supplements"]["A1"] = "Price list"


def _second_table(book: Workbook) -> None:
    for row in (["sample", "bin", "taken_on"], ["x", "north", "2025-09-04"]):
        book["bins"].append(row)


def _headings_again(book: Workbook) -> None:
    book["sorted"].insert_rows(4)
    for at, name in enumerate(("sample", "crop", "mass_g"), start=1):
        book["sorted"].cell(4, at).value = name


def _format(sheet: str, cell: str, value: object, shown: str) -> Change:
    def change(book: Workbook) -> None:
        book[sheet][cell] = value
        book[sheet][cell].number_format = shown

    return change


def _put(sheet: str, cell: str, value: object) -> Change:
    return lambda book: book[sheet].__setitem__(cell, value)


def _grams_as_kilograms(book: Workbook) -> None:
    for row in book["sorted"].iter_rows(min_row=2):
        row[2].value = row[2].value / 1000
    for row in book["samples"].iter_rows(min_row=2):
        row[4].value = row[4].value / 1000


UNTIDY = {
    "a title above the headings": (_title, ["warning: supplements!A1: found 'Price list' above the headings"]),
    "a line of sums": (
        lambda book: book["sorted"].append(["Total", None, 900]),
        ["warning: sorted!A", "a line of sums"],
    ),
    "a note under the table": (
        lambda book: book["bins"].append(["Prices from the mill, ask Ann"]),
        ["error: bins!A", "alone in its row"],
    ),
    "another table under the first": (_second_table, ["error: bins!A", "headings of the sheet samples"]),
    "the headings again": (_headings_again, []),
    "a sheet with nothing in it": (lambda book: book.create_sheet("Sheet1"), []),
    "a sheet nobody named": (lambda book: book.create_sheet("Sheet1").append(["to do"]), ["Delete the sheet"]),
    "a heading with a star": (_put("supplements", "D1", "price *"), []),
    "a heading with its unit": (_put("bins", "C1", "Mass (t)"), []),
    "a price in another currency": (
        _format("supplements", "D2", 468, "[$\u20ac-2] #,##0.00"),
        ["error: supplements!D2: found '468 \u20ac'"],
    ),
    "a percent sign that is only text": (_format("supplements", "I2", 12, '0"%"'), []),
    "the name left out": (_put("sorted", "A3", None), ["error: sorted!A3", "the row above has 'n1'"]),
    "a ditto mark": (_put("sorted", "A3", '"'), ["error: sorted!A3", "the row above has 'n1'"]),
    "a crossed out row": (
        lambda book: setattr(book["supplements"]["A3"], "font", Font(strike=True)),
        ["warning: supplements: found rows with text crossed out (3)"],
    ),
    "grams typed as kilograms": (_grams_as_kilograms, ["error: sorted!C2", "Write grams"]),
    "a cap on oil as a share": (_put("own_limits", "D2", 0.05), ["Write 5; or 0.05 %"]),
    "whose dollars": (_put("farm", "B5", "$"), ["error: farm!B5", "USD, CAD, AUD or NZD"]),
}


@pytest.mark.parametrize("case", UNTIDY)
def test_an_untidy_book_is_read_or_asked_about(workbook, library, case):
    change, words = UNTIDY[case]
    found = lines(workbook, change, library)
    assert bool(found) == bool(words), found
    assert all(word in found[0] for word in words), found


@pytest.mark.slow
def test_a_unit_in_the_format_or_the_heading_counts(workbook, library):
    book = load_workbook(workbook)
    book["bins"]["C1"], book["bins"]["C2"] = "mass (lb)", 90_000
    book["supplements"]["G2"] = 6
    book["supplements"]["G2"].number_format = '#,##0 "lb"'
    book["supplements"]["D1"] = "price (USD/t)"
    book.save(workbook)
    read = read_book(workbook, library.units)
    assert read.bins[0].mass_kg == pytest.approx(90_000 * KG_PER_LB)
    assert read.supplements[0].stock_kg == pytest.approx(6 * KG_PER_LB)
    assert read.supplements[0].price_per_tonne == 468


@pytest.mark.parametrize(
    ("text", "sheet", "found"),
    [
        ("mass (tons)", "bins", Heading("mass", "tons")),
        ("Diameter, ft", "bins", Heading("diameter", "ft")),
        ("test weight [lb/bu]", "bins", Heading("test_weight", "lb/bu")),
        ("Moisture %", "bins", Heading("moisture_pct")),
        ("max (%)", "supplements", Heading("max_pct")),
        ("mass (g)", "sorted", Heading("mass_g")),
        ("Price $/ton", "supplements", Heading("price", "$/ton")),
        ("HEAD:", "groups", Heading("head")),
        ("mass (dry)", "bins", Heading("mass_(dry)")),
        ("price each", "supplements", Heading("price_each")),
    ],
)
def test_headings_have_units(text, sheet, found):
    assert heading(text, SHEETS[sheet]) == found


@pytest.mark.parametrize(
    ("shown", "unit"),
    [
        ("General", ""),
        ("#,##0.00", ""),
        ('#,##0 "lb"', "lb"),
        ("0.0\\ \\k\\g", "kg"),
        ('_("$"* #,##0.00_)', "$"),
        ("[$\u20ac-407] #,##0.00", "\u20ac"),
        ("[Red]0.00", ""),
        ('0.0"%"', ""),
    ],
)
def test_formats_write_units(shown, unit):
    assert shown_unit(shown) == unit


@pytest.mark.parametrize("units", [None, "imperial"])
def test_units_that_cannot_be_read_do_not_make_faults_elsewhere(demo, library, tmp_path, units):
    """A US book whose units are not told, or told in a word that is no unit, has that one fault."""
    us = demo.setting("units", "us").set("bins", 2, "mass", "42 ton").clear("sown", "crops", "actual", "lots")
    us.set("bins", 3, "test_weight", "56").set("bins", 3, "diameter", "15").set("bins", 3, "wall_depth", "7.4")
    us.set("bins", 3, "peak_height", "1.8")
    us = us.setting("units", units) if units else us.drop("farm")
    found = check_book(us.write_xlsx(tmp_path / "us.xlsx"), library)
    assert [problem.sheet for problem in found if problem.severity == "error"] == ["farm"], found


def test_crops_of_the_seed_plan_and_stages_of_the_herd_go_by_words_of_the_trade(demo, written, library):
    """`peas` was read on `sorted` and refused on `crops`."""
    demo.set("crops", 2, "crop", "linseed").set("herd", 2, "stage", "62 kg pig")
    book = open_book(written(demo), library)[0]
    assert book.crops[0].crop == "flaxseed" and book.herd[0].stage == "sw_gro_50_75"


@pytest.mark.parametrize(
    ("typed", "stages"),
    [
        ("pigs 25-50 kg", "sw_gro_25_50"),
        ("25 - 50kg pigs", "sw_gro_25_50"),
        ("turkeys 8-12 weeks", "turkey_8_12"),
        ("pig 25-60 lb", "sw_nur_11_25 sw_gro_25_50"),
        ("ducks 2-7 weeks", "duck_0_3wk duck_2_7"),
    ],
)
def test_a_range_of_weights_or_ages_is_read_in_a_cell_as_on_the_command_line(typed, stages, library):
    """In a cell its hyphen was lost: only lean pigs were suggested for `pigs 25-50 kg`, and of `25-60 lb` the end alone
    was looked at."""
    assert stage_meant(plain(typed), library) == tuple(stages.split())


@pytest.mark.parametrize(("package", "mass"), [("25 kg", 250.0), ("", None)])
def test_bags_of_a_lot_are_weighed_by_the_package_of_its_offer(demo, written, library, brief, package, mass):
    demo.set("supplements", 2, "package_mass", package).set("lots", 2, "mass", "10 bags")
    demo.set("lots", 2, "offer", demo.tables["supplements"][1][0])
    path = written(demo)
    if mass is None:
        assert "such as 50 lb for a bag" in next(p.do for p in check_book(path, library) if p.sheet == "lots")
    else:
        assert open_book(path, library)[0].lots[0].mass_kg == mass
