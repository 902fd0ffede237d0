"""Poisonous seeds that a hand sort found: the bin is held until a newer sort finds no more than is tolerated."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from rationlp.book.records import Book, Sample
from rationlp.library.dangers.poisonous import poisonous_seed, sentence
from rationlp.library.dangers.records import PoisonousSeed
from rationlp.library.read import Library
from rationlp.numbers import figure
from rationlp.reasons import Kind, Reason, Severity


def poisonous_reasons(bin_id: str, book: Book, library: Library) -> tuple[Reason, ...]:
    """A reason for each poisonous seed that a hand sort of the bin found.

    The newest sort decides: more than the library tolerates is a `stop`, less an `ask`, and so is a seed that only an
    older sort found. A seed that is entered as an assay too is left to the limits on that assay.
    """
    sorts = _sorts(bin_id, book)
    if not sorts:
        return ()
    newest = sorts[-1][0]
    found: dict[str, Reason] = {}
    for sample, masses in sorts:
        total = sum(masses.values())
        for crop, grams in masses.items():
            seed = poisonous_seed(crop, library)
            if seed is None or grams <= 0 or _assayed(seed, bin_id, sample, book):
                continue
            pct = 100 * grams / total
            found[seed.seed] = _reason(bin_id, sample, seed, pct, sample is newest)
    return tuple(found.values())


def _sorts(bin_id: str, book: Book) -> list[tuple[Sample, Mapping[str, float]]]:
    """The hand sorts of the bin with the grams of each heap, oldest first."""
    sorts: list[tuple[Sample, Mapping[str, float]]] = []
    for sample in book.samples_of(bin_id):
        masses = {row.crop: row.mass_g for row in book.sorted if row.sample == sample.sample}
        if sum(masses.values()) > 0:
            sorts.append((sample, masses))
    return sorts


def _assayed(seed: PoisonousSeed, bin_id: str, sample: Sample, book: Book) -> bool:
    """Whether this sample, or a newer one of the bin, has the assay that limits are written for."""
    since = sample.taken_on or date.min
    newer: Iterable[str] = {
        row.sample for row in book.samples if row.bin == bin_id and (row.taken_on or date.min) >= since
    }
    return bool(seed.assay) and any(row.nutrient == seed.assay and row.sample in newer for row in book.assays)


def _reason(bin_id: str, sample: Sample, seed: PoisonousSeed, pct: float, is_newest: bool) -> Reason:
    tolerated = seed.tolerated_pct or 0.0
    found = f"Sample {sample.sample} of bin {bin_id} holds {figure(pct, 2)} % {sentence(seed)}."
    if not is_newest:
        severity = Severity.ASK
        do = " A newer sort found none: be sure that the bin was cleaned, not only sampled elsewhere."
    elif pct <= tolerated:
        severity, do = Severity.ASK, f" Up to {figure(tolerated)} % is tolerated. {seed.do}"
    else:
        severity, do = Severity.STOP, f" The bin goes into no mix. {seed.do}"
    return Reason(
        Kind.SAFETY, severity, found + do, feed=bin_id, unit="%", value=pct, limit=tolerated, source=seed.source
    )
