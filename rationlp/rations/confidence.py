"""The confidence of a ration: which rows carry a chance, what it costs, and the best there is if it is out of reach."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rationlp.rations.candidates import Candidate
from rationlp.rations.chance import ChanceRow, solve_with_chance, with_fixed_margins
from rationlp.rations.model import Confidence, Need
from rationlp.rations.program import Program, Solution
from rationlp.rations.rows import need_scale
from rationlp.rations.solver import solve
from rationlp.rations.spread import row_variance
from rationlp.rations.verify import verify

STEPS = 24  # of the search for the best probability, halving each time


def chance_rows(
    program: Program,
    sources: Sequence[object],
    candidates: Sequence[Candidate],
    energy: str | None,
    confidence_pct: float,
) -> list[ChanceRow]:
    """Every row of a need with the variances its candidates bring; a need may ask for more than `confidence_pct`."""
    found = []
    for index, (row, need) in enumerate(zip(program.rows, sources, strict=True)):
        if not isinstance(need, Need):
            continue
        bound = need.minimum if row.sense == ">=" else need.maximum
        scale = need_scale(bound)
        variances = tuple(row_variance(need, bound, c.spread, energy) / scale**2 for c in candidates)
        found.append(ChanceRow(index, variances, max(confidence_pct, need.probability_pct or 0.0) / 100))
    return found


def solve_confidently(
    program: Program, chances: Sequence[ChanceRow], confidence_pct: float, unit: str
) -> tuple[Program, Solution, Confidence | None]:
    """The least-cost ration that keeps every chance, verified, with what the chance costs.

    If no ration keeps them all, the one with the best common probability that can be had; if even the plain averages
    cannot be met, an infeasible answer and no confidence.
    """
    averages = solve(program)
    if averages.status != "optimal":
        return program, averages, None
    verify(program, averages)
    attained, (cut, solution) = confidence_pct, solve_with_chance(program, chances)
    if solution.status != "optimal":
        attained, (cut, solution) = _best(program, chances, confidence_pct)
    verify(cut, solution)
    fixed = solve(with_fixed_margins(program, chances))
    return cut, solution, Confidence(
        asked_pct=confidence_pct,
        attained_pct=attained,
        unit=unit,
        cost=solution.objective,
        cost_of_averages=averages.objective,
        cost_of_fixed_margins=fixed.objective if fixed.status == "optimal" else None,
    )  # fmt: skip


def _best(
    program: Program, chances: Sequence[ChanceRow], confidence_pct: float
) -> tuple[float, tuple[Program, Solution]]:
    """The highest probability, in percent, that all rows together can have, and its ration."""
    low, high = 50.0, confidence_pct
    found = (program, solve(program))
    for _ in range(STEPS):
        middle = (low + high) / 2
        answer = solve_with_chance(program, [replace(c, probability=min(c.probability, middle / 100)) for c in chances])
        if answer[1].status == "optimal":
            low, found = middle, answer
        else:
            high = middle
    return low, found
