"""Files that are handed in: a pipe, a device, an archive that unpacks to gigabytes cost a line and no time."""

from __future__ import annotations

import os
import zipfile
from pathlib import Path

import pytest
from command_line import run

from rationlp import incoming
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


def test_blank_rows_of_csv_cost_nothing_and_numbers_stay(folder, library):
    text = "bin,mass\n" + ",\n" * 5000 + "north,much\n"
    (folder / "bins.csv").write_text(text, encoding="utf-8")
    assert [p.cell for p in check_book(folder, library) if p.sheet == "bins" and p.severity == "error"] == ["B5002"]


@pytest.mark.parametrize("words", [("actual", "BOOK", "FILE"), ("check", "FILE")])
def test_commands_refuse_what_is_no_file(tmp_path, words):
    pipe = tmp_path / "filled.xlsx"
    os.mkfifo(pipe)
    names = {"BOOK": DEMO / "stillwater_bend", "FILE": pipe}
    done = run(*(names.get(word, word) for word in words))
    assert done.returncode in (1, 2) and "Traceback" not in done.stderr and (done.stdout or done.stderr)
