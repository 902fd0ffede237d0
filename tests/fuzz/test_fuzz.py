"""Thousands of spoilt inputs: no traceback, nothing half written, no hang.

`--fuzz N` draws N books, and as many of every other kind as cost about the same; the default is what takes seconds.
"""

from __future__ import annotations

import contextlib
import csv
import io
import os
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import fuzzing
import pytest
from click.testing import CliRunner
from fuzzing import damaged, damages, drawn_edits, edited, edits, in_time, repacked, texts, told, written
from hypothesis import given, seed
from hypothesis import strategies as st
from openpyxl import load_workbook

from rationlp.book import check_book
from rationlp.cli.app import app
from rationlp.errors import InputError, LibraryError
from rationlp.every_problem import every_problem
from rationlp.ledger.store import Record
from rationlp.library import Library, load_library

pytestmark = pytest.mark.slow

DEMO = Path(__file__).parents[2] / "rationlp" / "book" / "demo_book"
SHIPPED = Path(__file__).parents[2] / "feed_library"
RECORD = "farm.record"
BOOKS = 2000
"""Books that are spoilt by default: 13 s of processor time (7 ms each, in this process, by one library)."""
ROWS = 1  # of each sheet but the first, in the small book
ONE = ("--stage", "sw_gro_25_50", "--bin", "north")
EXIT_CODES = range(5)

Draw = Callable[..., None]


