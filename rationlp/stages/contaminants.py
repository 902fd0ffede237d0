"""Contaminants an assay found in a bin: bins that may not be fed to the stage, and the most of each in the mix."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rationlp.bins.findings.contaminants import ContaminantLimit, contaminant_limits, toxin_sd
from rationlp.book.records import Book
from rationlp.feeds.candidates import Candidate
from rationlp.library.read import Library
from rationlp.library.records import Stage
from rationlp.stages.model import ContaminantNeed


@dataclass(frozen=True, slots=True)
class Contaminants:
    """What the assayed bins among the candidates mean for a stage.

    `kept` are the candidates that may be fed, `refusals` a sentence for each that may not, `needs` the rows of the mix.
    """

    kept: tuple[Candidate, ...]
    refusals: tuple[str, ...]
    needs: tuple[ContaminantNeed, ...]


def contaminants_of(stage: Stage | None, candidates: Sequence[Candidate], book: Book, library: Library) -> Contaminants:
    """The limits of every assayed bin; a bin above the limit of the grain itself is not thinned but left out."""
    kept, refusals = [], []
    limits: dict[str, list[tuple[Candidate, ContaminantLimit]]] = {}
    for candidate in candidates:
        here = contaminant_limits(candidate.estimate, stage, book, library) if candidate.estimate else []
        refused = [limit.refusal for limit in here if limit.refusal]
        if refused:
            refusals += [f"Left out: {words.removesuffix('.')}." for words in refused]
            continue
        kept.append(candidate)
        for limit in here:
            if limit.maximum is not None:
                limits.setdefault(limit.nutrient, []).append((candidate, limit))
    return Contaminants(tuple(kept), tuple(refusals), tuple(_need(found) for found in limits.values()))


def _need(found: Sequence[tuple[Candidate, ContaminantLimit]]) -> ContaminantNeed:
    """One row for all bins; where they are held to different limits the lowest counts."""
    limit = min((limit for _, limit in found), key=lambda limit: limit.maximum)
    return ContaminantNeed(
        nutrient=limit.nutrient,
        label=limit.label,
        unit=limit.unit,
        maximum=limit.maximum,
        contents={c.name: c.values[limit.nutrient] for c, _ in found},
        sds={c.name: toxin_sd(c.estimate, limit.nutrient) for c, _ in found},
        safe_contents={c.name: own.bin_content for c, own in found},
        rule=limit.rule,
        source=limit.source,
        how=limit.how,
    )
