"""Poisonous seeds named in the book, and dangerous words in its notes and labels."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.library import Library
from rationlp.library.cited import cited
from rationlp.library.dangers.poisonous import poisonous_seed, sentence
from rationlp.numbers import as_typed

if TYPE_CHECKING:
    from rationlp.library.dangers.records import PoisonousSeed
    from rationlp.library.read import Library


def check_poisonous(reading: BookReading, library: Library) -> None:
    """Report poisonous seeds by name: offered, described or sown is an error; found in a hand sort holds the bin."""
    for sheet, column in (("supplements", "feed"), ("own_feeds", "feed"), ("own_limits", "feed"), ("sown", "crop")):
        for row in reading[sheet]:
            seed = poisonous_seed(row[column], library) if row.sound(column) else None
            if seed is not None:
                reading.error(row, column, _found(row, column, seed, library), "a feed that is no poison", seed.do)
    for row in reading["sorted"]:
        seed = poisonous_seed(row["crop"], library) if row.sound("crop") else None
        if seed is not None and row["mass_g"]:
            reading.warning(row, "crop", _found(row, "crop", seed, library), _tolerated(seed), seed.do)


def _found(row: SheetRow, column: str, seed: PoisonousSeed, library: Library) -> str:
    return f"{row[column]!r}, which is {sentence(seed)} [{cited(seed.source, library.sources)}]"


def _tolerated(seed: PoisonousSeed) -> str:
    if seed.tolerated_pct:
        return f"at most {as_typed(seed.tolerated_pct)} % of it; above that the bin is in no mix"
    return "none of it; the bin is in no mix"
