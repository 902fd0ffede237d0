"""Needs, ratios, caps and offers as homogeneous rows of the program, each family by its own function."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.rations.candidates import Candidate
from rationlp.rations.limits import content
from rationlp.rations.model import Cap, ContaminantNeed, Need, RatioNeed
from rationlp.rations.program import Row

HOME_GROWN = "home-grown:"
WISH_RANK, NEED_RANK, ENERGY_RANK = 0, 1, 2
"""Where nothing meets everything: the home-grown share asked for gives way first, energy last."""


def need_weights(need: Need, candidates: Sequence[Candidate], energy: str | None) -> tuple[float, ...]:
    """How much one share of each candidate counts against the bound: 1, or its energy over the reference energy."""
    if need.reference_energy is None:
        return (1.0,) * len(candidates)
    return tuple(candidate.values[energy] / need.reference_energy for candidate in candidates)


def need_scale(bound: float) -> float:
    """Rows are divided by their bound, so that a shortfall reads as a fraction of the need."""
    return bound if bound > 0 else 1.0


def need_rows(need: Need, candidates: Sequence[Candidate], energy: str | None) -> list[Row]:
    """sum((a_i - r w_i) x_i) >= 0 for a minimum r, <= 0 for a maximum (methods of the feeding tables, homogeneous)."""
    weights = need_weights(need, candidates, energy)
    amounts = [candidate.values[need.nutrient] for candidate in candidates]
    rows = []
    for side, bound, sense in (("minimum", need.minimum, ">="), ("maximum", need.maximum, "<=")):
        if bound is None:
            continue
        scale = need_scale(bound)
        coefficients = tuple((a - bound * w) / scale for a, w in zip(amounts, weights, strict=True))
        key = f"{need.kind}:{need.nutrient}:{side}:{need.basis}"
        rank = ENERGY_RANK if need.kind == "energy_floor" else WISH_RANK if need.gives_way else NEED_RANK
        rows.append(Row(key, coefficients, sense, relaxable=not need.safety, rank=rank))
    return rows


def contaminant_rows(need: ContaminantNeed, candidates: Sequence[Candidate]) -> list[Row]:
    """The assayed bins at the safe side of their content, everything else at nothing; never given up."""
    scale = need_scale(need.maximum)
    coefficients = tuple((need.safe_contents.get(c.name, 0.0) - need.maximum) / scale for c in candidates)
    return [Row(f"contaminant:{need.nutrient}", coefficients, "<=")]


def ratio_rows(ratio: RatioNeed, candidates: Sequence[Candidate]) -> list[Row]:
    """sum((a_i - r b_i) x_i) against zero, for a over b."""
    rows = []
    for side, bound, sense in (("minimum", ratio.minimum, ">="), ("maximum", ratio.maximum, "<=")):
        if bound is not None:
            coefficients = tuple(c.values[ratio.numerator] - bound * c.values[ratio.denominator] for c in candidates)
            key = f"ratio:{ratio.numerator}:{ratio.denominator}:{side}"
            rows.append(Row(key, coefficients, sense, relaxable=side == "minimum" or not ratio.safety))
    return rows


def cap_rows(cap: Cap, candidates: Sequence[Candidate]) -> list[Row]:
    """The crop or feed counted wherever it comes from, the bins' blends by its share included."""
    rows = []
    carried = [content(cap, candidate) for candidate in candidates]
    for side, bound, sense in (("at most", cap.max_share, "<="), ("at least", cap.min_share, ">=")):
        if bound is not None:
            key = f"limit:{cap.feed}:{side}:{cap.evidence}"
            rows.append(Row(key, tuple(share - bound for share in carried), sense))
    return rows


def offer_rows(candidate: Candidate, index: int, count: int) -> list[Row]:
    """The smallest and largest share of one offer that the book allows."""
    bounds = (("at least", candidate.min_share, ">="), ("at most", candidate.max_share, "<="))
    if candidate.is_fixed:
        bounds = (("exactly", candidate.min_share, "="),)
    return [
        Row(f"offer:{candidate.name}:{side}", tuple((j == index) - bound for j in range(count)), sense)
        for side, bound, sense in bounds
        if bound is not None
    ]


def home_grown_rows(candidates: Sequence[Candidate], least_share: float) -> list[Row]:
    """The share of home-grown feed in the mix, at least; the first to give way where it cannot be had."""
    if not least_share:
        return []
    coefficients = tuple(float(candidate.home_grown) - least_share for candidate in candidates)
    return [Row(f"{HOME_GROWN}at least {100 * least_share:g} %", coefficients, ">=", relaxable=True, rank=WISH_RANK)]


def premix_rows(candidates: Sequence[Candidate]) -> list[Row]:
    """Vitamins and trace minerals: the premixes on offer add up to exactly one dose each."""
    rows = []
    for part in ("vitamins", "trace_minerals"):
        doses = [
            1 / candidate.premix_inclusion if part in candidate.premix_covers and candidate.premix_inclusion else 0.0
            for candidate in candidates
        ]
        if any(doses):
            rows.append(Row(f"premix:{part}", tuple(dose - 1 for dose in doses), "="))
    return rows
