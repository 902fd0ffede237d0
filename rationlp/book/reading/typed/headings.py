"""Headings as people write them: with their unit (`mass (lb)`, `Moisture %`), a star or a colon behind them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple, Protocol

from rationlp.book.column import FIGURES, UNIT, Column, Sheet
from rationlp.book.reading.typed_numbers import CURRENCY_SIGNS
from rationlp.book.reading.unit_words import density_unit, is_figure_unit, length_unit, mass_unit
from rationlp.finder import plain

_UNIT_BEHIND = (
    re.compile(r"(?P<name>.+?)\s*[(\[]\s*(?P<unit>[^()\[\]]+?)\s*[)\]]"),
    re.compile(r"(?P<name>.+?)\s*,\s*(?P<unit>[^,]+)"),
    re.compile(r"(?P<name>.+)\s+(?:in\s+)?(?P<unit>\S+)"),
)
_NO_NAME = re.compile(r"(?:sheet|table|tabelle|feuille?|hoja)[ _]*\d*", re.IGNORECASE)
"""What spreadsheet programs call a sheet that nobody named."""
_MEASURES = {"mass": mass_unit, "length": length_unit, "density": density_unit}


class Heading(NamedTuple):
    """The column a heading names, and the unit it says the numbers below are in, if any."""

    name: str
    unit: str = ""


class Written(Protocol):
    """A cell."""

    @property
    def value(self) -> object:
        """What stands in it."""


def heading(text: object, sheet: Sheet) -> Heading:
    """The column that `text` names, or the text itself as names are compared."""
    written = " ".join(str(text).replace("\xa0", " ").split()).rstrip(" *:")
    columns = {column.name: column for column in sheet.columns}
    if plain(written) in columns:
        return Heading(plain(written))
    for pattern in _UNIT_BEHIND:
        match = pattern.fullmatch(written)
        found = _with_unit(plain(match["name"].rstrip(" *:")), match["unit"].strip(), columns) if match else None
        if found:
            return found
    return Heading(plain(written))


def headings_of(cells: Iterable[Written], sheet: Sheet) -> int:
    """How many of the cells are headings of the sheet."""
    known = {column.name for column in sheet.columns}
    return len({heading(cell.value, sheet).name for cell in cells if isinstance(cell.value, str)} & known)


def all_headings(texts: Iterable[object], sheet: Sheet) -> bool:
    """Whether each of the texts is a heading of the sheet, and another one."""
    left = {column.name for column in sheet.columns}
    for text in texts:
        name = heading(text, sheet).name
        if name not in left:
            return False  # as most rows at their first cell
        left.remove(name)
    return True


def no_name(sheet: str) -> bool:
    """Whether a sheet is called as spreadsheet programs call new ones."""
    return _NO_NAME.fullmatch(sheet.strip()) is not None


def _with_unit(name: str, unit: str, columns: dict[str, Column]) -> Heading | None:
    """The heading of a known column whose unit stands behind its name."""
    if name in FIGURES and {name, UNIT} <= columns.keys():
        return Heading(name, unit) if is_figure_unit(unit) else None
    if unit.casefold() in ("%", "pct", "percent"):
        column = columns.get(name) or columns.get(f"{name}_pct")
        return Heading(column.name) if column and column.kind == "percent" else None
    column = columns.get(name)
    if column is None:
        grams = columns.get(f"{name}_g")
        return Heading(grams.name) if grams and unit.casefold() in ("g", "grams", "gram") else None
    if column.kind == "money":
        sign = unit.partition("/")[0].strip()
        return Heading(name, unit) if sign in CURRENCY_SIGNS or re.fullmatch(r"[A-Z]{3}", sign) else None
    try:
        return Heading(name, unit) if _MEASURES[column.kind](unit) else None
    except KeyError:
        return None
