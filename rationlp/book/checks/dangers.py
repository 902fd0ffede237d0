"""Poisonous seeds named in the book, and dangerous words in its notes and labels."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.library import Library
from rationlp.library.cited import cited
from rationlp.library.dangers.poisonous import poisonous_seed, sentence
from rationlp.library.dangers.words import dangers_in
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


def never_feed(name: str, library: Library, *, in_a_sort: bool) -> str:
    """What to do with a name that says treated, mouldy, droppings or the like, of a heap of a hand sort or of a feed on
    offer; else empty. No feed that comes near such a name is meant: treated corn is no corn.
    """
    told = []
    for danger in dangers_in(name.replace("_", " "), ("any", "grain"), library):
        meaning = danger.meaning
        if meaning.severity != "feed":
            do = meaning.do if in_a_sort else meaning.do_bought or meaning.do
            told.append(f"This speaks of {meaning.label}: {meaning.text}. {do}")
    if told and in_a_sort:
        told.append("Enter its weight as foreign_matter.")
    return " ".join(told)


def _found(row: SheetRow, column: str, seed: PoisonousSeed, library: Library) -> str:
    return f"{row[column]!r}, which is {sentence(seed)} [{cited(seed.source, library.sources)}]"


def _tolerated(seed: PoisonousSeed) -> str:
    if seed.tolerated_pct:
        return f"at most {as_typed(seed.tolerated_pct)} % of it; above that the bin is in no mix"
    return "none of it; the bin is in no mix"
