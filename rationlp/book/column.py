"""What a column and a sheet of the farm book are: how a cell is read, and how far its numbers may go."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rationlp.numbers import plain
from rationlp.units import (
    BOOK_DENSITY_UNIT,
    BOOK_LENGTH_UNIT,
    BOOK_MASS_UNIT,
    DENSITY_KG_M3,
    LENGTH_M,
    MASS_KG,
)

Kind = Literal[
    "text",
    "id",
    "mass",
    "length",
    "density",
    "percent",
    "number",
    "money",
    "date",
    "yes_no",
    "choice",
    "integer",
]
Reference = Literal["", "bins", "samples", "supplements", "lots", "feed", "crop", "stage", "nutrient", "weighed"]
"""What an id points at: names of a sheet of the book, or ids of the library and of the book's own additions."""


FIGURES, UNIT = ("value", "lab_sd", "sd", "minimum", "maximum"), "unit"
"""Columns of figures, and the one that their unit stands in."""
_MEASURES: dict[str, tuple[dict[str, str], dict[str, float]]] = {
    "mass": (BOOK_MASS_UNIT, MASS_KG),
    "length": (BOOK_LENGTH_UNIT, LENGTH_M),
    "density": (BOOK_DENSITY_UNIT, DENSITY_KG_M3),
}


def book_unit(kind: str, units: str) -> tuple[str, float]:
    """The unit in which a book of `units` writes what is of this kind, and how much of the unit of
    the records that is."""
    if kind == "percent":
        return "%", 1.0
    book, table = _MEASURES.get(kind, ({}, {}))
    unit = book.get(units, "")
    return unit, table.get(unit, 1.0)


def in_book_units(kind: str, value: float, units: str) -> str:
    """A mass, length or test weight in SI as the book writes it: `24 ft`."""
    unit, si = book_unit(kind, units)
    return f"{plain(value / si)} {unit}"


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a sheet, or a setting of the sheet `farm`.

    Bounds are in the unit the kind is kept in: percent 0 to 100, kilograms, metres, kg/m3, money, plain numbers.
    """

    name: str
    kind: Kind
    note: str
    required: bool = False
    refers_to: Reference = ""
    choices: tuple[str, ...] = ()
    at_least: float | None = None
    at_most: float | None = None
    above: float | None = None
    below: float | None = None
    if_nought: str = ""  # what to do where 0 stands and is out of bounds

    def range_words(self, per: float = 1.0) -> str:
        """The range in words, `above 0 and below 100`, or empty. `per` is how much of the reader's unit is one of the
        unit that bounds are kept in."""
        bounds = (("above", self.above), ("at least", self.at_least), ("below", self.below), ("at most", self.at_most))
        told = ((word, bound * per) for word, bound in bounds if bound is not None)
        return " and ".join(f"{word} {bound if per == 1 else float(f'{bound:.4g}'):,.10g}" for word, bound in told)

    def in_range(self, value: float) -> bool:
        """Whether a number, in the unit the kind is kept in, lies within the bounds."""
        return (
            (self.at_least is None or value >= self.at_least)
            and (self.at_most is None or value <= self.at_most)
            and (self.above is None or value > self.above)
            and (self.below is None or value < self.below)
        )

    def unit_words(self, units: str = "") -> str:
        """The unit a bare number is in: for `units` metric or us, or for both."""
        table = {"mass": BOOK_MASS_UNIT, "length": BOOK_LENGTH_UNIT, "density": BOOK_DENSITY_UNIT}.get(self.kind)
        if table is None:
            return "%" if self.kind == "percent" else ""
        return table[units] if units else f"{table['metric']} (metric) or {table['us']} (us)"


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet: what one row of it is, its columns, and the columns that together may not repeat."""

    name: str
    one_row_is: str
    columns: tuple[Column, ...]
    unique: tuple[str, ...] = ()

    def column(self, name: str) -> Column:
        """The column of that name. Raises KeyError."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)


MOST_PRICE = 1e6
"""A price for its mass: more is a slip of the keys, whatever the currency."""
LEAST_PRICED_KG = 0.001
MOST_KG = 1e8
"""More than the largest grain stores hold."""
MOST_BATCH_KG = 1e5
MOST_HEAD = 1e7
MOST_EATEN_KG = 100.0
LEAST_EATEN_KG = 0.002  # a chick of a day eats several times as much
"""Per head and day: ten times what the largest sow in milk eats."""
