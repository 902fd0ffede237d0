"""What the rations rest on: the recalled figures that weigh most, how the others were obtained, the sources."""

from __future__ import annotations

from dataclasses import dataclass

from rationlp.farm import Farm
from rationlp.figures import feed_label, nutrient_label
from rationlp.ledger.signatures import SIGN_ROWS
from rationlp.rations.answer.model import RequirementLine
from rationlp.rations.studies.review import ReviewCopy, ReviewedRation

MOST_FIGURES = 6
"""Shown before the fold."""
MOST_ROWS = 14
"""Of the requirements of a ration on its page to sign: those that bind or are missed, then the first others."""
BOXES = tuple((label, "tall" if height > 30 else "") for label, height in SIGN_ROWS)
"""The boxes of a page to sign."""


@dataclass(frozen=True, slots=True)
class Recalled:
    """A figure from memory: what an error of a tenth of it does to the cost of a tonne of the ration it moves most."""

    feed: str
    nutrient: str
    weight: float
    stage: str
    source: str
    how: str


def recalled_of(review: ReviewCopy, farm: Farm) -> tuple[Recalled, ...]:
    """The recalled figures of all rations, each once, the heaviest first."""
    best: dict[tuple[str, str], Recalled] = {}
    for reviewed in review.rations:
        for row in reviewed.recalled:
            held = best.get((row.feed, row.nutrient))
            if held is None or row.weight > held.weight:
                best[row.feed, row.nutrient] = Recalled(
                    feed_label(row.feed, farm.library),
                    nutrient_label(row.nutrient, farm.library),
                    row.weight,
                    reviewed.ration.stage,
                    row.source,
                    row.how,
                )
    return tuple(sorted(best.values(), key=lambda row: -row.weight))


def rows_to_sign(reviewed: ReviewedRation) -> list[RequirementLine]:
    """The requirements named on the page to sign."""
    lines = sorted(reviewed.ration.requirements, key=lambda line: (line.meets is not False, not line.binding))
    return list(lines[:MOST_ROWS])
