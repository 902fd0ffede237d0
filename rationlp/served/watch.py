"""Sees when the book was saved: whole, and standing still."""

from __future__ import annotations

import os
import zipfile
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path

from rationlp.files import record_of

STILL = 2
"""Looks in a row that must see the same before it counts."""
PATIENCE = 25
"""Looks at a book that is gone or half there, as in the middle of saving, before that is told."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """A book as the folder shows it: a page of one stamp stays true as long as the stamp does.

    The record is in it, since the page tells what was mixed, and the day, since the page tells what is left today.
    """

    files: tuple[tuple[str, int, int, int], ...]
    record: tuple[tuple[str, int, int, int], ...]
    day: date

    @property
    def saved(self) -> datetime | None:
        """When the newest file of the book was written; None where there is no book."""
        times = [time for _, time, _, _ in self.files]
        return datetime.fromtimestamp(max(times) / 1e9) if times else None


def stamp_of(book: Path) -> Stamp:
    """How the book stands in its folder now, without reading it."""
    files = [book]
    if book.is_dir():
        files = sorted(file for file in _in(book) if file.suffix.casefold() == ".csv" and not file.name.startswith("."))
    return Stamp(_seen(files), _seen([record_of(book)]), date.today())


def _in(folder: Path) -> list[Path]:
    try:
        return list(folder.iterdir())
    except OSError:
        return []  # it went away meanwhile


def _seen(files: list[Path]) -> tuple[tuple[str, int, int, int], ...]:
    found = []
    for file in files:
        try:
            stat = file.stat()
        except OSError:
            continue
        found.append((file.name, stat.st_mtime_ns, stat.st_size, stat.st_ino))
    return tuple(found)


def is_whole(book: Path) -> bool:
    """Whether the book can be read now. A workbook still being written lacks the list of its parts at the end."""
    try:
        if book.is_dir():
            return os.access(book, os.R_OK)
        return zipfile.is_zipfile(book)
    except OSError:
        return False  # locked by the program that writes it


class Seen(StrEnum):
    """What a look at the book says."""

    SAME = "same"  # as it was worked on
    MOVING = "moving"  # being saved, or just saved
    READY = "ready"  # stands still in a new form


class Watch:
    """Told at each look how the book stands; says when it stands still in a form that was not worked on yet."""

    def __init__(self) -> None:
        self.done: Stamp | None = None
        self._last: Stamp | None = None
        self._looks = 0

    def look(self, stamp: Stamp, whole: bool) -> Seen:
        """What to make of the book as it stands now."""
        self._looks = self._looks + 1 if stamp == self._last else 1
        self._last = stamp
        if stamp == self.done:
            return Seen.SAME
        return Seen.READY if self._looks >= (STILL if whole else PATIENCE) else Seen.MOVING
