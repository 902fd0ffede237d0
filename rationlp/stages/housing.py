"""What living outdoors does to the feed a day (housing.csv), and what pasture gives, said with its spread.

The mix itself stays that of animals indoors: outdoors they need more energy and hardly more of the rest, so it is rich
enough; and what pasture gives differs from day to day, so that nothing is taken out of the mix for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.library import Library
from rationlp.library.cited import cited
from rationlp.library.records import Housing
from rationlp.numbers import plain
from rationlp.stages.stage import StageNeeds

INDOOR = "indoor"


def housing_of(scopes: Sequence[str], housing: str, library: Library) -> Housing | None:
    """The row for animals of these scopes, the nearest first; None indoors, and where nothing was read."""
    rows = {row.scope: row for row in library.housing if row.housing == housing}
    return next((rows[scope] for scope in scopes if scope in rows), None)


def with_housing(found: StageNeeds, book: Book, library: Library) -> StageNeeds:
    """`found` with the feed a day of animals outdoors, where all its groups and steps live there, and a word of it."""
    if found.known is None:
        return found
    where = [row.housing for row in book.groups if row.stage == found.stage]
    where += [row.housing for row in book.herd if row.stage == found.stage]
    outdoors = {housing for housing in where if housing not in ("", INDOOR)}
    rows = {housing: housing_of(found.known.scopes, housing, library) for housing in sorted(outdoors)}
    notes = tuple(_words(housing, row, units_of(book.farm), library) for housing, row in rows.items())
    everywhere = len(outdoors) == 1 and all(housing in outdoors for housing in where)
    row = next(iter(rows.values()), None)
    daily = found.daily_feed_kg
    if everywhere and row is not None and row.feed_pct and daily:
        daily *= 1 + row.feed_pct / 100
    return replace(found, daily_feed_kg=daily, notes=(*found.notes, *notes))


def _words(housing: str, row: Housing | None, units: BookUnits, library: Library) -> str:
    where = "on pasture" if housing == "pasture" else "outdoors"
    if row is None:
        return f"Animals {where}: no published figure was found for these; the feed a day is that of animals indoors."
    told = [f"Animals {where}"]
    if row.feed_pct is not None:
        spread = f" ({plain(row.feed_low_pct)} to {plain(row.feed_high_pct)} %)"
        told.append(f"eat about {plain(row.feed_pct)} % more than indoors{spread}")
    if row.pasture is not None:
        told.append(_taken(row, units))
    words = f"{told[0]} {' and '.join(told[1:])}"
    note = f"{row.note[0].upper()}{row.note[1:]} ({cited(row.source, library.sources)})"
    return f"{words}; nothing is taken out of the mix for that. {note}."


def _taken(row: Housing, units: BookUnits) -> str:
    """What animals take from the pasture: grams a head and day, or a share of what they eat."""
    in_grams = row.pasture_unit.startswith("g ")
    figures = [amount for amount in (row.pasture, row.pasture_low, row.pasture_high) if amount is not None]
    told = [units.light(amount) if in_grams else plain(amount) for amount in figures]
    spread = f" ({told[1]} to {told[2]})" if len(told) == 3 else ""
    each = " a day each" if in_grams else ""
    return f"take about {told[0]} {row.pasture_unit.removeprefix('g ')}{spread}{each} from it"
