"""Figures with their unit beside them: `14.9 %`, or a number under the heading `value (ppm)`."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from rationlp.book.column import FIGURES, UNIT
from rationlp.book.reading.cells import Cell
from rationlp.book.reading.notation import CellFault
from rationlp.book.reading.unit_words import composition_unit, is_figure_unit

_FIGURE = re.compile(
    r"(?P<number>[-+]?[\d.,]+)\s*(?P<unit>%|[a-z\u00b5\u03bc][a-z\u00b5\u03bc ]*/?[a-z ]*)", re.IGNORECASE
)
_BELOW_DETECTION = re.compile(
    r"(?:<|less than|under|nd|n\.d\.?|not detected|none|nil|trace|traces|bdl|lod)\b.*|<.*", re.IGNORECASE
)
_ABOVE_RANGE = re.compile(r"(?:>|\u2265|more than|over|above)\s*\d.*", re.IGNORECASE)


def no_number(text: str) -> str:
    """What to do where a laboratory gives no number but the end of its range, `< 0.5` or `> 10`; empty otherwise."""
    if _BELOW_DETECTION.fullmatch(text):
        return "Write the limit of detection itself, the cautious reading, or delete the row."
    if _ABOVE_RANGE.fullmatch(text):
        return "There may be far more: have it analysed again with a wider range; until then put the bin on hold."
    return ""


@dataclass(frozen=True, slots=True)
class FigureCells:
    """The cells of a row with every unit in the column `unit`, and what is wrong with those that say another one."""

    cells: Mapping[str, Cell]
    with_unit: frozenset[str] = frozenset()  # columns whose own cell says the unit
    faults: Mapping[str, CellFault] = field(default_factory=dict)


def units_apart(cells: Mapping[str, Cell]) -> FigureCells:
    """The row's figures and their unit; a fault at each one that says another unit than its row."""
    found = {name: told for name in FIGURES if name in cells and (told := _number_and_unit(cells[name]))}
    stated = cells.get(UNIT)
    units = {composition_unit(unit) for _, unit in found.values()}
    if not units:
        return FigureCells(cells)
    row_unit = str(stated.value) if stated is not None else next(unit for _, unit in found.values())
    faults = {
        name: CellFault(
            f"{number} {unit} in a row whose unit is {row_unit}",
            "one unit",
            "Write the number alone, and in the column unit the unit that the laboratory's sheet or the label has.",
        )
        for name, (number, unit) in found.items()
        if composition_unit(unit) != composition_unit(row_unit)
    }
    first = next(iter(found))
    numbers = {name: replace(cells[name], value=number, unit="") for name, (number, _) in found.items()}
    apart = {**cells, UNIT: stated or Cell(row_unit, cells[first].address), **numbers}
    in_cell = frozenset(name for name in found if found[name][0] != cells[name].value)
    return FigureCells(apart, in_cell, faults)


def _number_and_unit(cell: Cell) -> tuple[object, str] | None:
    """The number of a cell and the unit that it, its format or its heading says; None where none does."""
    match = _FIGURE.fullmatch(cell.value.strip()) if isinstance(cell.value, str) else None
    if match:
        return match["number"], match["unit"].strip()
    return (cell.value, cell.unit) if is_figure_unit(cell.unit) else None
