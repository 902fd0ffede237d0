"""Vitamins and trace minerals: when they are a row of the program.

No grain is bought for its biotin: that would make a sow's feed a fifth dearer where a better premix costs cents. So
what a premix brings is a row where something on offer is made to bring it, a single supplement or a premix that covers
the need at a dose its maker allows; then premixes, their doses, single supplements and, of what feeds bring
too, the feeds compete. Otherwise it is checked, and short means short.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rationlp.feeds.candidates import PREMIX_HALVES, Candidate
from rationlp.feeds.spread import GROWN
from rationlp.library.read import Library
from rationlp.stages.model import Need
from rationlp.stages.stage import StageNeeds

FOODS = GROWN | {"bin", "fat"}
"""Groups of candidates that are fed for what they are; premixes and single supplements are not among them."""
SUPPLEMENT = 100.0
"""A single supplement holds at least this many times the need: a hundredth of the mix covers it (a judgement)."""
MAIN_PART = 0.9
"""A premix that brings this part of what feeds bring too is made for it: they are good for the rest (a judgement)."""

OF_PREMIX = 0.5
"""A premix whose dose brings this part of a maximum decides whether it can be kept (a judgement)."""


def with_rows_that_can_be_served(stage: StageNeeds, candidates: Sequence[Candidate], library: Library) -> StageNeeds:
    """`stage` with what premixes bring among its rows, or among what is only checked, by what is on offer."""
    brought = tuple(sorted({candidate.group for candidate in candidates} - FOODS))
    needs = [need for need in stage.needs if not need.gives_way]
    checked = []
    for need in (*(need for need in stage.needs if need.gives_way), *stage.premix_needs):
        if not serves(need, candidates, library):
            checked.append(need)
        else:
            needs.append(replace(need, gives_way=True, of_groups=brought if premix_alone(need, library) else ()))
    return replace(stage, needs=tuple(needs), premix_needs=tuple(checked))


def premix_alone(need: Need, library: Library) -> bool:
    """Whether what feeds hold of it does not count: vitamins A, D, E, K, B12 and riboflavin."""
    known = library.nutrients[need.nutrient]
    return known.kind == "vitamin" and known.met_by == "premix"


def serves(need: Need, candidates: Sequence[Candidate], library: Library) -> bool:
    """Whether one of these is made to bring what is needed of this vitamin or trace mineral."""
    least = (need.minimum or 0.0) * (1.0 if premix_alone(need, library) else MAIN_PART)
    for candidate in candidates:
        content = candidate.values.get(need.nutrient, 0.0)
        if candidate.premix_covers:
            if content and content * (candidate.most_premix or 0.0) >= least:
                return True
        elif candidate.group not in FOODS and content >= SUPPLEMENT * least:
            return True
    return False


def half_of(need: Need, library: Library) -> str | None:
    """The half of a premix that brings what is needed; nothing for what premixes are not made of."""
    known = library.nutrients.get(need.nutrient)
    return PREMIX_HALVES.get(known.kind) if known is not None else None


def maximum_of_premix(need: Need, candidates: Sequence[Candidate], library: Library) -> bool:
    """Whether a dose of any premix on offer brings most of a maximum of a vitamin or trace mineral.

    What mends a mix that passes it is another premix.
    """
    half = half_of(need, library)
    if need.maximum is None or half is None:
        return False
    doses = [
        c.values.get(need.nutrient, 0.0) * (c.premix_inclusion or 0.0) for c in candidates if half in c.premix_covers
    ]
    return min((dose for dose in doses if dose), default=0.0) >= OF_PREMIX * need.maximum
