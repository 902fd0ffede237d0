"""What each further percent of home-grown feed costs: a frontier, not a point."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import floor

from rationlp.farm import Farm
from rationlp.rations.formulate import formula_of, ration_tasks
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.program import Solution
from rationlp.rations.program.rows import USUAL_RANK, home_grown_rows
from rationlp.rations.solve.optimum import solve_at
from rationlp.rations.solve.settle import eased_formula
from rationlp.stages.model import AVERAGES_PCT

ROOM = 1e-7  # a floor at the very largest share that can be had is lowered by this part
STEP = 1e-5  # of share, by which the price of the next percent is asked for above a level


@dataclass(frozen=True, slots=True)
class FrontierPoint:
    """The cheapest ration with at least this share of home-grown feed.

    `price_of_next_percent` is the cost of one percent more in a tonne of the same energy, by the dual of the floor just
    above; None at the largest share there is within what the trade uses at most. `past_usual` says that only a mix past
    that has this share: such a ration is for a nutritionist to decide.
    """

    stage: str
    bin: str
    home_grown_share: float
    cost_per_tonne: float
    cost_per_gcal: float | None
    price_of_next_percent: float | None
    past_usual: bool = False


def frontiers(
    farm: Farm, stages: Iterable[str] = (), bins: Iterable[str] = (), together: bool = False
) -> list[FrontierPoint]:
    """The frontier of every stage and bin, one after the other, at the confidence of the book."""
    return [
        point
        for stage, group in ration_tasks(farm, stages, bins, together)
        for point in frontier(formula_of(farm, stage, group), farm.settings.confidence_pct)
    ]


def frontier(formula: Formula, confidence_pct: float = AVERAGES_PCT) -> list[FrontierPoint]:
    """From the least-cost ration to the largest home-grown share there is, at every whole percent between.

    Empty if no ration meets everything at the confidence. With the energy objective the cost per tonne may move with
    the energy of the mix.
    """
    cheapest, past_usual = _solved(formula, confidence_pct)
    if cheapest.status != "optimal":
        return []
    least = _share(formula, cheapest)
    most = [] if past_usual else [_most_home_grown(formula, confidence_pct)]
    most += [
        beyond for beyond in [_most_home_grown(_unusual(formula), confidence_pct)] if beyond > (most or [least])[-1]
    ]
    steps = [percent / 100 for percent in range(floor(100 * least) + 1, floor(100 * most[-1] + 1e-9) + 1)]
    levels = [least]
    for level in sorted({*steps, *most}):
        if level - levels[-1] > 1e-6:
            levels.append(level)
    return [point for level in levels if (point := _point(formula, level, confidence_pct)) is not None]


def _solved(formula: Formula, confidence_pct: float) -> tuple[Solution, bool]:
    """The least-cost answer, and whether it had to pass what the trade uses at most (rationlp.rations.solve.settle)."""
    _, solution = solve_at(formula, formula.program, confidence_pct)
    if solution.status == "optimal":
        return solution, False
    eased = eased_formula(formula, confidence_pct)
    if eased is None:
        return solution, False
    return solve_at(eased, eased.program, confidence_pct)[1], True


def _unusual(formula: Formula) -> Formula:
    """The formula without what the trade uses at most."""
    kept = [
        (row, source)
        for row, source in zip(formula.program.rows, formula.sources, strict=True)
        if row.rank != USUAL_RANK
    ]
    program = replace(formula.program, rows=tuple(row for row, _ in kept))
    return replace(formula, program=program, sources=tuple(source for _, source in kept))


def _most_home_grown(formula: Formula, confidence_pct: float) -> float:
    """The largest home-grown share of a mix that meets every row."""
    costs = tuple(-float(candidate.home_grown) for candidate in formula.candidates)
    program = replace(formula.program, costs=costs, normalizer=(1.0,) * len(costs))
    _, solution = solve_at(formula, program, confidence_pct)
    return -solution.objective


def _point(formula: Formula, level: float, confidence_pct: float) -> FrontierPoint | None:
    solution, past_usual = _solved(_with_floor(formula, level * (1 - ROOM)), confidence_pct)
    if solution.status != "optimal":
        return None
    higher = _with_floor(formula, level + STEP)
    _, above = solve_at(higher, higher.program, confidence_pct)
    cost = _per_tonne(formula, solution.amounts, [c.price_per_tonne for c in formula.candidates])
    energy = formula.stage.energy
    density = energy and _per_tonne(formula, solution.amounts, [c.values[energy] for c in formula.candidates])
    return FrontierPoint(
        stage=formula.stage.stage,
        bin=formula.bin,
        home_grown_share=_share(formula, solution),
        cost_per_tonne=cost,
        cost_per_gcal=1000 * cost / density if density else None,
        price_of_next_percent=max(above.row_duals[len(formula.program.rows)], 0.0) / 100 if above.row_duals else None,
        past_usual=past_usual,
    )


def _with_floor(formula: Formula, level: float) -> Formula:
    """The formula with at least this share of home-grown feed."""
    floors = home_grown_rows(formula.candidates, level)
    program = replace(formula.program, rows=(*formula.program.rows, *floors))
    return replace(formula, program=program, sources=(*formula.sources, *(None,) * len(floors)))


def _share(formula: Formula, solution: Solution) -> float:
    grown = sum(x for x, c in zip(solution.amounts, formula.candidates, strict=True) if c.home_grown)
    return grown / sum(solution.amounts)


def _per_tonne(formula: Formula, amounts: Sequence[float], figures: Sequence[float]) -> float:
    """A figure of every candidate, averaged over the mix."""
    return sum(x * figure for x, figure in zip(amounts, figures, strict=True)) / sum(amounts)
