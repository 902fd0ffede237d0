"""The rows of the tables of dangers, one record per CSV file; `DANGER_TABLES` says which reads which."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from rationlp.library.records import How, LibraryRow, NonNegative, Words
from rationlp.library.stored.cells import Split, Within

Names = Annotated[tuple[str, ...], Split(";")]


@dataclass(frozen=True, slots=True, kw_only=True)
class DangerWord(LibraryRow):
    """A word or phrase of a note or label: `*` at its end stands for any ending, `#` for a figure, of at least
    `at_least`; one in capitals counts only as written in capitals."""

    word: str
    means: str  # a row of word_meanings; `harmless` takes the words of the phrase out
    where: Literal["any", "grain", "processed"]  # grain: bins, samples; processed: offers of a heated or pressed feed
    stop_for: Words = ()  # scopes (turkey, layer) of animals that it kills: never fed to them
    source: str
    how: How
    note: str = ""
    nutrient: str = ""  # the contaminant it speaks of: a figure beside it is of that, in its unit where none is written
    at_least: NonNegative = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WordMeaning(LibraryRow):
    """What a note or label says by a word: why it matters and what to do."""

    means: str
    severity: Literal["feed", "ask", "stop"]
    label: str
    text: str
    do: str
    do_bought: str = ""  # what to do about a bought feed, where that is another thing
    source: str
    how: How


@dataclass(frozen=True, slots=True, kw_only=True)
class PoisonousSeed(LibraryRow):
    """A seed that poisons, by every name it goes by."""

    seed: str
    names: Names  # separated by `;`, with blanks, in the singular
    botanical_name: str
    label: str
    what: str  # what it does
    do: str
    tolerated_pct: NonNegative = None  # of the grain, by mass; blank: none
    assay: str = ""  # the nutrient as which it is entered, where limits are written for it
    source: str
    how: How
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AnimalProtein(LibraryRow):
    """What the law of a jurisdiction says of an animal protein for some species."""

    jurisdiction: Literal["us", "eu", "canada"]
    feed: str
    species: Words
    allowed: Literal["yes", "no", "conditions"]
    text: str
    do: str
    citation: str
    source: str
    how: How
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceRange(LibraryRow):
    """Between what prices a feed, a family or a group of feeds is bought: US dollars per metric tonne, in bulk or bags.

    Wide on purpose: a price outside is more likely one for another mass than a bargain.
    """

    feeds: str
    low: Annotated[float, Within(gt=0)]
    high: Annotated[float, Within(gt=0)]
    source: str
    how: How
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contaminant(LibraryRow):
    """A limit on a contaminant in an ingredient or in the complete feed."""

    contaminant: str
    nutrient: str = ""  # our id where an assay of it can be given
    jurisdiction: str
    applies_to: str  # in the words of the source
    scopes: Words = ()  # our scopes, where the source's words can be mapped
    limit_in_ingredient: NonNegative = None
    assumed_pct_of_diet: NonNegative = None
    limit_in_complete_diet: NonNegative = None
    unit: str
    kind: str
    source: str
    url: str = ""
    how: str = ""
    note: str = ""


DANGER_TABLES: dict[str, type[LibraryRow]] = {
    "words": DangerWord,
    "word_meanings": WordMeaning,
    "poisonous": PoisonousSeed,
    "animal_proteins": AnimalProtein,
    "price_ranges": PriceRange,
}
