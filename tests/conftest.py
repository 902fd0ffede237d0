"""What the tests share: the shipped library, books written on the fly, the command line."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import pytest

from rationlp.book.reading.read import read_book
from rationlp.book.records import Book
from rationlp.library import Library, load_library

Sheets = Mapping[str, Sequence[Mapping[str, object]]]
DEMO_BOOK = Path(__file__).parents[1] / "rationlp" / "book" / "demo_book"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--long", action="store_true", help="every check on all its cases, not on a few of them")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Tests marked `long` only with --long."""
    if not config.getoption("--long"):
        for item in items:
            if item.get_closest_marker("long"):
                item.add_marker(pytest.mark.skip(reason="only with --long"))


@pytest.fixture(scope="session")
def library() -> Library:
    """The shipped feed library."""
    return load_library()


@pytest.fixture(scope="session")
def demo_book(library: Library) -> Book:
    """The demo book, read from its CSV files."""
    return read_book(DEMO_BOOK, library.units)


@pytest.fixture
def write_book(tmp_path: Path) -> Callable[..., Path]:
    """Writes the sheets it is given (rows as mappings) as a folder of CSV files."""

    def write(sheets: Sheets, name: str = "book") -> Path:
        folder = tmp_path / name
        folder.mkdir()
        for sheet, rows in sheets.items():
            columns = list(dict.fromkeys(column for row in rows for column in row))
            with (folder / f"{sheet}.csv").open("w", encoding="utf-8", newline="") as file:
                writer = csv.DictWriter(file, columns)
                writer.writeheader()
                writer.writerows(rows)
        return folder

    return write


@pytest.fixture
def make_book(write_book: Callable[..., Path], library: Library) -> Callable[..., Book]:
    """Writes a book and reads it as the farmer's program does."""

    def make(sheets: Sheets, name: str = "book") -> Book:
        return read_book(write_book(sheets, name), library.units)

    return make


@pytest.fixture(scope="session")
def published() -> dict[str, dict]:
    """The published programs by id; each carries its source."""
    examples = json.loads((Path(__file__).parent / "published" / "programs.json").read_text(encoding="utf-8"))
    return {example["id"]: example for example in examples}
