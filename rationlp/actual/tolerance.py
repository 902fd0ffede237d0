"""How far the feed as mixed may be from its formula before it is another feed: the tolerances of a regulator."""

from __future__ import annotations

from collections.abc import Iterator

from rationlp.errors import given
from rationlp.figures import nutrient_label
from rationlp.library.read import Library
from rationlp.numbers import figure
from rationlp.rations.answer.model import Ration
from rationlp.reasons import Kind, Reason, Severity
from rationlp.sheets.practice import PROTEIN_POINTS_ABOVE, TOLERANCE_SOURCE, TOLERANCES, Tolerance


def beyond_tolerance(formula: Ration, mixed: Ration, library: Library) -> Iterator[Reason]:
    """Nutrients of the mix outside the tolerance around the formula; none of them alone forbids feeding."""
    for tolerance in TOLERANCES:
        for nutrient in tolerance.nutrients:
            meant, is_ = _held(formula, nutrient), _held(mixed, nutrient)
            if meant is None or is_ is None or meant <= 0:
                continue
            room = _room(tolerance, meant)
            side = "under" if is_ < meant else "over"
            if side in tolerance.sides and abs(is_ - meant) > room * (1 + 1e-9):
                unit = library.units.get(nutrient, "")
                yield Reason(
                    Kind.LAW,
                    Severity.ASK,
                    f"{nutrient_label(nutrient, library)} is {figure(is_)} {unit}, the ration has {figure(meant)}: "
                    f"more than the {figure(room, 3)} off that a regulator allows.",
                    nutrient=nutrient,
                    unit=unit,
                    value=is_,
                    limit=meant,
                    source=f"{TOLERANCE_SOURCE.source}, Schedule 1",
                )


def _held(ration: Ration, nutrient: str) -> float | None:
    """What a ration holds, the premix counted."""
    for line in ration.requirements:
        if line.nutrient == nutrient:
            return line.gives
    return ration.analysis.get(nutrient)


def _room(tolerance: Tolerance, meant: float) -> float:
    """The tolerance at a formula of `meant`, in the nutrient's unit."""
    if tolerance.up_to is None or meant <= tolerance.up_to:
        if tolerance.points is not None:
            return tolerance.points
    elif "crude_protein" in tolerance.nutrients:
        return PROTEIN_POINTS_ABOVE
    return given(tolerance.fraction, "the tolerance as a fraction") * meant
