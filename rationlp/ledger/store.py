"""The farm's record: one SQLite file beside the book, to which entries are only ever added.

Every entry is a small JSON document with its checksum: one that is damaged is told and left out, and harms no other.
An entry counts from the moment `Record.add` comes back, whatever happens to the machine after that.
"""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

from rationlp.errors import InputError, Problem

WAIT = 60  # seconds for another program that writes; no result hangs on it
FORM = 1
"""Of the tables; a later form gets a later number."""
TABLES = """
CREATE TABLE IF NOT EXISTS entries (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    kind TEXT NOT NULL,
    number INTEGER NOT NULL,
    count INTEGER NOT NULL,
    made_on TEXT NOT NULL,
    entered TEXT NOT NULL,
    body TEXT NOT NULL,
    checksum INTEGER NOT NULL
);
CREATE INDEX IF NOT EXISTS by_kind ON entries (kind, made_on);
CREATE INDEX IF NOT EXISTS by_number ON entries (number);
"""
COLUMNS = ("id", "kind", "number", "count", "made_on", "entered", "body", "checksum")


class EntryKind(StrEnum):
    """What an entry tells of."""

    NUMBERS = "numbers"  # given to batches at printing
    PRINTED = "printed"  # a mix on a sheet
    BATCH = "batch"  # a batch that was made, with its judgement
    WITHDRAWN = "withdrawn"  # a batch under a number that was not its own
    SIGNED = "signed"  # a ration a nutritionist approved
    MOVED = "moved"  # all that was delivered, counted, thrown away, sold, as it was known that day
    TAKEN_OVER = "taken_over"  # from the folder of an earlier version


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry. `number` is that of the batch, or the first of `count` numbers; 0 where none is meant."""

    kind: EntryKind
    body: Mapping[str, Any]
    number: int = 0
    count: int = 0
    made_on: date | None = None
    entered: str = ""
    id: int = 0


class Record:
    """The record at `path`, made at the first entry. Raises InputError where it cannot be read or written."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.damaged: tuple[Problem, ...] = ()

    def add(self, entries: Iterable[Entry]) -> None:
        """Add entries: all of them or, where that fails, none. Without any the file stays as it is, there or not."""
        entries = list(entries)
        if not entries:
            return
        with self._writing() as base:
            for entry in entries:
                _insert(base, entry)

    def give_numbers(self, count: int, after: int = 0) -> int:
        """The first of `count` batch numbers that were never given before, all above `after`."""
        with self._writing() as base:
            given = base.execute("SELECT max(number + max(count, 1)) FROM entries WHERE number > 0").fetchone()[0]
            first = max(given or 1, after + 1)
            _insert(base, Entry(EntryKind.NUMBERS, {}, first, count))
        return first

    def entries(
        self, kind: EntryKind, naming: Sequence[str] = (), number: int = 0, days: tuple[date, date] | None = None
    ) -> list[Entry]:
        """The entries of a kind in the order they were entered: those that speak of one of the names, of a batch, of
        the days from one to another (and those without a day).

        What is damaged is left out; `damaged` then says so.
        """
        if not self.path.exists():
            return []
        words, values = "kind = ?", [kind.value]
        if naming:
            words += f" AND ({' OR '.join(['instr(body, ?)'] * len(naming))})"
            values += [json.dumps(name, ensure_ascii=False) for name in naming]
        if number:
            words, values = f"{words} AND number = ?", [*values, str(number)]
        if days:
            words += " AND (made_on = '' OR made_on BETWEEN ? AND ?)"
            values += [day.isoformat() for day in days]
        good, damaged = [], list[Problem]()
        for row in self._rows(words, values):
            try:
                good.append(_entry(row))
            except (ValueError, TypeError) as error:
                damaged.append(_damage(self.path, str(row[0]), error))
        self.damaged = tuple(dict.fromkeys((*self.damaged, *damaged)))
        return good

    def last_day(self, kind: EntryKind, until: date) -> date | None:
        """The last day up to `until` of an entry of a kind; None where there is none with a day."""
        if not self.path.exists():
            return None
        try:
            with closing(self._open()) as base:
                ask = "SELECT max(made_on) FROM entries WHERE kind = ? AND made_on <= ?"
                day = base.execute(ask, (kind.value, until.isoformat())).fetchone()[0]
        except sqlite3.Error as error:
            raise self._refused(error) from None
        return date.fromisoformat(day) if day else None

    def rows(self) -> list[tuple[Any, ...]]:
        """Every entry as it is written, for an export."""
        return self._rows("1 = 1", []) if self.path.exists() else []

    def add_rows(self, rows: Iterable[Sequence[Any]]) -> int:
        """Add entries of an export that the record does not have; how many they were. Raises ValueError for a row that
        is not whole."""
        entries = [_entry(row) for row in rows]
        with self._writing() as base:
            known = set(base.execute("SELECT kind, number, made_on, entered, checksum FROM entries"))
            fresh = [entry for entry in entries if _key(entry) not in known]
            for entry in fresh:
                _insert(base, entry)
        return len(fresh)

    def _rows(self, words: str, values: Sequence[str]) -> list[tuple[Any, ...]]:
        ask = f"SELECT {', '.join(COLUMNS)} FROM entries"
        try:
            with closing(self._open()) as base:
                try:
                    return base.execute(f"{ask} WHERE {words} ORDER BY id", values).fetchall()
                except sqlite3.DatabaseError:  # a damaged page: what can be read one by one is read
                    return list(_one_by_one(base, f"{ask} WHERE {words} AND id = ?", values))
        except sqlite3.Error as error:
            raise self._refused(error) from None

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """A transaction that is whole on the disk when the block ends, or has not happened."""
        try:
            with closing(self._open()) as base:
                base.execute("PRAGMA synchronous = EXTRA")
                base.execute("BEGIN IMMEDIATE")
                for table in TABLES.split(";"):
                    base.execute(table)
                base.execute(f"PRAGMA user_version = {FORM}")
                yield base  # closed without a COMMIT, it has not happened
                base.execute("COMMIT")
        except sqlite3.Error as error:
            raise self._refused(error) from None

    def _open(self) -> sqlite3.Connection:
        base = sqlite3.connect(self.path, timeout=WAIT, isolation_level=None)
        try:
            if base.execute("PRAGMA user_version").fetchone()[0] > FORM:
                raise sqlite3.DatabaseError("written by a later version of the program")
        except sqlite3.Error:
            base.close()
            raise
        return base

    def _refused(self, error: sqlite3.Error) -> InputError:
        return InputError(
            [
                Problem(
                    "error",
                    self.path.name,
                    "",
                    f"the farm's record, which cannot be used ({error})",
                    "a file that can be read and written",
                    "Free some room or make it writable; if it is damaged, move it away and rebuild it from its last "
                    "export (`rationlp trace BOOK --rebuild DIR`). What was entered before is in it still.",
                )
            ]
        )


