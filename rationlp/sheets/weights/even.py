"""Batches of which the doses of premix are whole divisions of the scale they are weighed on."""

from __future__ import annotations

from fractions import Fraction

from rationlp.rations.answer.mix import IN_MIX
from rationlp.rations.formulate import SolvedRation
from rationlp.sheets.weights.scale import Scale, common_multiple, down_to, exact, shown, up_to

MOST_EXTRA = 2
"""A batch for so many days is made larger, so that doses come out even, by no more than it is itself (common practice:
the feed is eaten next)."""
FINEST_DOSE = 10**6  # a dose of premix is a fraction with no larger denominator


def even_mass(recipe: SolvedRation, scale: Scale) -> Fraction:
    """The mass of which every batch must be a whole multiple so that its doses of premix are whole divisions of the
    hand scale. It matters because a dose may often be neither smaller (the need) nor larger (a legal maximum)."""
    return common_multiple(
        scale.step,
        *(
            scale.hand_step / Fraction(candidate.premix_inclusion).limit_denominator(FINEST_DOSE)
            for share, candidate in zip(recipe.column_shares, recipe.formula.candidates, strict=True)
            if share > IN_MIX and candidate.premix_covers and candidate.premix_inclusion
        ),
    )


def even_words(recipe: SolvedRation, batch: Fraction, scale: Scale) -> str:
    """The nearest batches of which the premix is whole divisions of the hand scale, and which the mixer holds; empty
    where this one is, and where there is none within MOST_EXTRA of it."""
    even, capacity = even_mass(recipe, scale), recipe.farm.settings.mixer_capacity_kg
    most = min(MOST_EXTRA * batch, exact(capacity, scale.unit)) if capacity else MOST_EXTRA * batch
    sizes = [shown(size, scale.step) for size in (down_to(batch, even), up_to(batch, even)) if 0 < size <= most]
    if batch % even == 0 or not sizes:
        return ""
    which = "hand scale" if scale.hand_below else "scale"
    return f"Mix {' or '.join(sizes)} {scale.unit}: the premix is then a whole number of divisions of the {which}."
