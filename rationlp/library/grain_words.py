"""Which of the bin's crops the words of a storage or contaminant source speak of."""

from __future__ import annotations

from collections.abc import Iterable

from rationlp.library.read import Library

ALL = "all"


def names_of(crop: str, library: Library) -> frozenset[str]:
    """Every word a crop goes by: its own id, its families, its group, and `all`."""
    feed = library.feeds.get(crop)
    families = {family for family, members in library.families.items() if crop in members}
    return frozenset({crop, ALL, *families, *([feed.group] if feed else [])})


def speaks_of(table: str, word: str, names: frozenset[str], library: Library) -> bool:
    """Whether `word` of this table (storage or contaminants) speaks of the crop that goes by `names`."""
    row = library.grain_words.get((table, word))
    return row is not None and bool(names & set(row.feeds)) and not names & set(row.other_than)


def speaks_of_any(table: str, word: str, crops: Iterable[str], library: Library) -> bool:
    """Whether `word` speaks of one of these crops."""
    return any(speaks_of(table, word, names_of(crop, library), library) for crop in crops)
