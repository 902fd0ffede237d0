"""Slips in sheets, settings, bins and samples: each gives exactly its line, at its cell, in both kinds of book."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import pytest

from rationlp.book import check_book, open_book, read_book
from rationlp.book.columns import SHEETS
from rationlp.book.reading.cells import Cell
from rationlp.book.reading.notation import CellFault, Notation
from rationlp.book.reading.values import read_cell
from rationlp.errors import BookError

# id: (what to do to the demo, [(severity and place, words of `found`, words of `do`), ...])
CASES: dict[str, tuple[Any, list[tuple[str, str, str]]]] = {
    # sheets and columns
    "no farm sheet": (lambda d: d.drop("farm"), [("error farm", "no such sheet", "Add a sheet farm")]),
    "unknown sheet, read on": (
        lambda d: d.rename("bins", "bin"),
        [("error bin", "a sheet named 'bin'", "looks like bins (the same headings): rename it to bins")],
    ),
    "unknown sheet, like none": (
        lambda d: d.tables.update(machinery=[["tractor"], ["green"]]),
        [("error machinery", "a sheet named 'machinery'", "Delete the sheet")],
    ),
    "no bins sheet": (
        lambda d: d.drop("bins"),
        [("error bins", "samples speaks of the bin 'north'", "Add the sheet bins")],
    ),
    "no samples sheet": (
        lambda d: d.drop("samples"),
        [("error samples", "sorted speaks of the sample 'n1'", "Add the sheet")],
    ),
    "no sorted sheet": (lambda d: d.drop("sorted"), [("error sorted", "no sorted masses", "Fill in the sheet sorted")]),
    "no offers": (lambda d: d.clear("supplements", "lots"), [("warning supplements", "no offers", "bin grain alone")]),
    "nothing to feed": (
        lambda d: d.clear("bins", "samples", "sorted", "assays", "supplements", "lots"),
        [("error supplements", "no bins and no offers", "Fill in bins, or supplements")],
    ),
    "unknown column, read on": (
        lambda d: d.rename_column("supplements", "price", "pirce"),
        [("error supplements!D1", "a column named 'pirce'", "Did you mean price?")],
    ),
    "unknown column, like none": (
        lambda d: d.rename_column("bins", "note", "colour"),
        [("error bins!L1", "a column named 'colour'", "Delete the column")],
    ),
    "column twice": (
        lambda d: d.rename_column("supplements", "supplier", "label"),
        [("error supplements!M1", "a second column named label", "Delete one of the two")],
    ),
    "no column price": (
        lambda d: d.drop_column("supplements", "price"),
        [("error supplements!T1", "no column price", "Add the column")],
    ),
    "no column basis": (
        lambda d: d.drop_column("assays", "basis"),
        [("error assays!H1", "no column basis", "Add the column")],
    ),
    "value in a column without a name": (
        lambda d: d.tables["samples"][1].append("seen") or d.tables["samples"][0].append(""),
        [("error samples!H2", "'seen' in a column without a name", "Name the column")],
    ),
    # settings
    "unknown setting": (
        lambda d: d.set("farm", 11, "setting", "batchmass"),
        [("error farm!A11", "the setting 'batchmass'", "Did you mean batch_mass?")],
    ),
    "setting twice": (
        lambda d: d.add("farm", setting="units", value="us"),
        [("error farm!A23", "a second row for units", "Delete")],
    ),
    "value without a setting": (
        lambda d: d.set("farm", 3, "setting", ""),
        [("error farm!A3", "no setting beside a value", "Name the setting")],
    ),
    "units": (lambda d: d.setting("units", "imperial"), [("error farm!B4", "units = 'imperial'", "Choose one")]),
    "currency": (
        lambda d: d.setting("currency", "dollars"),
        [("error farm!B5", "currency = 'dollars'", "Write the letters")],
    ),
    "objective": (
        lambda d: d.setting("objective", "per_tunne"),
        [("error farm!B10", "'per_tunne'", "Did you mean per_tonne?")],
    ),
    "confidence": (lambda d: d.setting("confidence_pct", "120"), [("error farm!B8", "120", "Correct it")]),
    "date format": (
        lambda d: d.setting("date_format", "day first"),
        [("error farm!B16", "'day first'", "in this way")],
    ),
    "batch above mixer": (
        lambda d: d.setting("batch_mass", "700"),
        [("warning farm", "700 kg above mixer_capacity 600 kg", "Lower")],
    ),
    "coarse scale": (
        lambda d: d.setting("scale_step", "100"),
        [("warning farm", "scale_step 100 kg", "units of both")],
    ),
    # bins
    "bin twice": (
        lambda d: d.set("bins", 3, "bin", "North").set("samples", 3, "bin", "north"),
        [("error bins!A3", "a second row for bin 'North'", "another name")],
    ),
    "bin without a name": (
        lambda d: d.add("bins", label="the third", mass="5 t", sale_price="100"),
        [("error bins!A4", "no bin", "Fill in bin")],
    ),
    "no tonnes": (
        lambda d: d.set("bins", 2, "mass", ""),
        [("warning bins!C2", "no mass and no diameter", "how much is in the bin")],
    ),
    "a measure missing": (
        lambda d: d.set("bins", 3, "test_weight", ""),
        [("warning bins!C3", "no test_weight", "how much is in the bin")],
    ),
    "test weight in kg/hl": (
        lambda d: d.set("bins", 3, "test_weight", "74"),
        [("error bins!G3", "74", "check its unit")],
    ),
    "no sale price": (
        lambda d: d.set("bins", 2, "sale_price", ""),
        [("warning bins!H2", "no sale_price", "weighed against selling")],
    ),
    "negative sale price": (lambda d: d.set("bins", 2, "sale_price", "-1"), [("error bins!H2", "-1", "Correct it")]),
    "moisture 0": (lambda d: d.set("bins", 2, "moisture_pct", "0"), [("error bins!J2", "0", "Correct it")]),
    "moisture 100": (lambda d: d.set("bins", 2, "moisture_pct", "100"), [("error bins!J2", "100", "Correct it")]),
    "moisture as a share": (
        lambda d: d.set("bins", 2, "moisture_pct", "0.124"),
        [("warning bins!J2", "0.124 %", "13 means")],
    ),
    "no such day": (
        lambda d: d.set("bins", 2, "filled_on", "2025-02-30"),
        [("error bins!K2", "'2025-02-30'", "date_format")],
    ),
    "no date at all": (
        lambda d: d.set("bins", 2, "filled_on", "in August"),
        [("error bins!K2", "'in August'", "date_format")],
    ),
    "date to come": (
        lambda d: d.set("bins", 2, "filled_on", "2099-08-14"),
        [("warning bins!K2", "still to come", "year")],
    ),
    "year slip": (
        lambda d: d.set("samples", 2, "taken_on", "1925-09-03"),
        [("error samples!C2", "1925", "Correct the year")],
    ),
    "unknown unit of mass": (
        lambda d: d.set("bins", 2, "mass", "42 bushels"),
        [("error bins!C2", "'42 bushels'", "Fill in test_weight")],
    ),
    "which ton": (lambda d: d.set("bins", 2, "mass", "42 tons"), [("error bins!C2", "'42 tons'", "which ton")]),
    "thousands": (
        lambda d: d.set("bins", 2, "mass", "42,000 kg"),
        [("error bins!C2", "read in two ways", "decimal point")],
    ),
    "negative mass": (
        lambda d: d.set("bins", 2, "mass", "-42 t"),
        [("error bins!C2", "'-42 t' (that is -42000 kg)", "Correct")],
    ),
    # samples
    "sample of no bin": (
        lambda d: d.set("samples", 3, "bin", "suoth"),
        [
            ("error samples!B3", "the bin 'suoth'", "Did you mean south?"),
            ("warning bins!A3", "no sample of the bin 'south'", "do not feed"),
        ],
    ),
    "sample twice": (
        lambda d: d.add("samples", sample="S1", bin="south", taken_on="2025-10-01"),
        [("error samples!A5", "a second row for sample 'S1'", "another name")],
    ),
    "bin without a sample": (
        lambda d: d.add("bins", bin="east", mass="5 t", sale_price="100", moisture_pct="13"),
        [("warning bins!A4", "no sample of the bin 'east'", "do not feed")],
    ),
    "which sample is newer": (
        lambda d: d.add("samples", sample="n2", bin="north").add("sorted", sample="n2", crop="triticale", mass_g="5"),
        [("warning samples!C5", "several samples of 'north', this one undated", "Fill in taken_on")],
    ),
    "sample without a sort": (
        lambda d: d.add("samples", sample="n2", bin="north", taken_on="2025-10-01"),
        [("warning samples!A5", "no sorted rows for the sample 'n2'", "nothing about the bin")],
    ),
    "half a probe": (lambda d: d.set("samples", 2, "probes", "7.5"), [("error samples!D2", "7.5", "Correct it")]),
    "nothing sorted": (lambda d: d.set("samples", 2, "sorted_mass_g", "0"), [("error samples!E2", "0", "Correct it")]),
    # the hand sort
    "unknown crop": (
        lambda d: d.set("sorted", 2, "crop", "triticle"),
        [("error sorted!B2", "the crop 'triticle'", "Did you mean triticale?")],
    ),
    "crop by its first word": (
        lambda d: d.set("sorted", 3, "crop", "oats"),
        [
            (
                "error sorted!B3",
                "the crop 'oats', which may be oats_hulled or oats_naked (Oats, hulless (naked))",
                "which of them",
            )
        ],
    ),
    "crop twice": (
        lambda d: d.set("sorted", 3, "crop", "triticale"),
        [("error sorted!B3", "a second row for", "one row of the two")],
    ),
    "masses that do not add up": (
        lambda d: d.set("samples", 2, "sorted_mass_g", "600"),
        [("error samples!E2", "600 g, but the sorted masses add up to 516.9 g (sorted!C2 to C7)", "crop left out")],
    ),
    "a heap of nothing only": (
        lambda d: [d.set("sorted", row, "mass_g", "0") for row in range(2, 8)],
        [("error sorted!C2", "0 g sorted in the sample 'n1'", "Fill them in")],
    ),
    "negative heap": (lambda d: d.set("sorted", 2, "mass_g", "-261.3"), [("error sorted!C2", "-261.3", "Correct it")]),
    "heap of no sample": (
        lambda d: d.add("sorted", sample="x9", crop="rye", mass_g="4"),
        [("error sorted!A20", "the sample 'x9'", "Add it to samples")],
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_one_slip_gives_its_line(case, gives):
    gives(*CASES[case])


def test_the_demo_has_no_problem(demo, written, library):
    assert check_book(written(demo), library) == []


def test_all_slips_at_once(demo, written, library, brief):
    """Slips on eight sheets, in the book and against the library, come in one list, errors first."""
    demo.setting("units", "imperial")
    demo.set("bins", 2, "moisture_pct", "0").set("bins", 3, "filled_on", "2099-01-01")
    demo.set("sorted", 2, "crop", "triticle")
    demo.set("assays", 3, "basis", "").set("assays", 4, "unit", "pounds")
    demo.set("supplements", 2, "price", "-1").set("supplements", 3, "price", "").set(
        "supplements", 3, "offer", "soy_pressed"
    )
    demo.set("own_limits", 2, "feed", "tritical")
    demo.set("groups", 2, "stage", "weaners").set("groups", 3, "from", "soon")
    assert brief(check_book(written(demo), library)) == [
        "error farm!B4",
        "error bins!J2",
        "error sorted!B2",
        "error assays!E3",
        "error assays!D4",
        "error supplements!D2",
        "error supplements!A3",
        "error supplements!D3",
        "error own_limits!B2",
        "error groups!B2",
        "error groups!D3",
        "warning bins!K3",
    ]


def test_caps_that_leave_room_for_nothing(demo, written, library, brief):
    """Without a bin the offers have to make up the whole ration."""
    demo.clear("bins", "samples", "sorted", "assays", "lots")
    del demo.tables["supplements"][4:]
    for row, share in ((2, "40"), (3, "30"), (4, "29.5")):
        demo.set("supplements", row, "min_pct", share).set("supplements", row, "max_pct", share)
    path = written(demo)
    assert [p.line() for p in check_book(path, library)] == [
        "error: supplements!I4: found max_pct of all offers adds up to 99.5 %, and there is no bin; "
        "expected at least 100 % together. Raise some of them, or add an offer."
    ]


def test_fixed_shares_that_add_up_are_a_mix(demo, written, library):
    demo.clear("bins", "samples", "sorted", "assays", "lots")
    del demo.tables["supplements"][5:]
    for row, share in ((2, "33.4"), (3, "33.3"), (4, "33.2"), (5, "0.1")):
        demo.set("supplements", row, "min_pct", share).set("supplements", row, "max_pct", share)
    assert check_book(written(demo), library) == []


def test_errors_stop_the_reader_and_warnings_do_not(demo, written, library):
    path = written(demo.set("bins", 2, "filled_on", "2099-08-14"))
    book, warnings = open_book(path, library)
    assert book.bins[0].filled_on.year == 2099
    assert [problem.severity for problem in warnings] == ["warning"]
    assert read_book(path, library.units) == book


def test_open_book_tells_all_problems_at_once(demo, written, library):
    path = written(demo.set("bins", 2, "moisture_pct", "0").set("groups", 2, "stage", "hogs"))
    with pytest.raises(BookError) as caught:
        open_book(path, library)
    assert [problem.sheet for problem in caught.value.problems] == ["bins", "groups"]
    with pytest.raises(BookError) as caught:
        read_book(path, library.units)
    assert [problem.sheet for problem in caught.value.problems] == ["bins"]


def test_a_problem_is_one_line(demo, written, library):
    (problem,) = check_book(written(demo.set("supplements", 2, "stock_mass", "-6 t")), library)
    assert problem.line() == (
        "error: supplements!G2: found '-6 t' (that is -6000 kg); "
        "expected stock_mass at least 0 and at most 100,000,000 kg. Correct it."
    )


def test_problems_tell_days_as_the_book_writes_them(demo, tmp_path, library):
    """Of a book of days such as 14.08.2026, each in the sheet that a person has before him."""
    demo.setting("date_format", "%d.%m.%Y").setting("plan_from", "2098-10-01").setting("next_harvest_on", "2098-08-14")
    demo.set("bins", 2, "filled_on", "2099-08-14").set("bins", 3, "hold", "fumigated")
    demo.set("bins", 3, "hold_until", "2099-08-15").set("bins", 3, "opened_on", "1991-08-16")
    demo.set("supplements", 2, "from", "2026-08-18").set("supplements", 2, "until", "2026-08-17")
    demo.add("lots", lot="L9", offer="soy48_bulk", delivered_on="2025-08-20", use_by="2025-08-19")
    told = "\n".join(problem.line() for problem in check_book(demo.write_csv(tmp_path / "book"), library))
    for day in ("14.08.2099", "15.08.2099", "16.08.1991", "17.08.2026", "18.08.2026", "20.08.2025", "19.08.2025"):
        assert day in told
    assert "14.08.2098, not after plan_from 01.10.2098" in told
    assert not re.search(r"\d{4}-\d\d-\d\d", told)


def test_a_day_where_a_number_belongs_is_told_as_the_book_writes_days():
    column = next(column for column in SHEETS["bins"].columns if column.name == "moisture_pct")
    with pytest.raises(CellFault, match=r"the date 14\.08\.2026"):
        read_cell(Cell(date(2026, 8, 14), "J2"), column, Notation(date_format="%d.%m.%Y"))


def test_dashes_alone_are_no_name():
    """`--` as the nutrient of an own feed was a traceback: without its dashes nothing was left of it."""
    columns = [column for sheet in SHEETS.values() for column in sheet.columns if column.kind == "id"]
    for column in columns:
        if column.refers_to in ("", "bins", "samples", "supplements", "lots", "weighed"):
            assert read_cell(Cell("--", "B2"), column, Notation()) == "--"
        elif column.required:
            with pytest.raises(CellFault, match="'--'"):
                read_cell(Cell("--", "B2"), column, Notation())
        else:
            assert read_cell(Cell("--", "B2"), column, Notation()) is None


@pytest.mark.parametrize("typed", ["0", "empty", "Sold", "none"])
def test_the_row_of_an_empty_bin_is_told_to_be_left_out(demo, written, library, typed):
    told = [problem.line() for problem in check_book(written(demo.set("bins", 2, "mass", typed)), library)]
    assert any("of a bin that is empty leave the row out" in line for line in told)
