"""Files that are handed in: a pipe, a device, an archive that unpacks to gigabytes cost a line and no time."""

from __future__ import annotations

import os
import zipfile
from pathlib import Path
from types import SimpleNamespace

import pytest
from command_line import run

from rationlp import incoming
from rationlp.bins import evidence
from rationlp.bins.drift import unevenness
from rationlp.book.checks import check
from rationlp.book.checks.check import check_book
from rationlp.book.reading import files, unseen
from rationlp.incoming import UnfitError, bytes_of, workbook_of

DEMO = Path(__file__).parents[1] / "demo"


@pytest.fixture
def folder(tmp_path, write_book):
    """A book of three sheets."""
    return write_book({"farm": [{"setting": "name", "value": "x"}], "bins": [{"bin": "a"}], "crops": [{"crop": "b"}]})


def padded(path: Path, part: str, size: int) -> Path:
    """The demo workbook with `size` blanks at the end of one of its parts."""
    with zipfile.ZipFile(DEMO / "stillwater_bend.xlsx") as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for item in old.namelist():
            new.writestr(item, old.read(item) + b" " * (size if item == part else 0))
    return path


def found_of(path, library) -> list[str]:
    return [problem.found for problem in check_book(path, library) if problem.severity == "error"]


@pytest.mark.parametrize("kind", ["pipe", "device", "folder", "dangling link"])
def test_a_sheet_that_is_no_file_is_said_not_passed_over(folder, library, kind):
    sheet = folder / "crops.csv"
    sheet.unlink()
    make = {
        "pipe": lambda: os.mkfifo(sheet),
        "device": lambda: sheet.symlink_to("/dev/zero"),
        "folder": sheet.mkdir,
        "dangling link": lambda: sheet.symlink_to(folder / "nowhere"),
    }
    make[kind]()
    problems = [p for p in check_book(folder, library) if p.sheet == "crops" and p.severity == "error"]
    assert [p.found for p in problems] == [
        "a file that cannot be opened (No such file or directory)" if kind == "dangling link" else "no regular file"
    ]


def test_a_pipe_or_a_device_is_no_book(tmp_path, library):
    os.mkfifo(tmp_path / "book.xlsx")
    (tmp_path / "zero.xlsx").symlink_to("/dev/zero")
    for name in ("book.xlsx", "zero.xlsx"):
        assert found_of(tmp_path / name, library) == ["no regular file"]
        with pytest.raises(UnfitError, match="no regular file"):
            bytes_of(tmp_path / name)


@pytest.mark.parametrize("part", ["xl/worksheets/sheet2.xml", "xl/styles.xml"])
def test_a_small_archive_that_unpacks_to_much_is_not_unpacked(tmp_path, library, monkeypatch, part):
    monkeypatch.setattr(incoming, "MOST_BYTES", 2**21)
    book = padded(tmp_path / "book.xlsx", part, 2**21)
    assert book.stat().st_size < 2**20
    (found,) = found_of(book, library)
    assert found == "a workbook of 2 MB unpacked, where 2 MB are the most that is read"


def test_a_file_larger_than_any_farms_is_not_read(folder, library):
    os.truncate(folder / "crops.csv", 3 * 2**30)  # a file with a hole: nothing is written
    assert found_of(folder, library)[0] == "a file of 3,072 MB, where 64 MB are the most that is read"


def test_an_archive_of_countless_parts(tmp_path, monkeypatch):
    monkeypatch.setattr(incoming, "MOST_PARTS", 20)
    with pytest.raises(UnfitError, match="77 parts"):
        workbook_of(DEMO / "stillwater_bend.xlsx")


def test_a_sheet_of_more_rows_than_a_farm_has(tmp_path, folder, library, monkeypatch):
    for module in (files, unseen):
        monkeypatch.setattr(module, "MOST_ROWS", 3)
    assert "of more than 3 rows" in found_of(padded(tmp_path / "book.xlsx", "", 0), library)[0]
    (folder / "bins.csv").write_text("bin\n" + "x\n" * 5, encoding="utf-8")
    assert found_of(folder, library)[0].startswith("more than 3 rows")


@pytest.mark.parametrize("rows", ['<row r="{}"/>', '<row r="{}"><c r="A{}" s="1"/></row>'])
def test_a_format_dragged_down_a_column_is_refused_before_a_row_is_read(tmp_path, library, monkeypatch, rows):
    """A million rows of it took a second and a half of the processor."""
    monkeypatch.setattr(unseen, "MOST_ROWS", 60)
    monkeypatch.setattr(files, "_cell", None)  # reads a cell
    end = "</sheetData>"
    with zipfile.ZipFile(DEMO / "stillwater_bend.xlsx") as old, zipfile.ZipFile(tmp_path / "book.xlsx", "w") as new:
        for item in old.namelist():
            held = old.read(item).decode("utf-8") if item == "xl/worksheets/sheet1.xml" else old.read(item)
            if isinstance(held, str):
                assert end in held
                held = held.replace(end, "".join(rows.format(row, row) for row in range(900, 961)) + end)
            new.writestr(item, held)
    (found,) = found_of(tmp_path / "book.xlsx", library)
    assert found == "a sheet 'farm' of more than 60 rows"


def test_blank_rows_of_csv_cost_nothing_and_numbers_stay(folder, library):
    text = "bin,mass\n" + ",\n" * 5000 + "north,much\n"
    (folder / "bins.csv").write_text(text, encoding="utf-8")
    assert [p.cell for p in check_book(folder, library) if p.sheet == "bins" and p.severity == "error"] == ["B5002"]


def test_a_sheet_of_unknown_stages_makes_one_list_of_names(write_book, library, monkeypatch):
    """1,600 of them took 15 s of the processor, a new list for each."""
    made, with_own = [], check.with_own
    monkeypatch.setattr(check, "with_own", lambda *words: made.append(1) or with_own(*words))
    rows = [{"group": f"g{row}", "stage": f"house of hens {row}"} for row in range(9)]
    found = found_of(write_book({"groups": rows}), library)
    assert sum("house_of_hens" in line for line in found) == 9 and len(made) == 1


def test_bins_of_one_sample_are_not_compared_with_each_other(monkeypatch):
    """Each of 1,600 bins was asked for its samples once for each of the 1,600."""
    bins, samples = [SimpleNamespace(bin="a"), SimpleNamespace(bin="b")], [SimpleNamespace(bin="a")]
    monkeypatch.setattr(evidence, "one_day", None)
    assert evidence.farm_unevenness(SimpleNamespace(bins=bins, samples=samples), None) == unevenness([])


@pytest.mark.parametrize("words", [("actual", "BOOK", "FILE"), ("check", "FILE")])
def test_commands_refuse_what_is_no_file(tmp_path, words):
    pipe = tmp_path / "filled.xlsx"
    os.mkfifo(pipe)
    names = {"BOOK": DEMO / "stillwater_bend", "FILE": pipe}
    done = run(*(names.get(word, word) for word in words))
    assert done.returncode in (1, 2) and "Traceback" not in done.stderr and (done.stdout or done.stderr)
