"""Cells of a book before they mean anything: the same form for a workbook and for a folder of CSV files.

Reading a file gives a grid of cells per sheet; `arrange` finds the header row, matches the names of sheets and columns
and puts everything that does not fit on the list of problems.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Literal

from rationlp.book.column import Sheet
from rationlp.book.columns import LISTS_SHEET, SHEETS
from rationlp.errors import Problem, column_letter

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

    In CSV all is text; `text_numbers` says that a number may be text, `decimal_comma` that it is written 12,5.
    """

    name: str
    rows: Iterable[tuple[int, list[Cell]]]
    text_numbers: bool = False
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
    text_numbers: bool = False
    decimal_comma: bool = False


def plain(name: object) -> str:
    """A name as it is compared: no spaces around, lower case, `_` for spaces and hyphens inside."""
    return "_".join(str(name).replace("\xa0", " ").replace("-", " ").split()).casefold()


def nearest(name: str, known: Iterable[str], alike: float = 0.6) -> str:
    """The known name most like `name`, or empty; `alike` (0 to 1) is how much it must be."""
    return next(iter(get_close_matches(name, list(known), n=1, cutoff=alike)), "")


def suggestion(near: str, otherwise: str) -> str:
    """`Did you mean ...?`, or what else to do."""
    return f"Did you mean {near}?" if near else otherwise


def arrange(grids: Iterable[Grid], problems: list[Problem]) -> dict[str, RawSheet]:
    """Name the sheets and columns. A misspelt sheet or column is reported and read on under the name meant."""
    found: dict[str, RawSheet] = {}
    grids = [grid for grid in grids if plain(grid.name) != LISTS_SHEET]
    present = {plain(grid.name) for grid in grids}
    for grid in grids:
        name = plain(grid.name)
        if name not in SHEETS:
            name = _unknown_sheet(grid.name, present, problems)
        elif name in found:
            problems.append(
                Problem(
                    "error",
                    grid.name,
                    "",
                    f"a second sheet named {name}",
                    "one sheet of each name",
                    "Move its rows to the other one and delete it.",
                )
            )
            continue
        if name and name not in found:
            found[name] = _arrange_sheet(grid, SHEETS[name], problems)
    return {name: found[name] for name in SHEETS if name in found}


def _unknown_sheet(name: str, present: set[str], problems: list[Problem]) -> str:
    near = nearest(plain(name), SHEETS)
    problems.append(
        Problem(
            "error",
            name,
            "",
            f"a sheet named {name!r}",
            f"one of {', '.join(SHEETS)}",
            suggestion(near, "Delete the sheet, or keep it in another file."),
        )
    )
    return "" if near in present else near


def _arrange_sheet(grid: Grid, sheet: Sheet, problems: list[Problem]) -> RawSheet:
    raw = RawSheet(sheet, text_numbers=grid.text_numbers, decimal_comma=grid.decimal_comma)
    filled = _filled(grid.rows)
    header = next(filled, None)
    names = _header(header[1], sheet, problems) if header else {}
    raw.letters = {name: column_letter(index) for index, name in names.items() if name}
    strays: set[int] = set()
    for number, cells in filled:
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
            near = nearest(name, known)
            found = f"a column named {str(cell.value).strip()!r}"
            do = suggestion(near, "Delete the column, or move its text to a note.")
            problems.append(Problem("error", sheet.name, cell.address, found, f"one of {', '.join(known)}", do))
            name = "" if near in given or near in names.values() else near
        names[index] = name
    return names
