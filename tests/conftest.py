"""What the tests share: the shipped library, books written on the fly, the command line."""

from __future__ import annotations

import csv
import json
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TypeVar

import pytest

from rationlp.book.reading.read import read_book
from rationlp.book.records import Book
from rationlp.library import Library, load_library

Sheets = Mapping[str, Sequence[Mapping[str, object]]]
FEW_SEEDS = 4
Case = TypeVar("Case")
DEMO_BOOK = Path(__file__).parents[1] / "rationlp" / "book" / "demo_book"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--slow", action="store_true", help="also the tests marked `slow`")
    parser.addoption("--long", action="store_true", help="every test, and every check on all its cases")
    parser.addoption("--fuzz", metavar="N", type=int, help="fuzzing with N books and as much of everything else")
    parser.addoption("--fuzz-seed", metavar="S", type=int, help="fuzzing with other inputs than those of every run")
    parser.addoption("--pictures", metavar="DIR", help="keep the pictures and prints of the page here")
    parser.addoption("--write-listing", action="store_true", help="write the listing of the program's rows anew")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Without --slow none of the tests marked `slow`; without --long none of those marked `long`, and of a test with a
    `seed` only its first few."""
    if config.getoption("--long"):
        return
    beyond = {"long"} if config.getoption("--slow") else {"long", "slow"}
    seen: Counter[tuple[str, ...]] = Counter()
    kept, left = [], []
    for item in items:
        others = _without_seed(item)
        seen[others] += 1
        few = "seed" not in item_params(item) or seen[others] <= FEW_SEEDS
        (kept if few and not any(map(item.get_closest_marker, beyond)) else left).append(item)
    if left:
        config.hook.pytest_deselected(items=left)
        items[:] = kept


def item_params(item: pytest.Item) -> Mapping[str, object]:
    """What a test is parametrized with."""
    callspec = getattr(item, "callspec", None)
    return callspec.params if callspec else {}


def _without_seed(item: pytest.Item) -> tuple[str, ...]:
    """The test with all its parameters but the seed."""
    rest = (f"{name}={value!r}" for name, value in sorted(item_params(item).items()) if name != "seed")
    return (item.nodeid.split("[")[0], *rest)


@pytest.fixture(scope="session")
def few(request: pytest.FixtureRequest) -> Callable[[Sequence[Case], int], Sequence[Case]]:
    """The cases a test walks through: its first few, all of them with --long."""
    long = request.config.getoption("--long")
    return lambda cases, count: cases if long else cases[:count]


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
