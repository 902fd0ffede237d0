"""A cost below which no mix of a program goes, from any prices of its rows, verified or not."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from rationlp.rations.program.program import Program, ProgramRow
from rationlp.rations.program.rows import USUAL_RANK


def cost_bound(program: Program, row_duals: Sequence[float] = ()) -> float:
    """The most that weak duality promises of the least cost, with these prices of the rows and with none.

    Prices of the wrong sign count as none, and so do those of what the trade uses at most, which may be eased (G. B.
    Dantzig, Linear Programming and Extensions, 1963: any prices that no column is worth more than it costs at bound the
    cost from below).
    """
    priced = [_allowed(row, dual) for row, dual in zip(program.rows, row_duals, strict=False)]
    return max(_bound(program, priced), _bound(program, ()))


def _allowed(row: ProgramRow, dual: float) -> float:
    if row.rank == USUAL_RANK and row.relaxable:
        return 0.0
    return {">=": max(dual, 0.0), "<=": min(dual, 0.0), "=": dual}[row.sense]


def _bound(program: Program, duals: Sequence[float]) -> float:
    left = list(program.costs)
    for row, dual in zip(program.rows, duals, strict=False):
        if dual:
            left = [cost - a * dual for cost, a in zip(left, row.coefficients, strict=True)]
    least = inf
    for cost, size in zip(left, program.normalizer, strict=True):
        if size > 0:
            least = min(least, cost / size)
        elif cost < 0:  # a feed that is worth more than it costs and counts nothing: no bound
            return -inf
    return least
