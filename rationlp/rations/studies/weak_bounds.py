"""Bounds of a ration that nobody saw on a page, and what a tenth of a bound costs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from rationlp.rations.answer.model import LimitLine, RatioLine, Ration, RequirementLine
from rationlp.rations.formulate import SolvedRation
from rationlp.rations.studies.figure_weights import A_TENTH

MEMORY = "memory"
ASSUMED = ("analogy", "common practice")
KCAL_PER_GCAL_OF_A_TONNE = 1000.0
"""Kilocalories in a kilogram that make a gigacalorie in a tonne."""


@dataclass(frozen=True, slots=True)
class Weak:
    """A figure or bound behind the rations that nobody saw on a page: from memory, by analogy, by practice.

    `weight` is money per tonne for 10 percent more of it, summed over the rations.
    """

    what: str
    where: str
    value: str
    how: str
    source: str
    note: str
    weight: float = 0.0


def weak_bounds(makes: Iterable[SolvedRation]) -> Iterable[Weak]:
    """Requirements, ratios and caps of the rations that rest on memory or practice, each once for its stage."""
    found: dict[tuple[str, str], Weak] = {}
    for made in makes:
        ration = made.ration
        for line, value, note, gives in _bounds(ration):
            if MEMORY in line.how or any(word in line.how for word in ASSUMED):
                new = Weak("bound", f"{ration.stage}: {line.label}", value, line.how, line.source, note)
                row = found.get((ration.stage, line.label)) or new
                weight = row.weight + cost_of_a_tenth(line, gives, ration)
                found[ration.stage, line.label] = replace(row, weight=weight)
    return found.values()


def _bounds(ration: Ration) -> Iterator[tuple[RequirementLine | RatioLine | LimitLine, str, str, float | None]]:
    """Each bound of a ration: its line, the bound in words, what is said of it, what the mix supplies."""
    for need in ration.requirements:
        yield need, bound_range(need.minimum, need.maximum, need.unit), need.note, need.gives
    for ratio in ration.ratios:
        if ratio.minimum is not None or ratio.maximum is not None:
            yield ratio, bound_range(ratio.minimum, ratio.maximum, ""), ratio.note, ratio.gives
    for cap in ration.limits:
        if cap.gives_pct or cap.binding:
            yield cap, bound_range(cap.min_pct, cap.max_pct, "%"), cap.reason, cap.gives_pct


def cost_of_a_tenth(line: RequirementLine | RatioLine | LimitLine, bound: float | None, ration: Ration) -> float:
    """Money per tonne for 10 percent more of the bound that a line lies on."""
    if not line.shadow_price or bound is None:
        return 0.0
    per_tonne = 1.0 if line.shadow_price_of == "tonne" else (ration.energy_kcal_kg or 0.0) / KCAL_PER_GCAL_OF_A_TONNE
    return A_TENTH * abs(line.shadow_price * bound) * per_tonne


def bound_range(low: float | None, high: float | None, unit: str) -> str:
    """A bound in words, with its unit."""
    parts = [f"{word} {bound:.4g}" for word, bound in (("least", low), ("most", high)) if bound is not None]
    return f"{', '.join(parts)} {unit}".strip()
