"""HiGHS through PuLP, both as they are used here: made alike by PuLP 3 and 4, silent, read from HiGHS itself."""

from __future__ import annotations

import contextlib
import os
import sys
import warnings
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Self

import numpy as np

from rationlp.rations.program.program import RowArrays, SolverStatus

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)
    import pulp

STATUS = {
    "kOptimal": SolverStatus.OPTIMAL,
    "kInfeasible": SolverStatus.INFEASIBLE,
    "kUnbounded": SolverStatus.UNBOUNDED,
    "kUnboundedOrInfeasible": SolverStatus.INFEASIBLE,  # amounts are bounded by the normalization
    "kTimeLimit": SolverStatus.LIMIT_REACHED,
    "kIterationLimit": SolverStatus.LIMIT_REACHED,
    "kSolutionLimit": SolverStatus.LIMIT_REACHED,  # HiGHS calls a limit of nodes so as well
    "kInterrupt": SolverStatus.LIMIT_REACHED,
    "kMemoryLimit": SolverStatus.LIMIT_REACHED,
}
PLAIN: dict[str, Any] = {"presolve": "off", "simplex_strategy": 4, "simplex_scale_strategy": 0}
"""No presolve, no scaling, the primal simplex: little in common with how a program is solved as always."""
SETTLED = ("kOptimal", "kInfeasible")
OPTIONS: dict[str, Any] = {"primal_feasibility_tolerance": 1e-9, "dual_feasibility_tolerance": 1e-9}
# PuLP 3 makes an expression by its class, PuLP 4 by a method of the class.
linear = getattr(pulp.LpAffineExpression, "from_list", pulp.LpAffineExpression)
_quiet_from_now_on = False


class Problem(pulp.LpProblem):  # type: ignore[misc]  # pulp has no types
    """A problem that makes all its variables itself: PuLP 3 looks for them in every row, three times a solve."""

    made = 0

    def add_variable(self, *told: object) -> pulp.LpVariable:
        """A variable of the problem, counted."""
        self.made += 1
        return super().add_variable(*told)

    def _add_variables(self, variables: Iterable[pulp.LpVariable]) -> None:
        """Looks only until every variable was found. PuLP 4 never asks."""
        if len(self._variables) < self.made:
            super()._add_variables(variables)


@dataclass(frozen=True, slots=True, eq=False)
class Matrix:
    """Rows that fill most columns, as HiGHS takes them at once: bounds by row; by entry its column and coefficient, and
    at which entry each row begins."""

    lower: np.ndarray
    upper: np.ndarray
    begins: np.ndarray
    columns: np.ndarray
    coefficients: np.ndarray

    @classmethod
    def of(cls, arrays: RowArrays, normalizer: Sequence[float] | None = None) -> Self:
        """Rows of a program, the normalization behind them where it is given."""
        full, lower, upper = (
            arrays.coefficients,
            np.where(arrays.signs > 0, -np.inf, 0.0),
            np.where(arrays.signs < 0, np.inf, 0.0),
        )
        if normalizer is not None:
            full, lower, upper = np.vstack((full, normalizer)), np.append(lower, 1.0), np.append(upper, 1.0)
        rows, columns = full.nonzero()
        begins = np.searchsorted(rows, np.arange(len(full))).astype(np.int32)
        return cls(lower, upper, begins, columns.astype(np.int32), full[rows, columns])

    def add_to(self, highs: Any) -> None:  # a highspy.Highs, which pulp hands over without its type
        """Put the rows behind those that HiGHS has."""
        filled = len(self.coefficients)
        highs.addRows(len(self.lower), self.lower, self.upper, filled, self.begins, self.columns, self.coefficients)

    @classmethod
    def under_each_other(cls, blocks: Sequence[tuple[Self, int]]) -> Self:
        """The rows of each block in turn, its columns moved to the right by so many places."""
        filled = np.cumsum([0, *(len(block.coefficients) for block, _ in blocks)])
        return cls(
            np.concatenate([block.lower for block, _ in blocks]),
            np.concatenate([block.upper for block, _ in blocks]),
            np.concatenate([block.begins + n for (block, _), n in zip(blocks, filled, strict=False)]).astype(np.int32),
            np.concatenate([block.columns + right for block, right in blocks]).astype(np.int32),
            np.concatenate([block.coefficients for block, _ in blocks]),
        )


class Highs(pulp.HiGHS):  # type: ignore[misc]  # pulp has no types
    """PuLP's HiGHS, whose answer is read from HiGHS itself: PuLP has no word for some ways to stop, 4.2 no old words.

    `matrix` are rows beside those of the problem, which PuLP would take longer to hand over than HiGHS to solve.
    `start` are amounts that keep all rows, to begin a search at.
    """

    def __init__(self, matrix: Matrix | None = None, start: Sequence[float] = (), **told: Any) -> None:
        super().__init__(**told)
        self._matrix, self._start = matrix, start

    def buildSolverModel(self, lp: pulp.LpProblem) -> None:
        """The problem as PuLP has it, and the matrix."""
        super().buildSolverModel(lp)
        if self._matrix is not None:
            self._matrix.add_to(lp.solverModel)
        if self._start:
            places = np.arange(len(self._start), dtype=np.int32)
            lp.solverModel.setSolution(len(places), places, np.array(self._start))

    def solved(self, problem: pulp.LpProblem) -> Any:  # a highspy.Highs, which pulp hands over without its type
        """The HiGHS object that solved `problem`; nothing is handed over to PuLP's variables."""
        with no_banner():
            self.createAndConfigureSolver(problem)
            self.buildSolverModel(problem)
            self.callSolver(problem)
        return problem.solverModel


def status_of(highs: Any) -> SolverStatus:  # a highspy.Highs, which pulp hands over without its type
    """What HiGHS says of the program it solved last."""
    return STATUS.get(highs.getModelStatus().name, SolverStatus.FAILED)


def run_on(highs: Any) -> None:
    """Solve what stands, from the last answer; where that leads nowhere from cold, then from cold in the plain way."""
    highs.run()
    if highs.getModelStatus().name not in SETTLED:
        highs.clearSolver()
        highs.run()
    if highs.getModelStatus().name not in SETTLED:
        run_plain(highs)


def run_plain(highs: Any, options: Mapping[str, object] = PLAIN) -> None:
    """Solve what stands from cold in the plain way (or with other `options`); what comes next is solved as before."""
    before = {name: highs.getOptionValue(name)[1] for name in options}
    highs.clearSolver()
    for name, value in options.items():
        highs.setOptionValue(name, value)
    highs.run()
    for name, value in before.items():
        highs.setOptionValue(name, value)


@contextlib.contextmanager
def no_banner() -> Iterator[None]:
    """Keep the two lines that HiGHS writes on its first use in a process away from stdout.

    They are written below Python, so that the file descriptor itself is turned to the null device meanwhile.
    """
    global _quiet_from_now_on
    if _quiet_from_now_on:
        yield
        return
    sys.stdout.flush()
    saved = os.dup(1)
    null = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(null, 1)
        yield
    finally:
        os.dup2(saved, 1)
        os.close(saved)
        os.close(null)
        _quiet_from_now_on = True
