"""Which of the bin's crops the words of a storage or contaminant source speak of."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rationlp.library.read import Library
from rationlp.library.records import GrainWord

ALL = "all"


def crops_spoken_of(table: str, word: str, crops: Iterable[str], library: Library) -> frozenset[str]:
    """The crops among `crops` that `word` of this table (storage or contaminants) speaks of."""
    row = next((row for row in library.grain_words if row.table == table and row.word == word), None)
    return frozenset(crop for crop in crops if row is not None and _speaks_of(row, crop, library))


def _speaks_of(row: GrainWord, crop: str, library: Library) -> bool:
    names = {crop, ALL, *_groups(crop, library)}
    return bool(names & set(row.feeds)) and not names & set(row.other_than)


def _groups(crop: str, library: Library) -> set[str]:
    feed = library.feeds.get(crop)
    words = {family for family, members in library.families.items() if crop in members}
    return words | ({feed.group} if feed else set())


def has_word(table: str, word: str, library: Library) -> bool:
    """Whether anybody has said what the word means."""
    return any(row.table == table and row.word == word for row in library.grain_words)


def shares_by_crop(crops: Iterable, least: float = 0.0) -> Mapping[str, float]:
    """Share of each crop of an estimate, those above `least`."""
    return {row.crop: row.share for row in crops if row.share > least}
