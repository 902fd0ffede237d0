"""Money and masses in the units the book is written in; inside everything is per tonne and in kilograms."""

from __future__ import annotations

from dataclasses import dataclass

from rationlp.book.records import Settings
from rationlp.numbers import figure, money, plain
from rationlp.units import BOOK_MASS_UNIT, BOOK_PRICE_MASS_KG, KG_PER_TONNE, MASS_KG

PRICE_WORDS = {"metric": ("t", "tonne"), "us": ("ton", "short ton")}


@dataclass(frozen=True, slots=True)
class BookUnits:
    """How a book speaks of money and mass."""

    currency: str
    price_kg: float  # mass that a price is for
    short: str  # t, ton
    word: str  # tonne, short ton
    mass: str  # kg, lb
    mass_kg: float

    @property
    def per_mass(self) -> str:
        """A heading: `USD/t`."""
        return f"{self.currency}/{self.short}"

    def price(self, per_tonne: float | None, currency: str = "") -> str:
        """Money per tonne as money for the book's mass."""
        return money(self.price_value(per_tonne), currency)

    def price_value(self, per_tonne: float | None) -> float | None:
        """The same as a number."""
        return None if per_tonne is None else per_tonne * self.price_kg / KG_PER_TONNE

    def bulk(self, tonnes: float) -> str:
        """Tonnes, or short tons, with the word."""
        return f"{figure(tonnes * KG_PER_TONNE / self.price_kg)} {self.short}"

    def weight(self, kilograms: float, digits: int = 4) -> str:
        """Kilograms, or pounds, with the word."""
        return f"{plain(kilograms / self.mass_kg, digits)} {self.mass}"

    def small(self, kilograms: float | None, digits: int = 3) -> str:
        """Kilograms, or pounds."""
        return "" if kilograms is None else figure(kilograms / self.mass_kg, digits)


def units_of(farm: Settings) -> BookUnits:
    """The units of a book."""
    mass = BOOK_MASS_UNIT[farm.units]
    short, word = PRICE_WORDS[farm.units]
    return BookUnits(farm.currency, BOOK_PRICE_MASS_KG[farm.units], short, word, mass, MASS_KG[mass])
