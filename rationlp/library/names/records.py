"""The rows of the tables of synonyms and of the words that sources use."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rationlp.library.dangers.records import Names
from rationlp.library.records import How, LibraryRow, Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Synonym(LibraryRow):
    """Words of the trade for a feed, a stage or a nutrient.

    Several ids in `means` say that the words fit all of them: which one is asked, never guessed. None says that the
    words are of something the library has no figures of: nothing is suggested for it.
    """

    kind: Literal["feed", "stage", "nutrient"]
    means: Words
    names: Names  # separated by `;`
    source: str
    how: How
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class GrainWord(LibraryRow):
    """Which of our feeds the words of a storage or contaminant source speak of."""

    table: Literal["storage", "contaminants"]
    word: str  # the column `crop` of storage, `applies_to` of contaminants
    feeds: Words = ()  # feeds, families, groups or all; empty: none of ours
    other_than: Words = ()  # these do not count
    note: str = ""
