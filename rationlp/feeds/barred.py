"""Candidates that may not be in a mix of a stage: on hold, poisonous, deadly to its animals, against the law."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rationlp.bins.findings.notes import killing_notes
from rationlp.book.records import Book
from rationlp.feeds.candidates import Candidate
from rationlp.feeds.labels import killing_words
from rationlp.library.read import Library
from rationlp.library.records import Stage
from rationlp.reasons import Kind, Reason, Severity

NEVER_MIXED = (Kind.SAFETY, Kind.LAW)
LAW_OF = {"us": "US", "eu": "EU", "canada": "Canadian"}

SPECIES_OF_ENERGY = {
    "ne_pig": ("swine",),
    "me_pig": ("swine",),
    "de_pig": ("swine",),
    "amen_poultry": ("chicken", "turkey", "duck"),
}


@dataclass(frozen=True, slots=True)
class Barred:
    """The candidates that may be in a mix, and why the others may not."""

    kept: tuple[Candidate, ...]
    left_out: tuple[Reason, ...]


def without_barred(
    candidates: Sequence[Candidate], stage: Stage | None, energy: str | None, book: Book, library: Library
) -> Barred:
    """The candidates without those that must not be fed to the stage for safety or by law.

    The animals of a stage of the farm's own (`stage` None) are known by its `energy` only: pigs, or any poultry. One
    that the book puts into every mix stays, with its reason: the mix is then a `stop`.
    """
    kept, left_out = [], []
    for candidate in candidates:
        reasons = (*candidate.reasons, *_of_stage(candidate, stage, energy, book, library))
        stops = [r for r in reasons if r.severity is Severity.STOP and r.kind in NEVER_MIXED]
        if stops and not candidate.min_share:
            left_out += stops
        else:
            kept.append(replace(candidate, reasons=reasons) if reasons != candidate.reasons else candidate)
    return Barred(tuple(kept), tuple(dict.fromkeys(left_out)))


def _of_stage(
    candidate: Candidate, stage: Stage | None, energy: str | None, book: Book, library: Library
) -> tuple[Reason, ...]:
    """What speaks against the candidate for the animals of this stage."""
    species = (stage.species,) if stage else SPECIES_OF_ENERGY.get(energy or "", ())
    scopes = frozenset(stage.scopes if stage else _kinds(species))
    if candidate.estimate is not None:
        notes = (row for row in book.bins if row.bin == candidate.name)
        return tuple(_deadly(found, stage) for row in notes for found in killing_notes(row, scopes, book, library))
    law = animal_protein_reasons(candidate, species, book, library)
    offers = (row for row in book.supplements if row.offer == candidate.name)
    deadly = (found for row in offers for found in killing_words(row, scopes, book, library))
    return (*(_deadly(found, stage) for found in deadly), *law)


def _kinds(species: Sequence[str]) -> tuple[str, ...]:
    """What is sure of the animals of a stage of the farm's own: pigs, or poultry of any kind."""
    return ("swine",) if species == ("swine",) else ("poultry",) if species else ()


def _deadly(reason: Reason, stage: Stage | None) -> Reason:
    whom = f"{stage.species}s: {stage.label}" if stage else "these animals"
    return replace(reason, severity=Severity.STOP, text=f"{reason.text} Never feed it to {whom}.")


def animal_protein_reasons(
    candidate: Candidate, species: Sequence[str], book: Book, library: Library
) -> tuple[Reason, ...]:
    """What the law of the jurisdiction bars these animals from: animal proteins (Regulation (EC) No 999/2001)."""
    where = book.farm.jurisdiction
    rows = [
        row
        for row in library.animal_proteins
        if row.jurisdiction == where
        and row.allowed == "no"
        and row.feed in candidate.feeds
        and set(species) & set(row.species)
    ]
    return tuple(
        Reason(
            Kind.LAW,
            Severity.STOP,
            f"{candidate.label} may not be fed to {_animals(row.species)} by {LAW_OF.get(where, where)} law: "
            f"{row.text} ({row.citation}). {row.do}",
            feed=candidate.name,
            source=row.source,
        )
        for row in rows
    )


def _animals(species: Sequence[str]) -> str:
    words = {"swine": "pigs", "chicken": "poultry", "turkey": "poultry", "duck": "poultry"}
    return " or ".join(dict.fromkeys(words.get(name, name) for name in species))
