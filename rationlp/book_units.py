"""Everything measured in the units the book is written in; inside everything is per tonne and SI.

Concentrations stay as laboratories and tables print them, in every book: %, mg/kg, IU/kg, kcal/kg; a hand sort is in
grams, as its sheet asks for it.
"""

from __future__ import annotations

from dataclasses import dataclass

from rationlp.book.records import Settings
from rationlp.numbers import figure, money, plain
from rationlp.units import (
    BOOK_DENSITY_UNIT,
    BOOK_MASS_UNIT,
    BOOK_PRICE_MASS_KG,
    BOOK_VOLUME_UNIT,
    DENSITY_KG_M3,
    KG_PER_TONNE,
    M3_PER_US_BUSHEL,
    MASS_KG,
    VOLUME_M3,
    fahrenheit,
)

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
    system: str = "metric"  # or us

    @property
    def per_mass(self) -> str:
        """A heading: `USD/t`."""
        return f"{self.currency}/{self.short}"

    def price(self, per_tonne: float | None, currency: str = "") -> str:
        """Money per tonne as money for the book's mass."""
        return money(None if per_tonne is None else self.price_value(per_tonne), currency)

    def price_value(self, per_tonne: float) -> float:
        """The same as a number."""
        return per_tonne * self.price_kg / KG_PER_TONNE

    def bulk(self, tonnes: float, digits: int = 4) -> str:
        """Tonnes, or short tons, with the word."""
        number = figure(tonnes * KG_PER_TONNE / self.price_kg, digits)
        several = "s" if self.system == "us" and number != "1" else ""
        return f"{number} {self.short}{several}"

    def amount(self, tonnes: float) -> str:
        """Tonnes or tons; a light mass in kilograms or pounds."""
        kilograms = tonnes * KG_PER_TONNE
        return self.bulk(tonnes) if kilograms >= self.price_kg else self.weight(kilograms, 3)

    def stock(self, tonnes: float, spread: float | None = None) -> str:
        """The same with its ±, both in one unit."""
        if spread is None:
            return self.amount(tonnes)
        light = tonnes * KG_PER_TONNE < self.price_kg
        return f"{self.amount(tonnes)} ± {self.weight(spread * KG_PER_TONNE, 2) if light else self.bulk(spread, 2)}"

    def weight(self, kilograms: float, digits: int = 4) -> str:
        """Kilograms, or pounds, with the word."""
        return f"{plain(kilograms / self.mass_kg, digits)} {self.mass}"

    def light(self, grams: float) -> str:
        """What is light: grams, or pounds."""
        return self.weight(grams / 1000, 3) if self.system == "us" else f"{plain(grams)} g"

    def volume(self, cubic_metres: float) -> str:
        """Cubic metres; cubic feet with bushels behind them in a US book."""
        unit = BOOK_VOLUME_UNIT[self.system]
        bushels = f" ({figure(cubic_metres / M3_PER_US_BUSHEL, 4)} bu)" if self.system == "us" else ""
        return f"{plain(cubic_metres / VOLUME_M3[unit])} {unit}{bushels}"

    def room(self, cubic_metres: float) -> str:
        """A volume that is no grain's, of a mixer: cubic metres or cubic feet."""
        unit = BOOK_VOLUME_UNIT[self.system]
        return f"{plain(cubic_metres / VOLUME_M3[unit], 2)} {unit}"

    def density(self, kg_m3: float) -> str:
        """A test weight: kg/m3, or pounds in a bushel."""
        unit = BOOK_DENSITY_UNIT[self.system]
        return f"{plain(kg_m3 / DENSITY_KG_M3[unit], 3)} {unit}"

    def loose(self, kg_m3: float) -> str:
        """The density of feed that is no grain alone: kg/m3, or pounds in a cubic foot."""
        unit = "lb/ft3" if self.system == "us" else "kg/m3"
        return f"{plain(kg_m3 / DENSITY_KG_M3[unit], 3)} {unit}"

    def temperature(self, celsius: float) -> str:
        """Degrees Celsius or Fahrenheit."""
        return f"{fahrenheit(celsius):.0f} °F" if self.system == "us" else f"{celsius:.0f} °C"

    def small(self, kilograms: float | None, digits: int = 3) -> str:
        """Kilograms, or pounds."""
        return "" if kilograms is None else figure(kilograms / self.mass_kg, digits)


def units_of(farm: Settings) -> BookUnits:
    """The units of a book."""
    return units_in(farm.units, farm.currency)


def units_in(system: str, currency: str) -> BookUnits:
    """The units of every book of a system, `metric` or `us`."""
    mass = BOOK_MASS_UNIT[system]
    short, word = PRICE_WORDS[system]
    return BookUnits(currency, BOOK_PRICE_MASS_KG[system], short, word, mass, MASS_KG[mass], system)
