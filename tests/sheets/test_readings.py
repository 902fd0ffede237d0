"""Boxes filled with what the scale read, and lots beside them, read back from the workbook the crew filled in."""

from __future__ import annotations

import pytest
from openpyxl import Workbook, load_workbook

from rationlp.actual.printed import filled_sheets, printed_sheets
from rationlp.actual.readback import read_back
from rationlp.actual.readings import Place, Readings, as_weights
from rationlp.actual.slips import Entry
from rationlp.errors import InputError
from rationlp.farm import Farm
from rationlp.pages.workbook import write_workbook
from rationlp.sheets.pack import make_pack
from rationlp.sheets.record import LATER_COLUMNS, OF_A_LINE, RECORD, RECORD_COLUMNS
from rationlp.sheets.request import SheetRequest


@pytest.fixture(scope="module")
def printed(demo_book, library, tmp_path_factory):
    pack = make_pack(Farm(demo_book, library), SheetRequest(), ["sw_gro_25_50"], ["north"])
    path = tmp_path_factory.mktemp("readings") / "mix.xlsx"
    write_workbook(pack, library, path)
    return path, pack.sheets[0]


def filled(printed, tmp_path, write):
    """The workbook with what `write` gives for each line of the record in the first box."""
    path, _ = printed
    book = load_workbook(path)
    for sheet in printed_sheets(filled_sheets(path))[0]:
        tab = book[sheet.tab]
        for line in sheet.rows:
            tab[f"{sheet.first_box}{line.row}"] = write(line)
            tab[f"{sheet.lot_column}{line.row}"] = f"lot of {line.offer}"
        tab[sheet.date_cell] = "2025-11-20"
    book.save(tmp_path / "filled.xlsx")
    return tmp_path / "filled.xlsx"


def masses(sheet):
    found = {}
    for line in (*sheet.bucket, *sheet.mixer):
        if line.offer:
            found[line.offer] = found.get(line.offer, 0.0) + float(line.mass)
    return found


@pytest.mark.slow
@pytest.mark.parametrize("readings", [False, True], ids=["weights", "readings of the mixer scale"])
def test_weights_or_readings_come_to_the_same(readings, printed, demo_book, tmp_path):
    """Audit D12: the running totals of the scale in the boxes were a batch of 2,027 kg and DO NOT FEED."""

    def write(line):
        return line.mass if line.in_bucket or not readings else round(line.reads)

    back = read_back(filled(printed, tmp_path, write), demo_book)
    (made,) = back.made
    assert made.weighed_kg == pytest.approx(masses(printed[1]))
    assert [w.expected for w in back.warnings if "rise" in w.found] == ["weights or readings"] * readings
    assert back.lots["salt"] == "lot of salt" and back.rations == {printed[1].id: printed[1].ration_id}


def test_a_lot_that_the_book_does_not_have_is_asked_for(printed, demo_book, tmp_path):
    """Only of an offer of which the book has lots; a misspelt lot was in no recall."""
    back = read_back(filled(printed, tmp_path, lambda line: line.mass), demo_book)
    (asked,) = [warning for warning in back.warnings if "does not have" in warning.found]
    assert "lot of premix_pigs" in asked.found and asked.expected == "one of premix_1" and asked.cell


def test_a_thing_left_out_shows_in_the_readings(printed, demo_book, tmp_path):
    """The soybean meal never went in: every reading behind it is lower by it."""
    soy = masses(printed[1])["soy48_bulk"]
    seen = []

    def write(line):
        if line.in_bucket:
            return line.mass
        seen.append(line.offer)
        return round(line.reads) - (soy if "soy48_bulk" in seen else 0)

    (made,) = read_back(filled(printed, tmp_path, write), demo_book).made
    assert made.weighed_kg["soy48_bulk"] == pytest.approx(0.0, abs=1.0)
    assert made.weighed_kg["north"] == pytest.approx(masses(printed[1])["north"], abs=1.0)


@pytest.mark.slow
def test_a_sheet_printed_before_is_still_read(printed, demo_book, tmp_path):
    """Last week's workbook has neither lots nor readings in its record."""
    path = filled(printed, tmp_path, lambda line: line.mass)
    book = load_workbook(path)
    book[RECORD].delete_cols(len(RECORD_COLUMNS) + 1, len(LATER_COLUMNS))
    book.save(path)
    (made,) = read_back(path, demo_book).made
    assert made.weighed_kg == pytest.approx(masses(printed[1]))


def test_ordinary_weights_are_never_taken_for_readings():
    """A batch whose weights happen to rise is not its own running total."""
    entries = [Entry("", "", mass, mass, False) for mass in (100.0, 150.0, 250.0)]
    places = [Place(False, reads) for reads in (100.0, 250.0, 500.0)]
    assert as_weights(entries, places) == Readings(entries, [], [])


def test_a_review_copy_is_told_from_a_mix_sheet(demo_book, tmp_path):
    """It was to be filled in as a mix sheet."""
    book = Workbook()
    book.create_sheet("Sign ZAJM-SWMX")
    book.save(tmp_path / "review.xlsx")
    with pytest.raises(InputError, match=r"rationlp ration BOOK --signed review\.xlsx"):
        read_back(tmp_path / "review.xlsx", demo_book)


def test_pages_that_nobody_fills_in_are_not_read(printed):
    """Analyses, cautions and a record that told of the sheet on every line took half of the time of reading back."""
    sheets = filled_sheets(printed[0])
    (sheet,), _ = printed_sheets(sheets)
    assert sheets["Analysis 1"]["A1"] is None and sheets[sheet.tab]["A1"] is not None
    first, *others = sheets[RECORD].rows(len(RECORD_COLUMNS), first=2)
    assert all(first) or first[RECORD_COLUMNS.index("part")] is None
    assert {RECORD_COLUMNS[at] for row in others for at, value in enumerate(row) if value is not None} <= OF_A_LINE
