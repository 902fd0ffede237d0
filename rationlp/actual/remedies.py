"""What can be done with a wrong batch while it is still in the mixer."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from math import ceil
from typing import Protocol

from rationlp.book.records import Settings
from rationlp.book_units import BookUnits, units_of
from rationlp.finder import listed
from rationlp.reasons import Verdict
from rationlp.sheets.weights.scale import Scale, down_to, exact, farm_scale, nearest_to, up_to

MOST_THINNED = 2.05
"""A batch is not thinned to more than about twice its mass (common practice)."""
NOTHING = 0.05
"""Of a step of its scale: so little is not added."""
AS_IT_IS = (
    "Nothing need be added: as it was weighed it keeps what its sheet keeps. Ask the nutritionist before it is fed."
)
NOT_MENDED = "Adding what is missing does not mend it: keep it apart and ask."
STRANGER = "What does not belong in it cannot be taken out again: keep the batch apart and ask."


class Line(Protocol):
    """What a remedy asks of an ingredient: what was asked for, what went in, in kg; `words` where that is wrong."""

    @property
    def offer(self) -> str: ...
    @property
    def label(self) -> str: ...
    @property
    def asked_kg(self) -> float: ...
    @property
    def weighed_kg(self) -> float: ...
    @property
    def words(self) -> str: ...


def remedies(
    lines: Sequence[Line], verdict_of: Callable[[Mapping[str, float]], Verdict], sheet: Verdict, farm: Settings
) -> list[str]:
    """What to add while it is still in the mixer, in weights that the scales show: what is missing if that mends it,
    else all that thins the rest, in several parts where the mixer does not hold it at once.

    `verdict_of` judges masses in kg by offer. It is mended where no more is asked about it than about the sheet's
    ration.
    """
    if not any(line.words for line in lines):
        return []
    if any(not line.asked_kg and line.weighed_kg for line in lines):
        return [STRANGER]
    weighed = {line.offer: line.weighed_kg for line in lines}

    def mends(masses: Mapping[str, float]) -> bool:
        return verdict_of(masses).severity.rank <= sheet.severity.rank

    if mends(weighed):
        return [AS_IT_IS]
    scale, units = farm_scale(farm), units_of(farm)
    over = [line.weighed_kg / line.asked_kg for line in lines if line.asked_kg and line.words]
    for size in dict.fromkeys((1.0, max(1.0, *over))):
        total = sum(max(line.weighed_kg, size * line.asked_kg) for line in lines)
        parts = ceil(total / farm.mixer_capacity_kg) if farm.mixer_capacity_kg else 1
        adds = next(
            (
                adds
                for steps in (up_to, nearest_to, down_to)
                if (adds := _adds(lines, size, parts, scale, steps))
                and mends({name: mass + parts * adds.get(name, 0.0) for name, mass in weighed.items()})
            ),
            None,
        )
        if adds is None:
            continue
        if total > MOST_THINNED * sum(weighed.values()):
            return [
                f"To be right it would have to become {units.weight(total)}, more than can be mixed: keep it apart and "
                "ask."
            ]
        return [_words(lines, adds, sum(weighed.values()), parts, units)]
    return [NOT_MENDED]


def _adds(
    lines: Sequence[Line], size: float, parts: int, scale: Scale, steps: Callable[[Fraction, Fraction], Fraction]
) -> dict[str, float]:
    """What is added to each part, in kg by offer: whole `steps` of the scale it is weighed on."""
    found = {}
    for line in lines:
        short = exact(max(size * line.asked_kg - line.weighed_kg, 0.0) / parts, scale.unit)
        step = scale.hand_step if short < scale.hand_below else scale.step
        mass = steps(max(short - Fraction(NOTHING) * step, Fraction(0)), step)
        if mass:
            found[line.offer] = float(mass) * scale.kg
    return found


def _words(lines: Sequence[Line], adds: Mapping[str, float], mixed: float, parts: int, units: BookUnits) -> str:
    each = mixed / parts
    what = listed(f"{units.weight(adds[line.offer])} of {line.label}" for line in lines if line.offer in adds)
    total = units.weight(each + sum(adds.values()))
    if parts == 1:
        return (
            f"If it is still in the mixer: add {what} ({total} in all) and mix again for the full time. Then it meets "
            "the ration."
        )
    return (
        f"The mixer does not hold all that thins it: divide it into {parts} equal parts of {units.weight(each)}; to "
        f"each add {what} ({total} in all) and mix for the full time. Then each meets the ration."
    )