def _insert(base: sqlite3.Connection, entry: Entry) -> None:
    body = json.dumps(entry.body, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    day = entry.made_on.isoformat() if entry.made_on else ""
    entered = entry.entered or datetime.now().isoformat(timespec="seconds")
    base.execute(
        "INSERT INTO entries (kind, number, count, made_on, entered, body, checksum) VALUES (?, ?, ?, ?, ?, ?, ?)",
        (entry.kind.value, entry.number, entry.count, day, entered, body, zlib.crc32(body.encode())),
    )


def _key(entry: Entry) -> tuple[str, int, str, str, int]:
    body = json.dumps(entry.body, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    day = entry.made_on.isoformat() if entry.made_on else ""
    return entry.kind.value, entry.number, day, entry.entered, zlib.crc32(body.encode())


def _entry(row: Sequence[Any]) -> Entry:
    """An entry as it was written. Raises ValueError where a character of it is another."""
    id_, kind, number, count, day, entered, body, checksum = row
    if zlib.crc32(str(body).encode()) != int(checksum):
        raise ValueError("it is not as it was written")
    made_on = date.fromisoformat(day) if day else None
    return Entry(EntryKind(kind), json.loads(body), int(number), int(count), made_on, str(entered), int(id_))


def _one_by_one(base: sqlite3.Connection, ask: str, values: Sequence[str]) -> Iterator[tuple[Any, ...]]:
    last = base.execute("SELECT seq FROM sqlite_sequence WHERE name = 'entries'").fetchone()
    for id_ in range(1, (last[0] if last else 0) + 1):
        try:
            row = base.execute(ask, (*values, id_)).fetchone()
        except sqlite3.DatabaseError:
            continue
        if row:
            yield row


def _damage(path: Path, entry: str, error: Exception) -> Problem:
    return Problem(
        "warning",
        path.name,
        f"entry {entry}",
        f"an entry that is damaged ({error})",
        "an entry as it was written",
        "It is left out, all others count. Enter that batch again, or rebuild from an export.",
    )
