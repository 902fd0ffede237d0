"""Integer programs: weights in whole steps of a scale, and the choice of a few mixes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf, isfinite
from typing import Any

import numpy as np

from rationlp.rations.program.program import Solution, SolverStatus
from rationlp.rations.solve.highs import Highs, Matrix, Problem, linear, run_plain, status_of

WholeRow = tuple[Mapping[int, float], float | None, float | None]
"""Coefficient by column, at least, at most."""
Column = tuple[float, float | None, bool]
"""Least, most (None: no end), whether a whole number."""
CLOSE = 1e-5
"""Of an amount, or of the terms of a row: the solver is no closer (what is weighed is judged again to the gram)."""
_ANOTHER: dict[str, Any] = {"random_seed": 1, "simplex_scale_strategy": 0}
"""Another way through the branches, where the first answer does not stand up."""
_DOUBTED = (SolverStatus.INFEASIBLE, SolverStatus.UNBOUNDED, SolverStatus.FAILED)
"""What is asked once more in another way before it is believed: there is no short proof of it."""
FEASIBLE = 2  # what HiGHS calls a point that keeps every row
NO_GUESSES: dict[str, Any] = dict.fromkeys(
    (
        "mip_heuristic_run_feasibility_jump",
        "mip_heuristic_run_rins",
        "mip_heuristic_run_rens",
        "mip_heuristic_run_root_reduced_cost",
    ),
    False,
)
"""Searches for a good answer before the branching: on programs of a dozen columns they take most of the time."""

ROOT_GUESS, MANY = "mip_heuristic_run_root_reduced_cost", 200
"""The one of them that pays from so many columns on."""
NODES = 2_000
"""How many branches of an integer program are looked at unless told otherwise; the same on every machine."""


@dataclass(frozen=True, slots=True)
class WholeAnswer:
    """What came of an integer program, and how far the bound on its cost may still fall.

    `solution.status` is optimal within the gap asked for, infeasible, or limit_reached: then `solution.amounts` are the
    best found so far (empty: none yet) and nothing is known of whether there is none.
    """

    solution: Solution
    unproven: float

    @property
    def found(self) -> bool:
        """Whether there are amounts to go by, proved the best or not."""
        return bool(self.solution.amounts)


def solve_whole(
    costs: Sequence[float],
    columns: Sequence[Column],
    rows: Sequence[WholeRow],
    gap: float,
    nodes: int = NODES,
    start: Sequence[float] = (),
) -> WholeAnswer:
    """Minimize sum(costs x columns), some columns whole numbers.

    `columns` are (lower, upper or None, whole); `rows` (coefficient by column, at least, at most). Stops within `gap`
    of the least cost, or after `nodes` branches with the best answer found: a limit by work, on one thread, so that the
    same question has the same answer on every machine, busy or not. `start` are amounts that keep everything, known
    from before: with a good one most branches need not be looked at.
    """
    matrix = matrix_of(rows)
    problem = _columns(costs, columns)
    guesses = NO_GUESSES | {ROOT_GUESS: len(columns) > MANY}
    solver = _solver(matrix, start, gapRel=0.0, gapAbs=gap, mip_max_nodes=nodes, **guesses)
    return _answered(solver, problem, costs, columns, matrix, gap)


def solve_linear(costs: Sequence[float], matrix: Matrix) -> Solution:
    """Minimize sum(costs x columns) over columns of 0 or more that keep the rows of `matrix`; amounts, cost, duals.

    Not an answer that breaks a row, but no proof either that none is cheaper: for searches whose answers are proved
    elsewhere.
    """
    columns = [(0.0, None, False)] * len(costs)
    return _answered(_solver(matrix), _columns(costs, columns), costs, columns, matrix, 0.0).solution


def _answered(
    solver: Highs, problem: Problem, costs: Sequence[float], columns: Sequence[Column], rows: Matrix, gap: float
) -> WholeAnswer:
    """What the solver says to a problem, asked another way where that cannot be taken."""
    highs = solver.solved(problem)
    found = _read(highs, costs, columns, rows, gap)
    if found is None or found.solution.status in _DOUBTED:
        run_plain(highs, _ANOTHER)
        found = _read(highs, costs, columns, rows, gap)
    return found or WholeAnswer(Solution(SolverStatus.FAILED), 0.0)


def _columns(costs: Sequence[float], columns: Sequence[Column]) -> Problem:
    problem, kinds = Problem("whole"), {True: "Integer", False: "Continuous"}
    made = [problem.add_variable(f"n{i:05d}", low, up, kinds[whole]) for i, (low, up, whole) in enumerate(columns)]
    problem.setObjective(linear(list(zip(made, costs, strict=True))))
    return problem


def _solver(matrix: Matrix, start: Sequence[float] = (), **told: Any) -> Highs:
    return Highs(matrix, start, msg=False, parallel="off", **told)


def matrix_of(rows: Sequence[WholeRow]) -> Matrix:
    """The rows, one that is bounded on both sides by different numbers as two."""
    sides: list[tuple[Mapping[int, float], float, float]] = []
    for terms, at_least, at_most in rows:
        if at_least is not None and at_least == at_most:  # as two rows HiGHS 1.16 may never leave the first branch
            sides.append((terms, at_least, at_least))
            continue
        if at_least is not None:
            sides.append((terms, at_least, inf))
        if at_most is not None:
            sides.append((terms, -inf, at_most))
    sizes = [len(terms) for terms, _, _ in sides]
    return Matrix(
        np.array([low for _, low, _ in sides]),
        np.array([high for _, _, high in sides]),
        np.cumsum([0, *sizes])[:-1].astype(np.int32),
        np.fromiter((j for terms, _, _ in sides for j in terms), np.int32, sum(sizes)),
        np.fromiter((a for terms, _, _ in sides for a in terms.values()), float, sum(sizes)),
    )


def _read(
    highs: Any,  # a highspy.Highs, which pulp hands over without its type
    costs: Sequence[float],
    columns: Sequence[Column],
    rows: Matrix,
    gap: float,
) -> WholeAnswer | None:
    """What the solver says now; None where its amounts are no answer to the program."""
    status = status_of(highs)
    info = highs.getInfo()
    stopped = status is SolverStatus.LIMIT_REACHED and info.primal_solution_status == FEASIBLE
    if status is not SolverStatus.OPTIMAL and not stopped:
        return WholeAnswer(Solution(status), inf if status is SolverStatus.LIMIT_REACHED else 0.0)
    said = [float(x) for x in highs.getSolution().col_value]
    if not _keeps(said, columns, rows):
        return None
    amounts = tuple(float(round(x)) if whole else x for x, (_, _, whole) in zip(said, columns, strict=True))
    objective = sum(c * x for c, x in zip(costs, amounts, strict=True))
    branched = any(whole for _, _, whole in columns)  # else there is no such bound
    if branched and not info.mip_dual_bound <= objective + gap + CLOSE * abs(objective):
        return None
    duals = () if branched else tuple(float(dual) for dual in highs.getSolution().row_dual)
    found = Solution(status, amounts, objective, row_duals=duals)
    return WholeAnswer(found, objective - info.mip_dual_bound if stopped else gap)


def _keeps(said: Sequence[float], columns: Sequence[Column], rows: Matrix) -> bool:
    """Whether amounts are numbers within the bounds of their columns, whole where they must be, and keep every row."""
    if len(said) != len(columns) or not all(map(isfinite, said)):
        return False
    for x, (low, high, whole) in zip(said, columns, strict=True):
        if not low - CLOSE * (1 + abs(low)) <= x <= (inf if high is None else high + CLOSE * (1 + abs(high))) or (
            whole and abs(x - round(x)) > CLOSE
        ):
            return False
    terms, count = rows.coefficients * np.asarray(said)[rows.columns], len(rows.lower)
    row = np.repeat(np.arange(count), np.diff([*rows.begins, len(terms)]))
    made = np.bincount(row, terms, count)
    room = CLOSE * (1 + np.bincount(row, np.abs(terms), count))
    return bool(np.all((made >= rows.lower - room) & (made <= rows.upper + room)))
