"""Vitamins that feeds, premix and single supplements bring together: when they are a row of the program.

No grain is bought for its biotin: that would make a sow's feed a fifth dearer where a better premix costs cents. So a
vitamin is a row where something on offer is made to bring it, a single supplement or a premix that covers the need by
itself; then feeds, premixes and supplement compete. Otherwise it is checked with what the feeds bring, and short means
short.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rationlp.feeds.candidates import Candidate
from rationlp.feeds.spread import GROWN
from rationlp.stages.model import Need
from rationlp.stages.stage import StageNeeds

VITAMINS = "vitamins"
FOODS = GROWN | {"bin", "fat"}
"""Groups of candidates that are fed for what they are; premixes and single supplements are not among them."""
SUPPLEMENT = 100.0
"""A single supplement holds at least this many times the need: a hundredth of the mix covers it (a judgement)."""


def with_rows_that_can_be_served(stage: StageNeeds, candidates: Sequence[Candidate]) -> StageNeeds:
    """`stage` with each vitamin among its rows, or among what is only checked, by what is on offer."""
    needs = [need for need in stage.needs if not need.gives_way]
    checked = [need for need in stage.premix_needs if not need.gives_way]
    for need in (*stage.needs, *stage.premix_needs):
        if need.gives_way:
            (needs if _served(need, candidates) else checked).append(need)
    return replace(stage, needs=tuple(needs), premix_needs=tuple(checked))


def _served(need: Need, candidates: Sequence[Candidate]) -> bool:
    """Whether something on offer is made to bring this vitamin."""
    least = need.minimum or 0.0
    for candidate in candidates:
        content = candidate.values.get(need.nutrient, 0.0)
        if candidate.premix_covers:
            inclusion = candidate.premix_inclusion if VITAMINS in candidate.premix_covers else None
            if inclusion and content * inclusion >= least:
                return True
        elif candidate.group not in FOODS and content >= SUPPLEMENT * least:
            return True
    return False
