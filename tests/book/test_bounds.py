"""Numbers beyond all measure, names that cannot be printed, files that are none: each a line of its own."""

from __future__ import annotations

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.chart import BarChart

from rationlp.book import check_book

BEYOND = {
    "price": (lambda d: d.set("supplements", 2, "price", "1e9"), "error supplements!D2"),
    "low price": (lambda d: d.set("supplements", 2, "price_low", "-1"), "error supplements!N2"),
    "freight": (lambda d: d.set("supplements", 2, "freight", "1e7"), "error supplements!P2"),
    "sale price": (lambda d: d.set("bins", 2, "sale_price", "1e7"), "error bins!H2"),
    "mass of a bin": (lambda d: d.set("bins", 2, "mass", "1e6 t"), "error bins!C2"),
    "price for a mote": (lambda d: d.set("supplements", 4, "per_mass", "0.001 g"), "error supplements!E4"),
    "stock": (lambda d: d.set("supplements", 2, "stock_mass", "1e9 t"), "error supplements!G2"),
    "probes": (lambda d: d.set("samples", 2, "probes", "1001"), "error samples!D2"),
    "head": (lambda d: d.set("groups", 2, "head", "20000000"), "error groups!C2"),
    "eaten": (lambda d: d.set("groups", 2, "feed_per_head_per_day", "2 t"), "error groups!F2"),
    "batch": (lambda d: d.setting("batch_mass", "200 t"), "error farm!B11"),
    "step": (lambda d: d.setting("scale_step", "1e-12"), "error farm!B13"),
    "no step": (lambda d: d.setting("scale_step", "1e-300"), "error farm!B13"),
    "hand step": (lambda d: d.setting("hand_scale_step", "1e-12"), "error farm!B14"),
    "long hand step": (lambda d: d.setting("hand_scale_step", "6"), "error farm!B14"),
}


@pytest.mark.parametrize("case", BEYOND)
def test_a_number_beyond_all_measure(demo, written, library, brief, case):
    change, place = BEYOND[case]
    assert brief(check_book(written(change(demo)), library)) == [place]


def test_the_finest_steps_there_are(demo, written, library):
    changed = demo.setting("hand_scale_step", "0.1 g").setting("scale_step", "1 g")
    assert check_book(written(changed), library) == []


@pytest.mark.parametrize(("height", "warned"), [("2.2", False), ("-2.2", False), ("2.6", True), ("-2.6", True)])
def test_a_cone_steeper_than_grain_lies(demo, written, library, height, warned):
    problems = check_book(written(demo.set("bins", 3, "peak_height", height)), library)
    assert [(p.severity, p.cell) for p in problems] == ([("warning", "F3")] if warned else [])
    assert all("degrees" in p.found for p in problems)


@pytest.mark.parametrize(("sheet", "column", "cell"), [("bins", "label", "B2"), ("supplements", "supplier", "M2")])
def test_a_control_character(demo, library, tmp_path, sheet, column, cell):
    (problem,) = check_book(demo.set(sheet, 2, column, "No\x00rth\x07").write_csv(tmp_path / "book"), library)
    assert (problem.severity, problem.sheet, problem.cell) == ("error", sheet, cell)
    assert "control character (code 0)" in problem.found


def test_a_line_break_may_stand_in_a_note_but_in_no_name(demo, written, library, brief):
    changed = demo.set("bins", 2, "note", "Two\nlines").set("bins", 3, "label", "South\nbin")
    assert brief(check_book(written(changed), library)) == ["error bins!B3"]


def test_a_cell_too_long_for_a_table(demo, library, tmp_path):
    book = demo.set("bins", 2, "note", "a" * 140_000).write_csv(tmp_path / "book")
    problem = next(p for p in check_book(book, library) if p.sheet == "bins")
    assert problem.found == "a cell of more than 131,072 characters"
    assert "quotation mark" in problem.do


def with_chart_sheet(path, filled):
    book: Workbook = load_workbook(path)
    sheet = book.create_chartsheet("picture")
    if filled:
        sheet.add_chart(BarChart())
    book.save(path)
    return path


@pytest.mark.slow
def test_a_chart_on_a_sheet_of_its_own_is_passed_over(demo, library, tmp_path):
    assert check_book(with_chart_sheet(demo.write_xlsx(tmp_path / "book.xlsx"), filled=True), library) == []


def test_a_chart_sheet_without_a_chart_is_told(demo, library, tmp_path):
    (problem,) = check_book(with_chart_sheet(demo.write_xlsx(tmp_path / "book.xlsx"), filled=False), library)
    assert (problem.severity, problem.sheet) == ("error", "book.xlsx")
    assert "Delete the chart sheets" in problem.do


@pytest.mark.parametrize("name", ["", "n7"])
def test_a_heap_without_its_sample_is_told_once(demo, written, library, brief, name):
    assert brief(check_book(written(demo.set("sorted", 4, "sample", name)), library)) == ["error sorted!A4"]


def test_merged_samples_are_told_row_by_row_and_no_sum(demo, written, library, brief):
    for row in range(3, 8):
        demo.set("sorted", row, "sample", "")
    found = brief(check_book(written(demo), library))
    assert found == [f"error sorted!A{row}" for row in range(3, 8)]


def test_a_sample_that_is_too_heavy_is_told_beside_a_stray_heap(demo, written, library, brief):
    changed = demo.set("sorted", 4, "sample", "").set("sorted", 8, "mass_g", "3016")
    assert sorted(brief(check_book(written(changed), library))) == ["error samples!E3", "error sorted!A4"]