def tables(rows: int = 10**6) -> dict[str, list[list[str]]]:
    """The sheets of the demo, each with so many rows."""
    found = {}
    for path in sorted(DEMO.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            whole = list(csv.reader(file))
        found[path.stem] = whole if path.stem == "farm" else whole[: 1 + rows]
    return found


@pytest.fixture
def draw(request: pytest.FixtureRequest) -> Callable[[Draw, int], None]:
    """Runs a property on examples: `few` of them, or with --fuzz its part of those asked for (`few` is of BOOKS)."""
    asked = request.config.getoption("--fuzz") or BOOKS
    other = request.config.getoption("--fuzz-seed")

    def drawn(rule: Draw, few: int) -> None:
        seeded = rule if other is None else seed(other)(rule)
        fuzzing.settled(max(few * asked // BOOKS, few), same=other is None)(seeded)()

    return drawn


def command(*words: object) -> Any:
    """A command in this process; whatever it says, it ends as commands end."""
    with in_time():
        done = CliRunner().invoke(app, [str(word) for word in words], prog_name="rationlp")
    if done.exception and not isinstance(done.exception, SystemExit):
        raise done.exception
    assert done.exit_code in EXIT_CODES
    assert "Traceback" not in done.output
    return done


@pytest.mark.slow
def test_books(draw, tmp_path, library):
    """Cells, rows, columns, headings and sheets of a small book."""
    book, small = tmp_path / "book", tables(ROWS)
    known: dict[str, str] = {}

    @given(st.integers(0, 2**64))
    def rule(number):
        spoilt = {name: [list(row) for row in rows] for name, rows in small.items()}
        edited(spoilt, drawn_edits(number))
        written(book, spoilt, known)
        with in_time():
            told(check_book(book, library))
        assert sorted(os.listdir(tmp_path)) == ["book"] and len(os.listdir(book)) == len(known)

    draw(rule, BOOKS)


@pytest.mark.slow
def test_whole_books(draw, tmp_path, library):
    """All that `check` says of a whole book, and of one that has no error a ration."""
    book, whole = tmp_path / "book", tables()
    known: dict[str, str] = {}

    @given(st.lists(edits, min_size=1, max_size=3))
    def rule(changes):
        spoilt = {name: [list(row) for row in rows] for name, rows in whole.items()}
        edited(spoilt, changes)
        written(book, spoilt, known)
        with in_time():
            problems = every_problem(book, None)
        told(problems)
        if not any(problem.severity == "error" for problem in problems):
            command("ration", book, *ONE)

    draw(rule, 8)


@pytest.mark.slow
def test_bytes_of_csv(draw, tmp_path, library):
    """A file of a book as a bad disk, another encoding or an editor leaves it."""
    book = written(tmp_path / "book", tables(ROWS))
    before = {path: path.read_bytes() for path in sorted(book.iterdir())}
    names = sorted(before)

    @given(st.integers(0, 100), damages, st.sampled_from(["", "utf-16", "latin-1", "utf-8-sig", ";", "\t"]))
    def rule(place, changes, kind):
        path = names[place % len(names)]
        held = before[path]
        if kind in (";", "\t"):
            held = held.replace(b",", kind.encode())
        elif kind:
            held = held.decode("utf-8").encode(kind, errors="replace")
        path.write_bytes(damaged(held, changes))
        with in_time():
            told(check_book(book, library))
        path.write_bytes(before[path])

    draw(rule, 120)


@pytest.fixture(scope="module")
def workbook(tmp_path_factory):
    """The small book as a workbook."""
    folder = tmp_path_factory.mktemp("workbook")
    command("new", folder / "book.xlsx", "--demo")
    made = load_workbook(folder / "book.xlsx")
    for sheet in made.worksheets:
        if sheet.title != "farm" and sheet.max_row > 2 + ROWS:
            sheet.delete_rows(3 + ROWS, sheet.max_row)
    held = io.BytesIO()
    made.save(held)
    return held.getvalue()


@pytest.mark.slow
def test_bytes_of_workbooks(draw, tmp_path, workbook, library):
    """A workbook damaged as a whole, or one of the files inside and packed well again."""
    path = tmp_path / "book.xlsx"

    @given(st.one_of(st.none(), st.integers(0, 60)), damages)
    def rule(member, changes):
        path.write_bytes(damaged(workbook, changes) if member is None else repacked(workbook, member, changes))
        with in_time():
            told(check_book(path, library))

    draw(rule, 25)


@pytest.mark.slow
def test_libraries(draw, tmp_path):
    """A table of the farm's own library: a cell, a row, a heading, bytes."""
    folder = tmp_path / "library"
    shutil.copytree(SHIPPED, folder)
    names = sorted(folder.glob("*.csv"))

    @given(st.integers(0, 1000), st.lists(edits, min_size=1, max_size=2), st.one_of(st.none(), st.none(), damages))
    def rule(place, changes, bytes_of):
        path = names[place % len(names)]
        before = path.read_bytes()
        with path.open(encoding="utf-8", newline="") as file:
            table = {path.stem: list(csv.reader(file))}
        edited(table, changes)
        if bytes_of is not None:
            path.write_bytes(damaged(before, bytes_of))
        else:
            with path.open("w", encoding="utf-8", errors="surrogatepass", newline="") as file:
                csv.writer(file).writerows(next(iter(table.values()), []))
        try:
            with in_time():
                found = load_library(folder)
                assert isinstance(found, Library)
                command("ration", DEMO, *ONE, "--library", folder)
        except LibraryError as error:
            told(error.problems)
        finally:
            path.write_bytes(before)

    draw(rule, 3)


WORDS = st.one_of(
    texts,
    st.sampled_from(["soy48_bulk", "confidence_pct", "north", "salt", "objective", "home_grown", "units"]),
)
OPTIONS = {
    "bin": ("--bin", "--price", "--set", "--precision", "--format", "--library"),
    "ration": ("--stage", "--bin", "--price", "--set", "--home-grown", "--format", "--review", "--library"),
    "offers": ("--stage", "--bin", "--price", "--sweep", "--what-if", "--compare", "--draws", "--seed", "-o", "--set"),
    "sheets": ("--stage", "--batch", "--mixer-volume", "--batches", "--group", "--days", "--on", "--week", "--from"),
    "year": ("--from", "--home-grown", "--most-mixes", "--price", "--set"),
    "resample": ("--before", "--after", "--stage"),
    "trace": ("--batch", "--group", "--lot", "--from", "--to"),
    "actual": ("--uniformity", "--format"),
    "check": ("--format", "--library"),
    "library": ("--format",),
}


@pytest.mark.slow
def test_options(draw, tmp_path):
    """Any text as an option or in place of a name; nothing is written but what is asked for."""
    book = written(tmp_path / "demo", tables())

    @given(
        st.sampled_from(sorted(OPTIONS)),
        st.lists(st.tuples(st.integers(0, 20), WORDS, WORDS), max_size=3),
        st.booleans(),
    )
    def rule(name, chosen, bare):
        words: list[object] = [name, book] if name != "library" else [name]
        for which, one, other in chosen:
            option = OPTIONS[name][which % len(OPTIONS[name])]
            if option == "-o" or option == "--review":
                one = str(tmp_path / "out" / Path(one.replace("\0", "")).name)
            words += [option, f"{one}={other}" if option in ("--price", "--set") else one]
        if name in ("ration", "offers", "sheets") and not bare:
            words += ONE
        if name in ("ration", "offers", "sheets", "year") and not chosen:
            return  # the whole farm: other tests do that
        if name == "sheets":
            words += ["-o", tmp_path / "out.csv", "--overwrite"]
        if name == "year":
            words += ["--from", "x"]
        with contextlib.suppress(UnicodeEncodeError):  # not even a shell can hand over half a character
            [str(word).encode("utf-8") for word in words]
            command(*words)

    draw(rule, 30)


@pytest.fixture(scope="module")
def mixed(tmp_path_factory):
    """A farm with mix sheets printed, its record beside the book."""
    folder = tmp_path_factory.mktemp("mixed")
    book = written(folder / "demo", tables())
    command("sheets", book, "-o", folder / "mix.xlsx", *ONE)
    return book


@pytest.mark.slow
def test_read_back_sheets(draw, mixed):
    """Sheets that the crew filled in: any text in any cell, and the file damaged."""
    printed = mixed.parent / "mix.xlsx"
    whole, filled = printed.read_bytes(), mixed.parent / "filled.xlsx"
    cells = st.tuples(st.integers(0, 3), st.integers(1, 60), st.integers(1, 12), texts)

    @given(st.lists(cells, max_size=12), st.one_of(st.none(), st.none(), st.none(), damages), st.integers(0, 60))
    def rule(typed, changes, member):
        if changes is None:
            sheets = load_workbook(io.BytesIO(whole))
            for place, row, column, text in typed:
                cell = sheets.worksheets[place % len(sheets.worksheets)].cell(row, column)
                with contextlib.suppress(Exception):  # what openpyxl itself will not write
                    cell.value = text
            try:
                sheets.save(filled)
            except Exception:
                return
        else:
            filled.write_bytes(repacked(whole, member, changes))
        command("actual", mixed, filled)

    draw(rule, 4)


def readable(record: Path) -> list[tuple[Any, ...]]:
    """The entries of a record that can be read."""
    with contextlib.suppress(InputError):
        return Record(record).rows()
    return []


@pytest.mark.slow
def test_ledgers(draw, mixed, tmp_path):
    """The record of a farm with spoilt bytes, or a spoilt entry in a sound file."""
    book = tmp_path / "demo"
    shutil.copytree(mixed, book)
    copy = book / RECORD
    whole = copy.read_bytes()

    @given(
        damages, st.one_of(st.none(), st.tuples(st.sampled_from(["kind", "number", "made_on", "body", "count"]), texts))
    )
    def rule(changes, entry):
        copy.write_bytes(whole if entry else damaged(whole, changes))
        if entry:
            with contextlib.closing(sqlite3.connect(copy)) as base, contextlib.suppress(sqlite3.Error, UnicodeError):
                base.execute(f"UPDATE entries SET {entry[0]} = ? WHERE id = 1", (entry[1],))
                base.commit()
        before, entries = copy.read_bytes(), readable(copy)
        command("trace", book)
        assert copy.read_bytes() == before
        command("actual", book)  # enters what was delivered, where it can
        assert readable(copy)[: len(entries)] == entries
        for other in book.glob(f"{RECORD}-*"):
            other.unlink()

    draw(rule, 6)
