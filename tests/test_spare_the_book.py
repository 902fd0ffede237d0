"""Whatever a command writes, it never writes over the book."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from click.testing import CliRunner
from random_farms import read_sheets, write_sheets

from rationlp.cli.app import app
from rationlp.errors import RequestError
from rationlp.files import spare_the_book

OPTIONS = {
    "ration": ("--review",),
    "sheets": ("-o",),
    "offers": ("--sweep", "soy48_bulk:300:400:2", "-o"),
    "resample": ("--before", "n1", "--after", "n1", "-o"),
}
ENDINGS = {"ration": ".xlsx", "sheets": ".xlsx", "offers": ".csv", "resample": ".xlsx"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A book of CSV files."""
    return write_sheets(read_sheets(), tmp_path / "book")


@pytest.fixture
def workbook(tmp_path: Path) -> Path:
    path = tmp_path / "farm.xlsx"
    path.write_bytes(b"a book")
    return path


def refused(path: Path, book: Path) -> bool:
    try:
        spare_the_book(path, book)
    except RequestError as error:
        (problem,) = error.problems
        assert problem.do and str(path) in problem.found
        return True
    return False


def test_a_workbook_is_spared_by_whatever_name_it_is_given(workbook: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(workbook.parent)
    link, twin = workbook.with_name("link.xlsx"), workbook.with_name("twin.xlsx")
    link.symlink_to(workbook)
    os.link(workbook, twin)
    for path in (workbook, Path("farm.xlsx"), Path("../", workbook.parent.name, "farm.xlsx"), link, twin):
        assert refused(path, workbook), path
    assert refused(workbook, link)


def test_no_file_of_a_folder_is_written_and_none_is_added_to_it(folder: Path, tmp_path: Path):
    link = tmp_path / "link"
    link.symlink_to(folder, target_is_directory=True)
    outside = tmp_path / "prices.csv"
    outside.symlink_to(folder / "supplements.csv")
    for path in (folder / "supplements.csv", folder / "mix.csv", link / "mix.csv", outside):
        assert refused(path, folder), path
    assert refused(folder / "mix.csv", link)


def test_another_file_beside_the_book_is_free(folder: Path, workbook: Path, tmp_path: Path):
    for book in (folder, workbook):
        assert not refused(tmp_path / "mix.xlsx", book)
    assert not refused(tmp_path / "farm.csv", workbook)
    assert not refused(tmp_path / "no" / "such" / "mix.xlsx", folder)


@pytest.mark.parametrize("command", OPTIONS)
def test_no_command_writes_over_its_book(command: str, folder: Path):
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    target = folder / f"answer{ENDINGS[command]}"
    done = CliRunner().invoke(app, [command, str(folder), *OPTIONS[command], str(target)])
    assert done.exit_code == 2 and "the book" in done.stderr, done.output
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
