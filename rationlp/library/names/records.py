"""The row of the table of synonyms."""

from __future__ import annotations

from typing import Literal

from rationlp.library.dangers.records import Names
from rationlp.library.records import How, LibraryRow, Words


class Synonym(LibraryRow):
    """Words of the trade for a feed, a stage or a nutrient.

    Several ids in `means` say that the words fit all of them: which one is asked, never guessed.
    """

    kind: Literal["feed", "stage", "nutrient"]
    means: Words
    names: Names  # separated by `;`
    source: str
    how: How
    note: str = ""
