"""Cells of a book before they mean anything: the same form for a workbook and for a folder of CSV files.

Reading a file gives a grid of cells per sheet; `arrange` finds the header row, matches the names of sheets and columns
and puts everything that does not fit on the list of problems.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Literal

from rationlp.book.column import Sheet
from rationlp.book.columns import SHEETS
from rationlp.book.reading.typed.headings import Heading, all_headings, heading, headings_of, no_name
from rationlp.book.words import COLUMN_WORDS, EXPLAINS, PASSED_OVER, SHEET_WORDS, TOTALS, words
from rationlp.errors import Problem, column_letter
from rationlp.finder import Finder, Name, plain

SAME_HEADINGS = 0.6
"""A sheet under another name is taken for the one that has this part of its headings (0 to 1)."""
SHEET_FINDER = Finder(Name(name, words(SHEET_WORDS.get(name, ""))) for name in SHEETS)

HEADINGS_WITHIN = 10
"""So many filled rows are looked at for the headings; what stands above them is a title."""
WORDS_OF_A_NOTE = 4
"""A text of so many words alone in its row is a note, no name."""

Fault = Literal["", "uncalculated", "error value"]


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in a cell: str, int, float, bool, datetime, date or None, and what is odd about it."""

    value: object
    address: str
    percent: bool = False  # the cell shows its number in percent: 0.14 is seen as 14 %
    fault: Fault = ""
    unit: str = ""  # what its format or its heading writes beside the number


@dataclass(frozen=True, slots=True)
class Grid:
    """A sheet as the file has it: rows of cells, each row with its number.

    In CSV all is text; `decimal_comma` says that numbers are written 12,5.
    """

    name: str
    rows: Iterable[tuple[int, list[Cell]]]
    decimal_comma: bool = False
    crossed_out: tuple[int, ...] = ()  # rows with cells whose text is struck through


@dataclass(frozen=True, slots=True)
class RawRow:
    """A row under the header, by column name; blank cells are left out."""

    number: int
    cells: dict[str, Cell]


@dataclass(slots=True)
class RawSheet:
    """A sheet with its columns named."""

    sheet: Sheet
    letters: dict[str, str] = field(default_factory=dict)
    rows: list[RawRow] = field(default_factory=list)
    decimal_comma: bool = False


def arrange(grids: Iterable[Grid], problems: list[Problem]) -> dict[str, RawSheet]:
    """Name the sheets and columns. A misspelt sheet or column is reported and read on under the name meant."""
    found: dict[str, RawSheet] = {}
    grids = [replace(grid, rows=list(grid.rows)) for grid in grids if plain(grid.name) not in PASSED_OVER]
    grids = [grid for grid in grids if plain(grid.name) in SHEETS or any(_filled(grid.rows))]
    present = {plain(grid.name) for grid in grids} & set(SHEETS)
    for grid in grids:
        name = plain(grid.name)
        if name not in SHEETS:
            name = _unknown_sheet(grid, present | set(found), problems)
        elif name in found:
            expected, do = "one sheet of each name", "Move its rows to the other one and delete it."
            problems.append(Problem("error", grid.name, "", f"a second sheet named {name}", expected, do))
            continue
        if name and name not in found:
            found[name] = _arrange_sheet(grid, SHEETS[name], problems)
    return {name: found[name] for name in SHEETS if name in found}


def _unknown_sheet(grid: Grid, present: set[str], problems: list[Problem]) -> str:
    """The sheet that an unknown one is read as: by its headings, else by its name; empty if it is none or is there."""
    same = _same_headings(grid)
    near = same or ("" if no_name(grid.name) else next(iter(SHEET_FINDER.near(grid.name)), ""))
    if near and near in present:
        do = f"Perhaps its rows belong to {near}, which is there too: move them, or keep the sheet in another file."
    elif same:
        do = f"It looks like {same} (the same headings): rename it to {same}."
    elif near:
        do = f"Did you mean {near}? Then rename it."
    else:
        do = "Delete the sheet, or keep it in another file."
    problems.append(Problem("error", grid.name, "", f"a sheet named {grid.name!r}", f"one of {', '.join(SHEETS)}", do))
    return "" if near in present else near


