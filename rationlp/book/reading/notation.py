"""How a book writes things down, and what is said of a cell that cannot be read."""

from __future__ import annotations

from dataclasses import dataclass

from rationlp.book.reading.typed_numbers import Decimal


class CellFault(ValueError):
    """A cell that cannot be read: what was found, what was expected, what to do."""

    def __init__(self, found: str, expected: str, do: str):
        self.found, self.expected, self.do = found, expected, do
        super().__init__(f"found {found}; expected {expected}. {do}")


@dataclass(frozen=True, slots=True)
class Notation:
    """How the book, or one file of it, writes things down."""

    units: str = "metric"
    date_format: str = "%Y-%m-%d"
    decimal_comma: bool = False  # CSV with semicolons: 12,5
    currency: str = "USD"

    @property
    def decimal(self) -> Decimal:
        """What a comma or point before three digits means in this book."""
        if self.decimal_comma:
            return "comma"
        if self.units == "us":
            return "point"
        return "unknown" if "." in self.date_format else "either"


@dataclass(frozen=True, slots=True)
class Pending:
    """So many bushels or bags: a mass only with the test weight or the package of the same row."""

    count: float
    of: str  # BUSHEL or BAG
    typed: str
