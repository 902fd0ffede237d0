"""Integer programs: weights in whole steps of a scale, and the choice of a few mixes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf, isfinite
from typing import Any

from rationlp.rations.program.program import Solution, SolverStatus
from rationlp.rations.solve.highs import Highs, Problem, linear, run_plain, status_of

WholeRow = tuple[Mapping[int, float], float | None, float | None]
"""Coefficient by column, at least, at most."""
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
    columns: Sequence[tuple[float, float | None, bool]],
    rows: Sequence[WholeRow],
    gap: float,
    nodes: int = NODES,
) -> WholeAnswer:
    """Minimize sum(costs x columns), some columns whole numbers.

    `columns` are (lower, upper or None, whole); `rows` (coefficient by column, at least, at most). Stops within `gap`
    of the least cost, or after `nodes` branches with the best answer found: a limit by work, on one thread, so that the
    same question has the same answer on every machine, busy or not.
    """
    problem = Problem("whole")
    kinds = {True: "Integer", False: "Continuous"}
    made = [problem.add_variable(f"n{i:05d}", low, up, kinds[whole]) for i, (low, up, whole) in enumerate(columns)]
    problem += linear(list(zip(made, costs, strict=True)))
    for coefficients, at_least, at_most in rows:
        terms = [(made[i], a) for i, a in coefficients.items()]
        if at_least is not None and at_least == at_most:  # as two rows HiGHS 1.16 may never leave the first branch
            problem += linear(terms) == at_least
            continue
        if at_least is not None:
            problem += linear(terms) >= at_least
        if at_most is not None:
            problem += linear(terms) <= at_most
    highs = Highs(msg=False, gapRel=0.0, gapAbs=gap, mip_max_nodes=nodes, parallel="off", **NO_GUESSES).solved(problem)
    found = _read(highs, costs, columns, rows, gap)
    if found is None or found.solution.status in _DOUBTED:
        run_plain(highs, _ANOTHER)
        found = _read(highs, costs, columns, rows, gap)
    return found or WholeAnswer(Solution(SolverStatus.FAILED), 0.0)


def _read(
    highs: Any,  # a highspy.Highs, which pulp hands over without its type
    costs: Sequence[float],
    columns: Sequence[tuple[float, float | None, bool]],
    rows: Sequence[WholeRow],
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
    return WholeAnswer(Solution(status, amounts, objective), objective - info.mip_dual_bound if stopped else gap)


def _keeps(
    said: Sequence[float], columns: Sequence[tuple[float, float | None, bool]], rows: Sequence[WholeRow]
) -> bool:
    """Whether amounts are numbers within the bounds of their columns, whole where they must be, and keep every row."""
    if len(said) != len(columns) or not all(map(isfinite, said)):
        return False
    for x, (low, high, whole) in zip(said, columns, strict=True):
        if not low - CLOSE * (1 + abs(low)) <= x <= (inf if high is None else high + CLOSE * (1 + abs(high))) or (
            whole and abs(x - round(x)) > CLOSE
        ):
            return False
    for coefficients, at_least, at_most in rows:
        terms = [a * said[i] for i, a in coefficients.items()]
        room = CLOSE * (1 + sum(map(abs, terms)))
        if (at_least is not None and sum(terms) < at_least - room) or (
            at_most is not None and sum(terms) > at_most + room
        ):
            return False
    return True
