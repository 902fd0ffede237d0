"""What law and guidance say of a bin's toxins: for the grain itself, and for the complete feed of the animals."""

from __future__ import annotations

from collections.abc import Iterator

from rationlp.bins.model import BinEstimate, BinFinding, Gravity
from rationlp.bins.toxins import Content
from rationlp.book.columns import ENERGIES, FOREIGN_MATTER
from rationlp.book.records import Book
from rationlp.library.contaminant_law import (
    GRADE,
    JURISDICTION_WORDS,
    LegalLimit,
    about_feed,
    animals_of,
    limits_on_feed,
)
from rationlp.library.dangers.records import Contaminant
from rationlp.library.read import Library
from rationlp.numbers import plain

TOXIN = "toxin"
"""The kind of what is found of a bin's contaminants."""
PROHIBITED = " Thinning it with other grain is prohibited."


def toxin_findings(estimate: BinEstimate, book: Book, library: Library) -> Iterator[BinFinding]:
    """Results that disagree, and limits that the bin passes, or may pass, for the animals of the farm.

    Without groups these are all that the library knows. A limit that makes a trade grade is told and no more.
    """
    for reason in estimate.reasons:
        if reason.nutrient in estimate.contaminants:
            yield BinFinding(TOXIN, Gravity.DANGER, reason.text, reason.source)
    told: set[tuple[str, str, str]] = set()
    for nutrient, content in estimate.contaminants.items():
        for row in library.contaminants:
            if row.nutrient == nutrient and row.kind == GRADE and row.jurisdiction == book.farm.jurisdiction:
                yield from _of_grain(LegalLimit(row), content, estimate, False, library)
        for animals in _animals(book, library):
            for row, finding in _for_animals(content, animals, estimate, book, library):
                key = (nutrient, row.jurisdiction, row.applies_to)
                if key not in told:
                    told.add(key)
                    yield finding


def crops_of(estimate: BinEstimate) -> list[str]:
    """The crops that lie in the bin."""
    return [crop.crop for crop in estimate.crops if crop.crop != FOREIGN_MATTER and crop.share > 0]


def _animals(book: Book, library: Library) -> list[frozenset[str]]:
    """The scopes of each stage that is fed, each set once; of every stage of the library where no group is named."""
    named = dict.fromkeys(group.stage for group in book.groups)
    energies = {row.stage: row.nutrient for row in reversed(book.own_stages) if row.nutrient in ENERGIES}
    found = [animals_of(library.stages.get(stage), energies.get(stage), library) for stage in named or library.stages]
    return list(dict.fromkeys(found))


def _for_animals(
    content: Content, animals: frozenset[str], estimate: BinEstimate, book: Book, library: Library
) -> Iterator[tuple[Contaminant, BinFinding]]:
    dry = estimate.dry_matter_pct
    found = limits_on_feed(content.nutrient, crops_of(estimate), animals, book.farm.jurisdiction, dry, library)
    passed = False
    for limit in found.material:
        for finding in _of_grain(limit, content, estimate, found.no_diluting is not None, library):
            passed = passed or finding.severity is Gravity.DANGER
            yield limit.row, finding
    if found.diet is None or passed:
        return
    most = found.diet.diet(dry, library)
    if content.upper > 0 and most == 0:
        text = f"{_holds(content, library)} above nothing at all ({found.diet.words}). It is not to be fed to them."
        yield found.diet.row, BinFinding(TOXIN, Gravity.DANGER, text, found.diet.row.source)
    elif content.value > most:
        law = f"{_holds(content, library)} above what a complete feed may hold, {plain(most)} ({found.diet.words})."
        refused = found.no_diluting is not None and not found.material
        end = f" It is not to be fed to these animals.{PROHIBITED}" if refused else " The rations hold it to that."
        yield (
            found.diet.row,
            BinFinding(TOXIN, Gravity.DANGER if refused else Gravity.WARNING, law + end, found.diet.row.source),
        )


def _of_grain(
    limit: LegalLimit, content: Content, estimate: BinEstimate, prohibited: bool, library: Library
) -> Iterator[BinFinding]:
    """A limit on the grain itself that the bin passes, or may pass."""
    most = limit.material(estimate.dry_matter_pct, library)
    if content.upper <= most or not about_feed(limit.row, crops_of(estimate), library):
        return
    holds, law = _holds(content, library), f"{plain(most)} ({limit.words})"
    if content.value <= most:
        text = f"{holds} below the limit of the grain, {law}, but the test is rough: test a larger sample."
        yield BinFinding(TOXIN, Gravity.WARNING, text, limit.row.source)
    elif limit.row.kind == GRADE:
        where = JURISDICTION_WORDS.get(limit.row.jurisdiction, limit.row.jurisdiction)
        text = f"{holds} above {plain(most)} ({where} {limit.row.kind} for {limit.row.applies_to})."
        yield BinFinding(TOXIN, Gravity.WARNING, text, limit.row.source)
    else:
        ban = PROHIBITED if prohibited else ""
        text = f"{holds} above the limit of the grain itself, {law}. It is not to be fed to these animals.{ban}"
        yield BinFinding(TOXIN, Gravity.DANGER, text, limit.row.source)


def _holds(content: Content, library: Library) -> str:
    nutrient = library.nutrients[content.nutrient]
    return f"{nutrient.label}: {plain(content.value)} {nutrient.unit} is"
