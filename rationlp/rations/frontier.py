"""What each further percent of home-grown feed costs: a frontier, not a point."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import floor

from rationlp.book.records import Book
from rationlp.library.read import Library
from rationlp.rations.formulate import Formula, formula_of, tasks
from rationlp.rations.program import Program, Solution
from rationlp.rations.rows import home_grown_rows
from rationlp.rations.solver import solve
from rationlp.rations.verify import verify


@dataclass(frozen=True, slots=True)
class FrontierPoint:
    """The cheapest ration with at least this share of home-grown feed.

    `price_of_next_percent` is the cost per tonne of one percent more, by the dual of the floor.
    """

    stage: str
    bin: str
    home_grown_share: float
    cost_per_tonne: float
    cost_per_gcal: float | None
    price_of_next_percent: float


def frontiers(
    book: Book, library: Library, stages: Iterable[str] = (), bins: Iterable[str] = (), together: bool = False
) -> list[FrontierPoint]:
    """The frontier of every stage and bin, one after the other."""
    return [
        point
        for stage, estimates, offers in tasks(book, library, stages, bins, together)
        for point in frontier(formula_of(stage, estimates, offers, book, library))
    ]


def frontier(formula: Formula) -> list[FrontierPoint]:
    """From the least-cost ration to the largest home-grown share there is, at every whole percent between.

    Empty if no ration meets everything. The cost at the same energy as the tables reckon it: with the energy objective
    the cost per tonne may move with the energy of the mix.
    """
    cheapest = solve(formula.program)
    if cheapest.status != "optimal":
        return []
    verify(formula.program, cheapest)
    least = _share(formula, cheapest)
    most = _most_home_grown(formula)
    steps = [percent / 100 for percent in range(floor(100 * least) + 1, floor(100 * most + 1e-9) + 1)]
    levels = [least, *steps]
    if most - levels[-1] > 1e-6:
        levels.append(most)
    return [point for level in levels if (point := _point(formula, level)) is not None]


def _most_home_grown(formula: Formula) -> float:
    """The largest home-grown share of a mix that meets every row."""
    costs = tuple(-float(candidate.home_grown) for candidate in formula.candidates)
    program = replace(formula.program, costs=costs, normalizer=(1.0,) * len(costs))
    solution = solve(program)
    verify(program, solution)
    return -solution.objective


def _point(formula: Formula, level: float) -> FrontierPoint | None:
    program: Program = formula.program
    floors = home_grown_rows(formula.candidates, level * (1 - 1e-9))
    program = replace(program, rows=(*program.rows, *floors))
    solution = solve(program)
    if solution.status != "optimal":
        return None
    verify(program, solution)
    cost = _per_tonne(formula, solution.amounts, [c.price_per_tonne for c in formula.candidates])
    energy = formula.stage.energy
    density = energy and _per_tonne(formula, solution.amounts, [c.values[energy] for c in formula.candidates])
    return FrontierPoint(
        stage=formula.stage.stage,
        bin=formula.bin,
        home_grown_share=_share(formula, solution),
        cost_per_tonne=cost,
        cost_per_gcal=1000 * cost / density if density else None,
        price_of_next_percent=max(solution.row_duals[-1], 0.0) / 100 if floors else 0.0,
    )


def _share(formula: Formula, solution: Solution) -> float:
    grown = sum(x for x, c in zip(solution.amounts, formula.candidates, strict=True) if c.home_grown)
    return grown / sum(solution.amounts)


def _per_tonne(formula: Formula, amounts: Sequence[float], figures: Sequence[float]) -> float:
    """A figure of every candidate, averaged over the mix."""
    return sum(x * figure for x, figure in zip(amounts, figures, strict=True)) / sum(amounts)
