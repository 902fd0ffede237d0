"""HiGHS through PuLP, both as they are used here: made alike by PuLP 3 and 4, silent, read from HiGHS itself."""

from __future__ import annotations

import contextlib
import os
import sys
import warnings
from collections.abc import Iterable, Iterator

from rationlp.rations.program.program import SolverStatus

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
OPTIONS = {"primal_feasibility_tolerance": 1e-9, "dual_feasibility_tolerance": 1e-9}
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


class Highs(pulp.HiGHS):  # type: ignore[misc]  # pulp has no types
    """PuLP's HiGHS, whose answer is read from HiGHS itself: PuLP knows no word for some ways to stop (a node limit)."""

    def findSolutionValues(self, lp: pulp.LpProblem) -> tuple[int, int]:
        """Nothing is handed over to PuLP's variables."""
        return pulp.constants.LpStatusNotSolved, pulp.constants.LpSolutionNoSolutionFound


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
