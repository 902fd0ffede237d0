"""Bounds of a ration that nobody saw on a page, and what a tenth of a bound costs."""

from __future__ import annotations

from collections.abc import Iterable
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
        lines = [
            *(
                (
                    r.label,
                    bound_range(r.minimum, r.maximum, r.unit),
                    r.how,
                    r.source,
                    r.note,
                    cost_of_a_tenth(r, r.gives, ration),
                )
                for r in ration.requirements
            ),
            *(
                (
                    r.label,
                    bound_range(r.minimum, r.maximum, ""),
                    r.how,
                    r.source,
                    r.note,
                    cost_of_a_tenth(r, r.gives, ration),
                )
                for r in ration.ratios
                if r.minimum is not None or r.maximum is not None
            ),
            *(
                (
                    c.label,
                    bound_range(c.min_pct, c.max_pct, "%"),
                    c.how,
                    c.source,
                    c.reason,
                    cost_of_a_tenth(c, c.gives_pct, ration),
                )
                for c in ration.limits
                if c.gives_pct or c.binding
            ),
        ]
        for label, value, how, source, note, weight in lines:
            if MEMORY in how or any(word in how for word in ASSUMED):
                held = found.get((ration.stage, label))
                row = held or Weak("bound", f"{ration.stage}: {label}", value, how, source, note)
                found[ration.stage, label] = replace(row, weight=row.weight + weight)
    return found.values()


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
