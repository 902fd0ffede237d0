"""Where the scales cannot show a batch: the next larger one whose weights they show, or the finer scale it takes."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from math import ceil

from rationlp.errors import SolverError
from rationlp.rations.answer.mix import IN_MIX
from rationlp.rations.formulate import SolvedRation
from rationlp.sheets.weights.even import FINEST_DOSE, even_mass
from rationlp.sheets.weights.rounding import whole_mix
from rationlp.sheets.weights.scale import Scale, down_to, exact, shown
from rationlp.sheets.weights.whole_program import DOSE_TOLERANCE

LARGEST = 8
"""Times the batch that is looked at where nobody says what the mixer holds, or where it holds none that can be weighed
(a judgement)."""
TRIES = 8  # batches that are weighed out in the search for the smallest
STRIDE = Fraction(3, 2)
"""How much larger the next batch is that is looked at while none works."""
FINER = (2, 5, 10, 20)
NOTHING_HELPS = "Set a finer scale_step or hand_scale_step on the sheet farm."


def what_can_be_weighed(recipe: SolvedRation, batch: Fraction, scale: Scale) -> str:
    """What makes a ration weighable that is not so in a `batch` (in the book's unit): another batch, or a finer scale.

    The batch is the smallest that was found; every one named was weighed out and judged.
    """
    holds = recipe.farm.settings.mixer_capacity_kg
    capacity = exact(holds, scale.unit) if holds else None
    most = down_to(capacity or LARGEST * batch, scale.step)
    size = _smallest(recipe, batch, most, scale)
    if size is not None:
        mixer = ", and the mixer holds it" if capacity else ""
        return f"A batch of {shown(size, scale.step, scale.unit)} can be weighed{mixer}."
    finer = next((n for n in FINER if _works(recipe, batch, _finer(scale, n))), None)
    if finer:
        which, step = ("hand scale", scale.hand_step) if scale.hand_below else ("scale", scale.step)
        return f"A {which} that shows {float(step / finer):g} {scale.unit} can weigh this batch."
    size = _smallest(recipe, most, LARGEST * batch, scale) if capacity else None
    if size is not None and capacity is not None:
        words = shown(size, scale.step, scale.unit)
        return f"A batch of {words} could be weighed; the mixer holds {shown(capacity, scale.step, scale.unit)}."
    return NOTHING_HELPS


def _finer(scale: Scale, times: int) -> Scale:
    if not scale.hand_below:
        return replace(scale, step=scale.step / times, hand_step=scale.step / times)
    return replace(scale, hand_step=scale.hand_step / times)


def _smallest(recipe: SolvedRation, above: Fraction, most: Fraction, scale: Scale) -> Fraction | None:
    """The smallest batch above one that was found to be weighable; None where none was. First those of which the doses
    of premix are whole divisions, which a legal most beside the dose asks for."""
    even = even_mass(recipe, scale)
    doses = [
        Fraction(candidate.premix_inclusion).limit_denominator(FINEST_DOSE)
        for share, candidate in zip(recipe.column_shares, recipe.formula.candidates, strict=True)
        if share > IN_MIX and candidate.premix_covers and candidate.premix_inclusion
    ]
    sizes = [n * scale.step for n in range(int(above / scale.step) + 1, int(most / scale.step) + 1)]
    shown_well = (s for s in sizes if all(_shown_well(s * dose, scale.hand_step) for dose in doses))
    for found in ([size for size in sizes if size % even == 0], list(shown_well)):
        if size := _first(found, lambda size: _works(recipe, size, scale)):
            return size
    return None


def _shown_well(dose: Fraction, step: Fraction) -> bool:
    """Whether a dose, rounded up to a step, is no more off than a dose may be."""
    return ceil(dose / step) * step - dose <= DOSE_TOLERANCE * dose


def _first(sizes: Sequence[Fraction], works: Callable[[Fraction], bool]) -> Fraction | None:
    """The first of `sizes` that works, as near as TRIES of them tell: from the smallest on in strides, then between the
    last that does not and the first that does."""
    no, yes = -1, len(sizes)
    for _ in range(TRIES):
        if yes < len(sizes):
            place = (no + yes) // 2
        else:
            place = min(bisect_left(sizes, STRIDE * sizes[no]), len(sizes) - 1) if no >= 0 else 0
        if place <= no or not sizes:
            break
        if works(sizes[place]):
            yes = place
        else:
            no = place
    return sizes[yes] if yes < len(sizes) else None


def _works(recipe: SolvedRation, size: Fraction, scale: Scale) -> bool:
    """Whether the weights of a batch miss nothing that the ration keeps."""
    try:
        mix = whole_mix(recipe, size, scale, nearby=True)
    except SolverError:
        return False
    known = recipe.verdict.severity.rank
    return mix is not None and not mix.misses and mix.ration.verdict.severity.rank <= known
