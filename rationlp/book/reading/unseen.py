"""What a workbook holds and does not show as it is read: hidden sheets, rows and columns, merged cells."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterable, Iterator
from typing import Any

from rationlp.book.reading.cells import Grid
from rationlp.book.words import PASSED_OVER
from rationlp.errors import Problem, column_letter
from rationlp.finder import plain
from rationlp.incoming import MOST_ROWS, UnfitError

_ROW = re.compile(rb"<row\b[^>]*\br=\"(\d+)\"")
_HIDDEN_ROW = re.compile(rb"<(?:\w+:)?row\b(?=[^>]*\bhidden=\"(?:1|true)\")[^>]*\br=\"(\d+)\"")
_HIDDEN_COLUMNS = re.compile(rb"<(?:\w+:)?col\b(?=[^>]*\bhidden=\"(?:1|true)\")[^>]*>")
_MERGED = re.compile(rb"<(?:\w+:)?mergeCell\b[^>]*\bref=\"([A-Z]+)(\d+):([A-Z]+)(\d+)\"")
UNHIDE = "Show what is hidden, and delete what should not count."
"""What to do about what is read though nobody sees it, or it is crossed out."""


def text_of(sheet: Any, parts: zipfile.ZipFile) -> bytes:
    """The XML of a sheet of a workbook, whose parts these are."""
    return parts.read(sheet._worksheet_path.lstrip("/"))


def last_filled_row(text: bytes) -> int | None:
    """The row behind which a sheet holds nothing but formats; None where its XML does not say.

    A format dragged down a column makes thousands of rows, which take their time to walk through.
    """
    last = max(text.rfind(mark) for mark in (b"<v>", b"<v ", b"<is>", b"<is ", b"<f>", b"<f "))
    if last < 0:
        return 1 if b"<row " in text else None
    row = _ROW.match(text, max(text.rfind(b"<row ", 0, last), 0))
    return int(row[1]) if row else None


def filled_rows(sheet: Any, text: bytes, values_only: bool = False) -> Iterator[tuple[int, tuple[Any, ...]]]:
    """The rows of a sheet with their numbers, no farther than the last with anything in it.

    What a workbook keeps behind the rows (lists to choose from, colours) takes as long to read as they do. Raises
    UnfitError for too many rows, empty ones too, before any is read.
    """
    sheet.reset_dimensions()  # the stated size of a sheet is often wrong
    last = last_filled_row(text)
    most = max(text.count(b"<row "), last or 0)
    for number, cells in enumerate(sheet.iter_rows(max_row=last, values_only=values_only), start=1):
        if max(number, most) > MOST_ROWS:
            raise UnfitError(f"a sheet {sheet.title!r} of more than {MOST_ROWS:,} rows")
        yield number, cells
        if number == last:
            return


def unseen_in(sheet: Any, grid: Grid, text: bytes) -> list[Problem]:
    """Warnings of what is read although nobody sees it, errors of cells merged over several rows.

    `sheet` is the sheet, read for its values alone, `grid` its cells and `text` its XML.
    """
    if plain(grid.name) in PASSED_OVER:
        return []
    rows = [(number, [at for at, cell in enumerate(cells) if cell.value is not None]) for number, cells in grid.rows]
    filled = {number for number, used in rows if used}
    columns = {at for _, used in rows for at in used}
    problems = []
    if sheet.sheet_state != "visible" and filled:
        problems.append(_hidden(grid.name, "a hidden sheet"))
    hidden = sorted({int(number) for number in _HIDDEN_ROW.findall(text)} & filled)
    if hidden:
        problems.append(_hidden(grid.name, f"hidden rows ({_ranges(hidden)})"))
    if grid.crossed_out:
        problems.append(_hidden(grid.name, f"rows with text crossed out ({_ranges(list(grid.crossed_out))})"))
    unseen = [column_letter(at) for at in _hidden_columns(text) if at in columns]
    if unseen:
        problems.append(_hidden(grid.name, f"hidden columns ({', '.join(unseen)})"))
    first = min(filled, default=0)
    for left, top, right, bottom in _MERGED.findall(text):
        if int(bottom) > int(top) >= first and int(bottom) > first and int(top) in filled:
            cells = f"{left.decode()}{top.decode()}:{right.decode()}{bottom.decode()}"
            found, expected = f"merged cells {cells}, of which only the first is read", "a value in each row"
            do = "Take the cells apart and fill in each row."
            address = f"{left.decode()}{top.decode()}"
            problems.append(Problem("error", grid.name, address, found, expected, do))
    return problems


def _hidden(sheet: str, what: str) -> Problem:
    return Problem("warning", sheet, "", f"{what}, read all the same", "a book that shows all it says", UNHIDE)


def _hidden_columns(text: bytes) -> Iterable[int]:
    for tag in _HIDDEN_COLUMNS.findall(text):
        low, high = (re.search(rb"\b%s=\"(\d+)\"" % name, tag) for name in (b"min", b"max"))
        if low and high:
            yield from range(int(low[1]) - 1, min(int(high[1]), 16_384))


def _ranges(numbers: list[int]) -> str:
    """`4 to 7, 9`."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)