def _same_headings(grid: Grid) -> str:
    """The sheet whose headings these are, where only one has most of them."""
    first = [cells for _, cells in _filled(grid.rows)][:HEADINGS_WITHIN]
    shared = {name: max((headings_of(cells, sheet) for cells in first), default=0) for name, sheet in SHEETS.items()}
    most = max(shared.values())
    best = [name for name, count in shared.items() if count == most]
    header = next((cells for cells in first if headings_of(cells, SHEETS[best[0]]) == most), [])
    named = sum(cell.value is not None for cell in header)
    return best[0] if len(best) == 1 and most >= 2 and most >= SAME_HEADINGS * named else ""


def _arrange_sheet(grid: Grid, sheet: Sheet, problems: list[Problem]) -> RawSheet:
    raw = RawSheet(sheet, decimal_comma=grid.decimal_comma)
    filled = list(_filled(grid.rows))
    at = _header_row(filled, sheet)
    problems.extend(_above_headings(sheet, filled[:at]))
    names = _header(filled[at][1], sheet, problems) if filled else {}
    raw.letters = {head.name: column_letter(index) for index, head in names.items() if head.name}
    strays: set[int] = set()
    for number, cells in filled[at + 1 :]:
        if _explains(cells):
            problems.extend(_written_among_explanations(sheet, cells))
            continue
        other = _other_headings(cells, names)
        if other is not None:
            problems.extend(_second_table(sheet, cells, other))
            if other:
                break
            continue
        if (odd := _no_row(sheet, cells, names)) is not None:
            problems.append(odd)
            continue
        kept = {}
        for index, cell in enumerate(cells):
            if cell.value is None and not cell.fault:
                continue
            if index in names:
                if names[index].name:
                    kept[names[index].name] = replace(cell, unit=cell.unit or names[index].unit)
            elif index not in strays:
                strays.add(index)
                problems.append(_stray(sheet, cell))
        if kept:
            raw.rows.append(RawRow(number, kept))
    return raw


def _header_row(filled: list[tuple[int, list[Cell]]], sheet: Sheet) -> int:
    """Which of the rows has the headings: the first, or below a title the one that has most of them."""
    counts = [headings_of(cells, sheet) for _, cells in filled[:HEADINGS_WITHIN]]
    most = max(counts, default=0)
    return counts.index(most) if most >= 2 and counts[0] < 2 else 0


def _above_headings(sheet: Sheet, rows: list[tuple[int, list[Cell]]]) -> list[Problem]:
    written = [cell for _, cells in rows for cell in cells if cell.value is not None]
    if not written:
        return []
    found, do = f"{str(written[0].value)!r} above the headings, which is not read", "Leave it if it is a title."
    return [Problem("warning", sheet.name, written[0].address, found, "the headings in the first row", do)]


def _other_headings(cells: list[Cell], names: dict[int, Heading]) -> str | None:
    """The sheet whose headings a row under the first ones has; empty where they are the same ones again."""
    used = [(index, cell) for index, cell in enumerate(cells) if cell.value is not None]
    if len(used) < 2 or not all(isinstance(cell.value, str) for _, cell in used):
        return None
    if all(index in names and plain(cell.value) == names[index].name for index, cell in used):
        return ""
    return next((name for name, sheet in SHEETS.items() if all_headings((cell.value for _, cell in used), sheet)), None)


