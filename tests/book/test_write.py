"""A new book: complete, explained, readable again, and never at the cost of another."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import load_workbook

from rationlp.book import check_book, new_book, read_book
from rationlp.book.columns import SHEETS
from rationlp.book.settings import SETTINGS
from rationlp.book.words import EXPLAINS, LISTS_SHEET, START_SHEET
from rationlp.book.writing.tables import FILLED_FIRST, filling_order
from rationlp.errors import BookError, LibraryError, Problem

DEMO = Path(__file__).parents[2] / "demo"
KINDS = pytest.mark.parametrize("name", ["farm.xlsx", "farm"])


def contents(folder: Path) -> dict[str, bytes]:
    """Every file under a folder, hidden ones too."""
    return {str(file.relative_to(folder)): file.read_bytes() for file in folder.rglob("*") if file.is_file()}


@pytest.mark.slow
@KINDS
def test_a_new_book_lacks_nothing_but_its_content(tmp_path, library, name):
    path = new_book(tmp_path / name)
    (problem,) = check_book(path, library)
    assert problem.found == "no bins and no offers"
    assert list(tmp_path.iterdir()) == [path]


@KINDS
def test_the_demo_reads_as_it_was_written(tmp_path, library, demo_book, name):
    path = new_book(tmp_path / name, demo=True)
    assert check_book(path, library) == []
    book = read_book(path, library.units)
    for sheet in SHEETS:
        assert getattr(book, sheet) == getattr(demo_book, sheet)


def test_the_demo_folder_is_the_shipped_demo(tmp_path, library, demo_book):
    """demo/ is written by `rationlp new --demo`; write it again when rationlp/book/demo_book changes."""
    new_book(tmp_path / "stillwater_bend", demo=True)
    assert contents(DEMO / "stillwater_bend") == contents(tmp_path / "stillwater_bend")
    new_book(tmp_path / "again.xlsx", demo=True)
    shipped, again = load_workbook(DEMO / "stillwater_bend.xlsx"), load_workbook(tmp_path / "again.xlsx")
    for sheet in SHEETS:
        assert list(shipped[sheet].values) == list(again[sheet].values)


def test_the_demo_says_that_it_is_invented(demo_book, tmp_path):
    assert "invented" in demo_book.farm.name
    assert all("invented" in offer.supplier for offer in demo_book.supplements)
    assert all("invented" in row.source for row in demo_book.own_feeds)
    new_book(tmp_path / "demo", demo=True)
    assert (tmp_path / "demo" / "README.txt").read_text().startswith("The farm of this book is invented")


@pytest.mark.slow
def test_a_person_fills_in_a_new_workbook(tmp_path, library):
    path = new_book(tmp_path / "farm.xlsx")
    book = load_workbook(path)
    book["bins"].append(["east", None, "20 t", None, None, None, None, 150, None, 13])
    book["samples"].append(["e1", "east", None, 5, 100])
    book["sorted"].append(["e1", "rye", 100])
    book["supplements"].append(["salt", "salt", None, 5, "25 kg"])
    book["groups"].append(["hens", "hen_peak", 12])
    book.save(path)
    assert check_book(path, library) == []
    assert read_book(path).bins[0].mass_kg == 20_000


# What a person sees ---------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def workbook(tmp_path_factory):
    return load_workbook(new_book(tmp_path_factory.mktemp("new") / "farm.xlsx"))


def test_sheets_stand_in_order_and_the_lists_are_hidden(workbook):
    ordered = [sheet.name for sheet in filling_order()]
    assert workbook.sheetnames == [START_SHEET, *ordered, LISTS_SHEET]
    assert set(ordered) == set(SHEETS) and tuple(ordered[: len(FILLED_FIRST)]) == FILLED_FIRST
    assert workbook[LISTS_SHEET].sheet_state == "hidden"
    grey = {name for name in ordered if workbook[name].sheet_properties.tabColor is not None}
    assert grey == set(ordered) - set(FILLED_FIRST)


def test_the_first_sheet_says_in_ten_lines_where_to_begin(workbook):
    rows = [row for row in workbook[START_SHEET].iter_rows(min_row=3, values_only=True) if row[2]]
    assert [row[0] for row in rows] == list(range(1, 11))
    assert [row[1] for row in rows if row[1]] == list(FILLED_FIRST)
    assert workbook[START_SHEET]["B3"].hyperlink.location == "farm!A1"


@pytest.mark.parametrize("sheet", [sheet for sheet in SHEETS.values() if sheet.name != "farm"], ids=lambda s: s.name)
def test_a_row_under_each_heading_says_what_belongs_there(workbook, sheet):
    texts = [cell.value for cell in next(workbook[sheet.name].iter_rows(min_row=2, max_row=2))]
    for text, column in zip(texts, sheet.columns, strict=True):
        assert text.startswith(EXPLAINS) and column.note in text
        assert ("Must be filled in." in text) == column.required


@pytest.mark.slow
def test_the_explanations_are_no_data_whoever_writes_among_them(tmp_path, library):
    path = new_book(tmp_path / "farm.xlsx")
    book = load_workbook(path)
    book["groups"]["A2"], book["groups"]["B2"], book["groups"]["C2"] = "hens", "hen_peak", 12
    book["bins"].delete_rows(2)
    book["bins"].append(["east", None, "20 t", None, None, None, None, 150, None, 13])
    book.save(path)
    found = [(p.severity, p.sheet, p.cell) for p in check_book(path, library) if p.severity == "error"]
    assert found == [("error", "groups", cell) for cell in ("A2", "B2", "C2")]


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS)
def test_every_heading_has_its_note(workbook, sheet):
    header = next(workbook[sheet.name].iter_rows(max_row=1))
    assert [cell.value for cell in header] == [column.name for column in sheet.columns]
    for cell, column in zip(header, sheet.columns, strict=True):
        assert column.note in cell.comment.text
        assert ("Must be filled in." in cell.comment.text) == column.required
        assert not column.choices or column.choices[0] in cell.comment.text
        assert column.kind != "mass" or "kg (metric) or lb (us)" in cell.comment.text
        assert workbook[sheet.name].column_dimensions[cell.column_letter].width >= len(column.name) + 3
    assert workbook[sheet.name].freeze_panes in (("A2",) if sheet.name == "farm" else ("A3", "B3"))


def test_every_setting_has_its_note_and_usual_value(workbook):
    rows = list(workbook["farm"].iter_rows(min_row=2))
    assert [row[0].value for row in rows] == [setting.name for setting in SETTINGS]
    for row, setting in zip(rows, SETTINGS, strict=True):
        assert setting.note in row[0].comment.text
        assert row[2].value == setting.note
    values = {row[0].value: row[1].value for row in rows}
    assert (values["units"], values["batch_mass"], values["scale_step"]) == ("metric", 1000, 1)
    assert (values["objective"], values["date_format"]) == (None, "YYYY-MM-DD")


def _offered(workbook, sheet: str, cell: str) -> list[str]:
    """What the drop-down list of a cell offers."""
    (rule,) = [rule for rule in workbook[sheet].data_validations.dataValidation if cell in rule.sqref]
    if rule.formula1.startswith('"'):
        return rule.formula1.strip('"').split(",")
    name, cells = rule.formula1.split("!")
    return [row[0].value for row in workbook[name][cells.replace("$", "")] if row[0].value is not None]


def test_drop_down_lists_offer_what_is_known(workbook, library):
    assert set(_offered(workbook, "supplements", "B3")) == set(library.feeds)
    assert set(_offered(workbook, "own_feeds", "B900")) == set(library.nutrients)
    assert _offered(workbook, "groups", "B3") == list(library.stages)
    assert _offered(workbook, "own_limits", "A3") == ["all", *library.stages]
    crops = _offered(workbook, "sorted", "B3")
    assert crops[0] == "foreign_matter"
    assert "triticale" in crops
    assert "salt" not in crops
    assert _offered(workbook, "assays", "E3") == ["as_fed", "dry_matter"]
    assert _offered(workbook, "own_stages", "F3") == ["kg", "mcal", "day"]
    assert "mg" in _offered(workbook, "own_stages", "E3")
    assert "mg" not in _offered(workbook, "assays", "D3")
    assert _offered(workbook, "farm", "B4") == ["metric", "us"]


def test_lists_of_names_follow_the_other_sheets(tmp_path):
    demo = load_workbook(new_book(tmp_path / "demo.xlsx", demo=True))
    assert _offered(demo, "samples", "B2") == ["north", "south"]
    assert _offered(demo, "sorted", "A2") == ["n1", "s1", "n0"]


def test_the_csv_book_explains_its_columns(tmp_path):
    text = (new_book(tmp_path / "farm") / "README.txt").read_text(encoding="utf-8")
    for sheet in SHEETS.values():
        for column in SETTINGS if sheet.name == "farm" else sheet.columns:
            assert f"  {column.name}{'*' if column.required else ''}: {column.note}" in text


# Never at the cost of another -----------------------------------------------------------------------------------


@KINDS
@pytest.mark.parametrize("there", ["a file", "a folder"])
def test_nothing_is_overwritten(tmp_path, name, there):
    path = tmp_path / name
    if there == "a file":
        path.write_text("last year's book")
    else:
        path.mkdir()
        (path / "bins.csv").write_text("bin\n")
    before = contents(tmp_path)
    with pytest.raises(BookError) as caught:
        new_book(path, demo=True)
    assert caught.value.problems[0].found == "a file or folder that is already there"
    assert contents(tmp_path) == before


@pytest.mark.parametrize(("name", "found"), [("farm.xls", "a name ending in .xls"), ("no/farm.xlsx", "no folder")])
def test_names_that_cannot_be(tmp_path, name, found):
    with pytest.raises(BookError) as caught:
        new_book(tmp_path / name)
    assert found in caught.value.problems[0].found
    assert list(tmp_path.iterdir()) == []


@KINDS
@pytest.mark.parametrize("fault", [OSError(28, "No space left on device"), RuntimeError("a defect")])
def test_nothing_is_left_behind_when_it_fails(tmp_path, monkeypatch, name, fault):
    def fail(*_):
        raise fault

    monkeypatch.setattr("rationlp.book.writing.write.os.replace", fail)
    with pytest.raises(BookError if isinstance(fault, OSError) else RuntimeError) as caught:
        new_book(tmp_path / name, demo=True)
    assert list(tmp_path.iterdir()) == []
    if isinstance(fault, OSError):
        assert "No space left on device" in caught.value.problems[0].found


def test_a_book_that_appears_meanwhile_is_kept(tmp_path, monkeypatch):
    """Somebody saves a book of the same name while ours is being written."""
    import rationlp.book.writing.workbook as workbook

    def write(path, *_):
        path.write_bytes(b"ours")
        (tmp_path / "farm.xlsx").write_bytes(b"theirs")

    monkeypatch.setattr(workbook, "write_workbook", write)
    with pytest.raises(BookError):
        new_book(tmp_path / "farm.xlsx")
    assert contents(tmp_path) == {"farm.xlsx": b"theirs"}


def test_a_bad_library_stops_it_before_anything_is_written(tmp_path):
    class Bad:
        @property
        def feeds(self):
            raise LibraryError([Problem("error", "feeds.csv", "A1", "x", "y", "z")])

    with pytest.raises(LibraryError):
        new_book(tmp_path / "farm.xlsx", library=Bad())
    assert list(tmp_path.iterdir()) == []
