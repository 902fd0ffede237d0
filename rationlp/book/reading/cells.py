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
from rationlp.book.words import COLUMN_WORDS, EXPLAINS, PASSED_OVER, SHEET_WORDS, words
from rationlp.errors import Problem, column_letter
from rationlp.finder import Finder, Name, plain

SAME_HEADINGS = 0.6
"""A sheet under another name is taken for the one that has this part of its headings (0 to 1)."""
SHEET_FINDER = Finder(Name(name, words(SHEET_WORDS.get(name, ""))) for name in SHEETS)

Fault = Literal["", "uncalculated", "error value"]


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in a cell: str, int, float, bool, datetime, date or None, and what is odd about it."""

    value: object
    address: str
    percent: bool = False  # the cell shows its number in percent: 0.14 is seen as 14 %
    fault: Fault = ""


@dataclass(frozen=True, slots=True)
class Grid:
    """A sheet as the file has it: rows of cells, each row with its number.

    In CSV all is text; `decimal_comma` says that numbers are written 12,5.
    """

    name: str
    rows: Iterable[tuple[int, list[Cell]]]
    decimal_comma: bool = False


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
    near = same or next(iter(SHEET_FINDER.near(grid.name)), "")
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
    header = next(_filled(grid.rows), None)
    headings = {plain(cell.value) for cell in header[1] if cell.value is not None} if header else set()
    shared = {name: len(headings & {column.name for column in sheet.columns}) for name, sheet in SHEETS.items()}
    most = max(shared.values())
    best = [name for name, count in shared.items() if count == most]
    return best[0] if len(best) == 1 and most >= 2 and most >= SAME_HEADINGS * len(headings) else ""


def _arrange_sheet(grid: Grid, sheet: Sheet, problems: list[Problem]) -> RawSheet:
    raw = RawSheet(sheet, decimal_comma=grid.decimal_comma)
    filled = _filled(grid.rows)
    header = next(filled, None)
    names = _header(header[1], sheet, problems) if header else {}
    raw.letters = {name: column_letter(index) for index, name in names.items() if name}
    strays: set[int] = set()
    for number, cells in filled:
        if _explains(cells):
            problems.extend(_written_among_explanations(sheet, cells))
            continue
        kept = {}
        for index, cell in enumerate(cells):
            if cell.value is None and not cell.fault:
                continue
            if index in names:
                if names[index]:
                    kept[names[index]] = cell
            elif index not in strays:
                strays.add(index)
                problems.append(_stray(sheet, cell))
        if kept:
            raw.rows.append(RawRow(number, kept))
    return raw


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


def _header(cells: list[Cell], sheet: Sheet, problems: list[Problem]) -> dict[int, str]:
    """Column names by position; an empty name marks a column that is passed over."""
    known = [column.name for column in sheet.columns]
    given = {plain(cell.value) for cell in cells if cell.value is not None}
    names: dict[int, str] = {}
    for index, cell in enumerate(cells):
        if cell.value is None:
            continue
        name = plain(cell.value)
        if name in known and name in names.values():
            first = column_letter(next(i for i, other in names.items() if other == name))
            expected = f"one column {name} (the first is in {first})"
            do = "Delete one of the two."
            problems.append(Problem("error", sheet.name, cell.address, f"a second column named {name}", expected, do))
            name = ""
        elif name not in known:
            finder = Finder(Name(column, words(COLUMN_WORDS.get(column, ""))) for column in known)
            near = next(iter(finder.near(name)), "")
            found = f"a column named {str(cell.value).strip()!r}"
            do = finder.suggestion(name, "Delete the column, or move its text to a note.")
            problems.append(Problem("error", sheet.name, cell.address, found, f"one of {', '.join(known)}", do))
            name = "" if near in given or near in names.values() else near
        names[index] = name
    return names