def _second_table(sheet: Sheet, cells: list[Cell], other: str) -> list[Problem]:
    if not other:
        return []  # the same headings again, as at the top of a page
    address = next(cell.address for cell in cells if cell.value is not None)
    found = f"headings of the sheet {other} in the middle of {sheet.name}; what stands below them is not read"
    do = f"Move them and the rows below to the sheet {other}."
    return [Problem("error", sheet.name, address, found, "one table on each sheet", do)]


def _no_row(sheet: Sheet, cells: list[Cell], names: dict[int, Heading]) -> Problem | None:
    """A line of sums, which is passed over, or a note under the table."""
    used = [(index, cell) for index, cell in enumerate(cells) if cell.value is not None or cell.fault]
    first = used[0][1]
    if not isinstance(first.value, str):
        return None
    if plain(first.value).rstrip(":") in TOTALS and sheet.name != "farm" and len(used) > 1:
        found, do = f"a line of sums ({first.value!r}), which is not read", "Leave it, or delete it."
        return Problem("warning", sheet.name, first.address, found, "a row for " + sheet.one_row_is, do)
    at = names.get(used[0][0])
    if len(used) == 1 and (at is None or at.name != "note") and len(first.value.split()) >= WORDS_OF_A_NOTE:
        do = "Move it to a note, above the headings or to another file."
        return Problem(
            "error", sheet.name, first.address, f"{first.value!r} alone in its row", "a row of the table", do
        )
    return None


def _explains(cells: list[Cell]) -> bool:
    """Whether a row says what belongs into the columns, as the one under the headings of a new book does."""
    return any(isinstance(cell.value, str) and cell.value.startswith(EXPLAINS) for cell in cells)


def _written_among_explanations(sheet: Sheet, cells: list[Cell]) -> list[Problem]:
    found, do = "in the row of explanations", "Move it to the next row, or delete the row of explanations whole."
    return [
        Problem("error", sheet.name, cell.address, f"{cell.value!r} {found}", "explanations alone in that row", do)
        for cell in cells
        if cell.value is not None and not (isinstance(cell.value, str) and cell.value.startswith(EXPLAINS))
    ]


def _filled(rows: Iterable[tuple[int, list[Cell]]]) -> Iterator[tuple[int, list[Cell]]]:
    for number, cells in rows:
        if any(cell.value is not None or cell.fault for cell in cells):
            yield number, cells


def _stray(sheet: Sheet, cell: Cell) -> Problem:
    return Problem(
        "error",
        sheet.name,
        cell.address,
        f"{cell.value!r} in a column without a name",
        f"a name in the header row, one of {', '.join(column.name for column in sheet.columns)}",
        "Name the column, or delete what stands in it.",
    )


def _header(cells: list[Cell], sheet: Sheet, problems: list[Problem]) -> dict[int, Heading]:
    """Columns by position; an empty name marks a column that is passed over."""
    known = [column.name for column in sheet.columns]
    given = {heading(cell.value, sheet).name for cell in cells if cell.value is not None}
    names: dict[int, Heading] = {}
    for index, cell in enumerate(cells):
        if cell.value is None:
            continue
        name, unit = heading(cell.value, sheet)
        taken = [other.name for other in names.values()]
        if name in known and name in taken:
            first = column_letter(next(i for i, other in names.items() if other.name == name))
            expected = f"one column {name} (the first is in {first})"
            do = "Delete one of the two."
            problems.append(Problem("error", sheet.name, cell.address, f"a second column named {name}", expected, do))
            name = ""
        elif name not in known:
            finder = Finder(Name(column, words(COLUMN_WORDS.get(column, ""))) for column in known)
            near = next(iter(finder.near(name)), "")
            found = f"a column named {str(cell.value).strip()!r}"
            do = finder.suggestion(name, "Delete the column, or move its text to a note.")
            expected = f"a column of the sheet {sheet.name}" if near else f"one of {', '.join(known)}"
            problems.append(Problem("error", sheet.name, cell.address, found, expected, do))
            name = "" if near in given or near in taken else near
        names[index] = Heading(name, unit)
    return names
