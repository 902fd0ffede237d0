"""The confidence of a ration: which rows carry a chance, what it costs, and the best there is if it is out of reach."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rationlp.feeds.candidates import Candidate
from rationlp.rations.program.program import Program, Solution
from rationlp.rations.program.rows import need_scale
from rationlp.rations.program.variance import ratio_variance, row_variance
from rationlp.rations.solve.chance import ChanceRow, solve_with_chance, with_fixed_margins
from rationlp.rations.solve.model import Confidence
from rationlp.rations.solve.solver import solve
from rationlp.rations.solve.verify import verify
from rationlp.stages.model import AVERAGES_PCT, Need, RatioNeed

STEPS = 24  # of the search for the best probability, halving each time


def chance_rows(
    program: Program,
    sources: Sequence[object],
    candidates: Sequence[Candidate],
    energy: str | None,
    confidence_pct: float,
) -> list[ChanceRow]:
    """Every row of a need or a ratio with the variances its candidates bring; a need may ask for more than the rest.

    Needs that bite at once carry a chance of their own (`probability_pct`, from ceilings.csv of the library).
    """
    found = []
    for index, (row, source) in enumerate(zip(program.rows, sources, strict=True)):
        if not isinstance(source, Need | RatioNeed):
            continue
        bound = source.minimum if row.sense == ">=" else source.maximum
        asked = confidence_pct
        if isinstance(source, Need):
            scale = need_scale(bound)
            variances = tuple(row_variance(source, bound, c.spread, energy) / scale**2 for c in candidates)
            asked = max(asked, source.probability_pct or 0.0)
        else:
            variances = tuple(ratio_variance(source, bound, c.spread) for c in candidates)
        found.append(ChanceRow(index, variances, asked / 100))
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
    """The highest probability, in percent, that all rows together can have, and its ration.

    Rows with a higher chance of their own keep it as long as the others can have at least even odds with them.
    """
    own = [chance for chance in chances if chance.probability > confidence_pct / 100]
    if own:
        even = [c if c in own else replace(c, probability=AVERAGES_PCT / 100) for c in chances]
        own = own if solve_with_chance(program, even)[1].status == "optimal" else []
    low, high = AVERAGES_PCT, confidence_pct
    found = _at(program, chances, own, low)
    for _ in range(STEPS):
        middle = (low + high) / 2
        answer = _at(program, chances, own, middle)
        if answer[1].status == "optimal":
            low, found = middle, answer
        else:
            high = middle
    return low, found


def _at(
    program: Program, chances: Sequence[ChanceRow], own: Sequence[ChanceRow], probability_pct: float
) -> tuple[Program, Solution]:
    """The answer at a common probability, rows in `own` at their own."""
    return solve_with_chance(
        program, [c if c in own else replace(c, probability=min(c.probability, probability_pct / 100)) for c in chances]
    )
