"""PuLP builds the program, HiGHS solves it in this process. No other file imports either."""

from __future__ import annotations

import contextlib
import os
import sys
import warnings
from collections.abc import Iterator

from rationlp.rations.program import Program, Solution

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)
    import pulp

_STATUS = {
    "kOptimal": "optimal",
    "kInfeasible": "infeasible",
    "kUnbounded": "unbounded",
    "kUnboundedOrInfeasible": "infeasible",  # amounts are bounded by the normalization
}
# PuLP 3 makes an expression by its class, PuLP 4 by a method of the class.
_linear = getattr(pulp.LpAffineExpression, "from_list", pulp.LpAffineExpression)
_quiet_from_now_on = False


def solve(program: Program) -> Solution:
    """Solve `program` once, from cold."""
    # PuLP 3 hands columns over by name, PuLP 4 as they were made: padded names make both the same.
    problem = pulp.LpProblem("ration", pulp.LpMinimize)
    columns = [problem.add_variable(f"x{i:05d}", 0, None) for i in range(len(program.columns))]
    problem += _linear(list(zip(columns, program.costs, strict=True)))
    for i, row in enumerate(program.rows):
        problem += _constraint(columns, row.coefficients, row.sense, 0.0), f"r{i}"
    problem += _constraint(columns, program.normalizer, "=", 1.0), "normalization"
    with _no_banner():
        problem.solve(pulp.HiGHS(msg=False))
    return _read(problem.solverModel, program)


def _constraint(columns: list, coefficients: tuple[float, ...], sense: str, right: float):
    left = _linear([(column, a) for column, a in zip(columns, coefficients, strict=True) if a])
    if sense == ">=":
        return left >= right
    return left <= right if sense == "<=" else left == right


def _read(highs, program: Program) -> Solution:
    """Status, amounts and duals from the live HiGHS object; columns and rows stand as they were added."""
    status = _STATUS.get(highs.getModelStatus().name, "failed")
    if status != "optimal":
        return Solution(status)
    answer = highs.getSolution()
    amounts = tuple(max(x, 0.0) for x in list(answer.col_value))
    *row_duals, norm_dual = list(answer.row_dual)
    return Solution("optimal", amounts, program.cost(amounts), tuple(row_duals), norm_dual, tuple(answer.col_dual))


@contextlib.contextmanager
def _no_banner() -> Iterator[None]:
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
