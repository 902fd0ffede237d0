"""What only a workbook or only a CSV file can do to a reader."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.styles import Font, PatternFill
from openpyxl.worksheet.datavalidation import DataValidation

from rationlp.actual.printed import filled_sheets
from rationlp.book import check_book, read_book
from rationlp.book.columns import SHEETS
from rationlp.book.reading.files import open_grids
from rationlp.errors import BookError


@pytest.fixture
def workbook(demo, tmp_path) -> Path:
    """The demo as a workbook."""
    return demo.write_xlsx(tmp_path / "book.xlsx")


def edit(path: Path, change: Callable) -> Path:
    """Open a workbook, change it, save it."""
    book = load_workbook(path)
    change(book)
    book.save(path)
    return path


def rewrite(path: Path, sheet: int, pattern: str, replacement: str) -> Path:
    """Change the XML of the sheet at `sheet` (1 is the first), as another program might have written it."""
    with zipfile.ZipFile(path) as parts:
        content = {name: parts.read(name) for name in parts.namelist()}
    name = f"xl/worksheets/sheet{sheet}.xml"
    text, times = re.subn(pattern, replacement, content[name].decode("utf-8"))
    assert times == 1
    content[name] = text.encode("utf-8")
    with zipfile.ZipFile(path, "w") as parts:
        for part, data in content.items():
            parts.writestr(part, data)
    return path


def lines(path: Path, library) -> list[str]:
    """The problems of a book, `bins!C2 found: do`."""
    return [f"{p.severity} {p.sheet}!{p.cell} {p.found}: {p.do}" for p in check_book(path, library)]


# Formulas -------------------------------------------------------------------------------------------------------


def test_a_formula_never_calculated(workbook, library):
    edit(workbook, lambda book: book["supplements"].__setitem__("D2", "=400+68"))
    assert lines(workbook, library) == [
        "error supplements!D2 a formula that was never calculated: "
        "Open the book in the spreadsheet program, let it calculate, and save it."
    ]


def test_a_formula_never_calculated_in_a_column_that_may_be_blank(workbook, library):
    edit(workbook, lambda book: book["bins"].__setitem__("J3", "=10+3"))
    assert lines(workbook, library)[0].startswith("error bins!J3 a formula that was never calculated")


def test_a_formula_never_calculated_in_a_row_of_its_own(workbook, library):
    """The row would look blank otherwise."""
    edit(workbook, lambda book: book["groups"].__setitem__("C40", "=20*3"))
    assert [line.split(" ", 3)[1] for line in lines(workbook, library)] == ["groups!A40", "groups!B40", "groups!C40"]


def test_a_calculated_formula_is_its_value(workbook, library):
    edit(workbook, lambda book: book["supplements"].__setitem__("D2", "=400+68"))
    rewrite(workbook, 6, r"<f>400\+68</f><v ?/>", "<f>400+68</f><v>468</v>")
    assert lines(workbook, library) == []
    assert read_book(workbook, library.units).supplements[0].price_per_tonne == 468


def test_a_formula_calculated_to_nothing_is_blank(workbook, library):
    """Formulas such as =IF(A2="","",B2*2) are copied down whole columns."""
    edit(workbook, lambda book: book["supplements"].__setitem__("G3", '=IF(1=1,"",5)'))
    rewrite(workbook, 6, r'<c r="G3"([^>]*)>(<f>.*?</f>)<v ?/>', r'<c r="G3"\1 t="str">\2<v></v>')
    assert lines(workbook, library) == []
    assert read_book(workbook, library.units).supplements[1].stock_kg is None


def test_error_values(workbook, library):
    edit(workbook, lambda book: book["supplements"].__setitem__("D2", "#DIV/0!"))
    assert lines(workbook, library) == ["error supplements!D2 the error #DIV/0!: Mend the formula, or type the value."]


# Kinds of cells -------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(
    ("sheet", "cell", "value"),
    [
        ("supplements", "D2", "468"),
        ("supplements", "D2", " 468.00 "),
        ("bins", "J2", "12.4"),
        ("bins", "D3", "4.6"),
        ("supplements", "F4", "25"),
        ("assays", "C3", "14.9"),
        ("groups", "C2", "60"),
        ("farm", "B11", "500"),
    ],
)
def test_a_number_typed_as_text_is_a_number(workbook, library, sheet, cell, value):
    before = read_book(workbook, library.units)
    edit(workbook, lambda book: book[sheet].__setitem__(cell, value))
    assert lines(workbook, library) == []
    assert read_book(workbook, library.units) == before


@pytest.mark.parametrize(
    ("sheet", "cell", "value", "found"),
    [
        ("supplements", "D2", datetime(2025, 9, 12), "the date 2025-09-12"),
        ("supplements", "D2", True, "TRUE"),
        ("bins", "K2", 45883, "45883"),
        ("bins", "J2", "dry", "'dry'"),
        ("supplements", "J2", 1, "1"),
    ],
)
def test_a_cell_of_the_wrong_kind(workbook, library, sheet, cell, value, found):
    def change(book):
        book[sheet][cell] = value
        if not isinstance(value, datetime):
            book[sheet][cell].number_format = "General"

    (line,) = lines(edit(workbook, change), library)
    assert line.startswith(f"error {sheet}!{cell} {found}")


def test_cells_formatted_in_percent(workbook, library):
    """0.45 shown as 45 % is 45 %, in a column of percentages and in a figure with the unit %."""

    def change(book):
        for sheet, cell, value in (
            ("own_limits", "D2", 0.45),
            ("bins", "J2", 0.124),
            ("assays", "C3", 0.149),
            ("assays", "G3", 0.0025),
        ):
            book[sheet][cell] = value
            book[sheet][cell].number_format = "0.0%"

    book = read_book(edit(workbook, change), library.units)
    assert lines(workbook, library) == []
    assert book.own_limits[0].max_share == pytest.approx(0.45)
    assert book.bins[0].moisture_pct == pytest.approx(12.4)
    assert (book.assays[1].value, book.assays[1].lab_sd) == (pytest.approx(14.9), pytest.approx(0.25))


def test_percent_and_another_unit_do_not_go_together(workbook, library):
    def change(book):
        book["assays"]["D3"] = "g/kg"
        book["assays"]["C3"] = 0.149
        book["assays"]["C3"].number_format = "0%"

    (line,) = lines(edit(workbook, change), library)
    assert line.startswith("error assays!C3 14.9 % (the cell is formatted in percent)")


def test_yes_and_no_as_true_and_false(workbook, library):
    def change(book):
        book["supplements"]["J2"], book["supplements"]["K2"] = True, False

    offer = read_book(edit(workbook, change), library.units).supplements[0]
    assert (offer.home_grown, offer.organic) == (True, False)


# Shapes of sheets -----------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_styled_but_empty_rows_are_no_rows(workbook, library):
    def change(book):
        for row in range(30, 2000):
            for column in range(1, 14):
                book["supplements"].cell(row, column).fill = PatternFill("solid", fgColor="EEEEEE")

    before = read_book(workbook, library.units)
    assert read_book(edit(workbook, change), library.units) == before
    assert lines(workbook, library) == []


@pytest.mark.slow
def test_a_wrong_stated_size_hides_nothing(workbook, library):
    before = read_book(workbook, library.units)
    rewrite(workbook, 6, r'<dimension ref="A1:T29" ?/>', '<dimension ref="A1:B3"/>')
    assert read_book(workbook, library.units) == before


def test_merged_and_styled_headers(workbook, library):
    def change(book):
        sheet = book["groups"]
        sheet["F1"] = None
        sheet.merge_cells("E1:F1")
        sheet["A1"].font = Font(bold=True)

    before = read_book(workbook, library.units)
    assert read_book(edit(workbook, change), library.units).groups == before.groups
    assert lines(workbook, library) == []


def test_the_sheet_of_the_drop_down_lists_is_passed_over(workbook, library):
    def change(book):
        book.create_sheet("lists")["A1"] = "anything"

    assert lines(edit(workbook, change), library) == []


def test_an_empty_book_says_what_it_lacks(tmp_path, library):
    from openpyxl import Workbook

    Workbook().save(tmp_path / "empty.xlsx")
    assert [line.split(" ", 2)[1] for line in lines(tmp_path / "empty.xlsx", library)] == ["farm!", "bins!"]


# No book at all -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "content", "found"),
    [
        ("book.xlsx", b"setting,value\n", "a file that is no workbook"),
        ("book.xlsx", b"", "a file that is no workbook"),
        (
            "book.xlsx",
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600,
            "a file that is no workbook",
        ),  # with a password
        ("book.xls", b"\xd0\xcf\x11\xe0", "a file of the kind .xls"),
        ("book.ods", b"PK", "a file of the kind .ods"),
        ("farm.csv", b"setting,value\n", "a single CSV file"),
    ],
)
def test_no_book(tmp_path, library, name, content, found):
    (tmp_path / name).write_bytes(content)
    (problem,) = check_book(tmp_path / name, library)
    assert (problem.severity, problem.sheet, problem.cell) == ("error", name, "")
    assert found in problem.found
    with pytest.raises(BookError):
        read_book(tmp_path / name)


def test_a_damaged_workbook(workbook, library):
    data = workbook.read_bytes()
    workbook.write_bytes(data[: len(data) // 2])
    (problem,) = check_book(workbook, library)
    assert "no workbook" in problem.found


def test_a_workbook_without_its_parts(workbook, library):
    with zipfile.ZipFile(workbook, "w") as parts:
        parts.writestr("readme.txt", "nothing")
    (problem,) = check_book(workbook, library)
    assert "no workbook" in problem.found


def test_nothing_there(tmp_path, library):
    (problem,) = check_book(tmp_path / "book.xlsx", library)
    assert problem.found == "no such file or folder"


def test_a_folder_without_csv_files(tmp_path, library):
    (tmp_path / "notes.txt").write_text("x")
    (problem,) = check_book(tmp_path, library)
    assert problem.found == "a folder without CSV files"


# CSV ------------------------------------------------------------------------------------------------------------


def test_semicolons_and_decimal_commas(demo, tmp_path, library):
    plain = read_book(demo.write_csv(tmp_path / "plain"), library.units)
    for rows in demo.tables.values():
        for row in rows[1:]:
            row[:] = [re.sub(r"^(\d+)\.(\d+)( ?\w*)$", r"\1,\2\3", value) for value in row]
    assert demo.tables["bins"][2][6] == "740"
    assert demo.tables["sorted"][1][2] == "261,3"
    folder = demo.write_csv(tmp_path / "book", delimiter=";")
    assert lines(folder, library) == []
    book = read_book(folder, library.units)
    assert (book.bins, book.sorted, book.supplements) == (plain.bins, plain.sorted, plain.supplements)


@pytest.mark.parametrize("typed", ["1.500", "1.500 kg", "42.000"])
def test_a_point_before_three_digits_in_a_file_with_semicolons(demo, tmp_path, library, typed):
    demo.set("bins", 2, "mass", typed)
    (line,) = lines(demo.write_csv(tmp_path / "book", delimiter=";"), library)
    assert line.startswith("error bins!C2")
    assert "can be read in two ways" in line


@pytest.mark.parametrize("typed", ["1,500", "42,000 t", "1,500 kg"])
def test_a_comma_in_a_number_elsewhere(demo, written, library, typed):
    (line,) = lines(written(demo.set("bins", 2, "mass", typed)), library)
    assert line.startswith("error bins!C2")
    assert "can be read in two ways" in line


@pytest.mark.parametrize(("delimiter", "encoding"), [("\t", "utf-8"), (",", "utf-8-sig"), (";", "utf-8-sig")])
def test_other_ways_to_write_csv(demo, tmp_path, library, delimiter, encoding):
    before = read_book(demo.write_csv(tmp_path / "one"), library.units)
    after = read_book(demo.write_csv(tmp_path / "other", delimiter, encoding), library.units)
    assert (after.bins, after.sorted, after.assays) == (before.bins, before.sorted, before.assays)


def test_a_file_that_is_not_utf8(demo, tmp_path, library):
    folder = demo.set("bins", 2, "label", "Getreidebunker Süd").write_csv(tmp_path / "book", encoding="latin-1")
    (told,) = lines(folder, library)  # and not that there are no bins
    assert told.startswith("error bins! a character that is not UTF-8")


def test_settings_that_are_not_utf8_are_not_missing(demo, tmp_path, library):
    folder = demo.setting("name", "Hof Süd").write_csv(tmp_path / "book", encoding="latin-1")
    (told,) = lines(folder, library)
    assert told.startswith("error farm! a character that is not UTF-8")


def test_a_file_that_breaks_off(demo, tmp_path, library):
    folder = demo.write_csv(tmp_path / "book")
    with (folder / "groups.csv").open("a") as file:
        file.write('"half a name')
    assert lines(folder, library) == [
        "error groups! a CSV file that breaks off (unexpected end of data): Open it and save it again."
    ]


def test_only_csv_files_are_sheets(demo, tmp_path, library):
    folder = demo.write_csv(tmp_path / "book")
    (folder / "README.txt").write_text("how we fill this in")
    (folder / "._bins.csv").write_bytes(b"\x00\x05\x16\x07")
    (folder / ".~lock.bins.csv#").write_text("somebody")
    (folder / "samples.csv").rename(folder / "Samples.CSV")
    assert lines(folder, library) == []


def test_a_value_in_percent_in_csv(demo, tmp_path, library):
    demo.set("own_limits", 2, "max_pct", "45 %").set("bins", 2, "moisture_pct", "12.4%")
    folder = demo.write_csv(tmp_path / "book")
    assert lines(folder, library) == []
    assert read_book(folder, library.units).own_limits[0].max_share == 0.45


def test_the_last_row_may_be_short_and_cells_may_hold_line_breaks(demo, tmp_path, library):
    demo.set("bins", 2, "note", "first line\nsecond line")
    folder = demo.write_csv(tmp_path / "book")
    with (folder / "groups.csv").open("a", newline="") as file:
        file.write("boar_2,sw_boar,0")
    assert lines(folder, library) == ["error groups!C20 '0': Correct it, or check its unit."]
    with (folder / "bins.csv").open("a", newline="") as file:
        file.write("east,,,,,,,-1")
    assert "error bins!H4 '-1': Correct it." in lines(folder, library)


# A traceback is a defect ----------------------------------------------------------------------------------------

ODD = [
    "",
    "0",
    "-1",
    "1e400",
    "nan",
    "12,5",
    "1.2.3",
    "=A1",
    "%",
    "t",
    "2025-13-45",
    "#REF!",
    "a" * 500,
    "Ω–\u200b",
    "True",
]


@pytest.mark.slow
@pytest.mark.parametrize("sheet", SHEETS)
def test_whatever_stands_in_a_cell_is_told_in_a_line(demo, library, few, sheet, monkeypatch):
    """Odd content in every column of the first row, the header among them, ends in problems or in a book. By default
    each column has three of it, another three than its neighbour."""
    columns = demo.tables[sheet][0]
    if len(demo.tables[sheet]) == 1:
        demo.tables[sheet].append([""] * len(columns))
    grids = demo.grids()
    monkeypatch.setattr("rationlp.book.reading.rows.open_grids", lambda path, problems: grids.values())
    for row in (1, 2):
        for index in range(len(columns)):
            turned = [ODD[(place + 2 * index + row) % len(ODD)] for place in range(len(ODD))]
            for odd in few(turned, 3):
                grids = demo.grids((sheet, row, index, odd))
                for problem in check_book(Path("book"), library):
                    assert problem.line().count("\n") == 0
                    assert problem.found and problem.expected and problem.do


def test_what_a_workbook_keeps_behind_its_rows_is_not_read(tmp_path, monkeypatch):
    """Lists to choose from and colours stand behind the rows and take as long to read as they do."""
    workbook = Workbook()
    workbook.active.append(["bin", "label"])
    workbook.active.append(["north", "North bin"])
    workbook.active.add_data_validation(DataValidation(type="list", formula1='"yes,no"', sqref="B2:B9"))
    workbook.save(tmp_path / "book.xlsx")
    monkeypatch.setattr(DataValidation, "from_tree", lambda tree: pytest.fail("a list to choose from was read"))
    (grid,) = open_grids(tmp_path / "book.xlsx", [])
    assert [[cell.value for cell in cells] for _, cells in grid.rows] == [["bin", "label"], ["north", "North bin"]]
    assert filled_sheets(tmp_path / "book.xlsx")["Sheet"]["B2"] == "North bin"
