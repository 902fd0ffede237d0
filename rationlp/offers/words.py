"""Money and mass in sentences, in the units that the book is written in."""

from __future__ import annotations

from rationlp.book.records import Farm
from rationlp.units import BOOK_PRICE_MASS_KG, KG_PER_TONNE

PRICE_MASS = {"metric": "tonne", "us": "short ton"}
BULK = {"metric": "t", "us": "short tons"}


def price(per_tonne: float, farm: Farm) -> str:
    """Money per tonne as money for the mass that the book's prices are for: `369.93`."""
    return f"{per_tonne * BOOK_PRICE_MASS_KG[farm.units] / KG_PER_TONNE:,.2f}"


def price_a(per_tonne: float, farm: Farm) -> str:
    """The same with the mass: `369.93 a tonne`."""
    return f"{price(per_tonne, farm)} a {PRICE_MASS[farm.units]}"


def bulk(tonnes: float, farm: Farm) -> str:
    """Tonnes with their word: `12.5 t`."""
    return f"{tonnes * KG_PER_TONNE / BOOK_PRICE_MASS_KG[farm.units]:,.1f} {BULK[farm.units]}"
