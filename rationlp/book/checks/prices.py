"""Prices far from what a feed costs: of a bag, a pound or a bushel read as of a tonne, a decimal point that slipped."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.finder import alternatives
from rationlp.library.dangers.records import PriceRange
from rationlp.numbers import as_typed, money
from rationlp.units import BOOK_PRICE_MASS_KG, KG_PER_LB, KG_PER_TONNE, M3_PER_US_BUSHEL

if TYPE_CHECKING:
    from rationlp.library.read import Library

PRICE_WORDS = {"metric": "tonne", "us": "short ton"}
BULK_GRAIN = "cereal"
"""The group whose prices the grain of a bin is held against."""
SURELY = 20.0
"""A price so many times over the dearest is a slip, whatever mass is stated."""
LEAST_BAGGED = 50.0
"""Per tonne: nothing in bags costs less (common practice)."""
BUSHEL_KG = 56 * KG_PER_LB
"""Of grain whose test weight is not known: corn and rye (common practice)."""
OTHER_MASSES = {
    "us": (
        ("a price per lb", KG_PER_LB),
        ("a price per cwt", 100 * KG_PER_LB),
        ("the price of a 50 lb bag", 50 * KG_PER_LB),
    ),
    "metric": (("a price per kg", 1.0), ("a price per 100 kg", 100.0), ("the price of a 25 kg bag", 25.0)),
}
"""What else a price may be for, in kilograms."""
NEAR_A_DOLLAR = {"USD": 1.0, "EUR": 1.5, "GBP": 2.0, "CHF": 1.6, "CAD": 1.8, "AUD": 2.0, "NZD": 2.0}
"""Currencies near a US dollar, with how much wider the ranges are for them (memory: rates since 2000)."""


@dataclass(frozen=True, slots=True)
class Meant:
    """What a price probably is: in words, per tonne, and what to write."""

    words: str
    per_tonne: float
    do: str


def check_prices(reading: BookReading, library: Library) -> None:
    """Report each price of an offer or of grain that lies far from what the feed costs, with its likely reading."""
    for row in reading["supplements"]:
        if row.sound("price", "feed") and "per_mass" not in row.bad and row["price"] > 0:
            usual = range_of(row["feed"], reading.farm.currency, library)
            _check(reading, row, "price", usual)
    grain = range_of(BULK_GRAIN, reading.farm.currency, library)
    for row in reading["bins"]:
        if row.sound("sale_price") and "per_mass" not in row.bad and row["sale_price"] > 0:
            _check(reading, row, "sale_price", grain)


def range_of(feed: str, currency: str, library: Library) -> PriceRange | None:
    """The range of prices per tonne of a feed: its own row, else that of a family, else of its group.

    None where nothing is known, or prices are in a currency that is not near a dollar.
    """
    wider = NEAR_A_DOLLAR.get(currency)
    if wider is None:
        return None
    rows = _ranges(library)
    known = library.feeds.get(feed)
    families = [family for family, members in library.families.items() if feed in members and family != feed]
    found = next((rows[word] for word in (feed, *families, known.group if known else "") if word in rows), None)
    return replace(found, low=found.low / wider, high=found.high * wider) if found else None


@lru_cache(maxsize=8)
def _ranges(library: Library) -> dict[str, PriceRange]:
    """Every range by the feed, family or group it speaks of."""
    return {row.feeds: row for row in library.table("price_ranges", PriceRange)}


def _check(reading: BookReading, row: SheetRow, column: str, usual: PriceRange | None) -> None:
    """Report the price of `column` if it is out of the range. Freight counts with it."""
    units, currency, stated = reading.farm.units, reading.farm.currency, row["per_mass"] is not None
    each_kg = BOOK_PRICE_MASS_KG[units]
    price = row[column] + (row["freight"] or 0.0)
    per_tonne = price * KG_PER_TONNE / (row["per_mass"] or each_kg)
    if usual is None or usual.low <= per_tonne <= usual.high:
        if usual is None and not stated and row["package_mass"] and per_tonne < LEAST_BAGGED:
            found = f"{as_typed(price)} a {PRICE_WORDS[units]} for a feed in bags, with per_mass left blank"
            do = "If it is the price of a bag, write its mass in per_mass; else write what it is for."
            reading.error(row, column, found, "the mass that the price is for", do)
        return
    meant = [other for other in _readings(row, price, units, stated) if usual.low <= other.per_tonne <= usual.high]
    here = [money(value * each_kg / KG_PER_TONNE) for value in (per_tonne, usual.low, usual.high)]
    a_tonne = f"{currency} a {PRICE_WORDS[units]}"
    feed = row["feed"] or "grain"
    if row["freight"] and usual.low <= row[column] * KG_PER_TONNE / (row["per_mass"] or each_kg) <= usual.high:
        found, column = f"a freight of {as_typed(row['freight'])}, with which {feed} is {here[0]} {a_tonne}", "freight"
    else:
        found = f"{as_typed(row[column])} for {feed}, that is {here[0]} {a_tonne}"
    surely = (bool(meant) and not stated) or per_tonne > SURELY * usual.high
    report = reading.error if surely else reading.warning
    report(row, column, found, f"about {here[1]} to {here[2]} {a_tonne}", _what_to_do(meant, stated))


def _what_to_do(meant: list[Meant], stated: bool) -> str:
    right = "if it is right, leave it" if stated else "if it is right, write the mass it is for in per_mass"
    if not meant:
        return f"Check the price and the mass it is for; {right}."
    return f"Perhaps it is {alternatives([other.words for other in meant])}: then {meant[0].do}; {right}."


def _readings(row: SheetRow, price: float, units: str, stated: bool) -> Iterator[Meant]:
    """What else the price may be for, the likeliest first."""
    masses = dict(OTHER_MASSES[units])
    if row.place.sheet == "bins":
        weight = row["test_weight"]
        masses = {"the price of a bushel": weight * M3_PER_US_BUSHEL if weight else BUSHEL_KG, **masses}
    elif row["package_mass"]:
        masses = {"the price of one package": row["package_mass"], **masses}
    for words, kilograms in masses.items():
        yield Meant(words, price * KG_PER_TONNE / kilograms, "write that mass in per_mass")
    if stated:
        do = "leave per_mass blank"
        yield Meant(f"the price of a {PRICE_WORDS[units]}", price * KG_PER_TONNE / BOOK_PRICE_MASS_KG[units], do)
