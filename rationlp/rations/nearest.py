"""When nothing meets everything: the mix that comes nearest, and which rows cannot hold together."""

from __future__ import annotations

from dataclasses import replace

from rationlp.errors import SolverError
from rationlp.rations.program import Program, Row, Solution
from rationlp.rations.solver import solve
from rationlp.rations.verify import verify


def nearest_mix(program: Program) -> tuple[float, ...] | None:
    """The amounts with the least total shortfall, each relative to its own need, and then the least cost.

    Rows that are not relaxable hold as they are; if they cannot, there is no such mix and the answer is None. The
    amounts add up to one whatever the normalization of `program`. Raises SolverError if the solver fails.
    """
    relaxed = _elastic(program)
    first = solve(relaxed)
    if first.status == "infeasible":
        return None
    _trust(relaxed, first)
    ceiling = first.objective * (1 + 1e-7) + 1e-9
    columns = len(program.columns)
    held = Row("least shortfall", tuple(cost - ceiling * n for cost, n in zip(relaxed.costs, relaxed.normalizer, strict=True)), "<=")
    slacks = len(relaxed.columns) - columns
    cheapest = replace(relaxed, costs=(*program.costs, *(0.0,) * slacks), rows=(*relaxed.rows, held))
    second = solve(cheapest)
    _trust(cheapest, second)
    return second.amounts[:columns]


def least_shortfall(program: Program) -> float | None:
    """The least total shortfall, each relative to its need, or None where the rows that never give way cannot hold."""
    first = solve(_elastic(program))
    return first.objective if first.status == "optimal" else None


def conflict(program: Program, laws_only: bool = False) -> tuple[str, ...]:
    """Keys of an irreducible set of rows that cannot hold together, found by leaving out one row after the other.

    Laws of the mix are left out first, so that the set names requirements where it can; with `laws_only` it is looked
    for among the rows that never give way (deletion filter: J. W. Chinneck, Feasibility and Infeasibility in
    Optimization, 2008, chapter 6).
    """
    rows = [row for row in program.rows if not (laws_only and row.relaxable)]
    kept = sorted(rows, key=lambda row: row.relaxable)
    for row in list(kept):
        fewer = [other for other in kept if other is not row]
        if solve(replace(program, rows=tuple(fewer))).status == "infeasible":
            kept = fewer
    return tuple(row.key for row in kept)


def _elastic(program: Program) -> Program:
    """`program` with a slack for each relaxable row and side, minimizing the sum of slacks at one unit of mix."""
    columns = len(program.columns)
    signs = {">=": (1.0,), "<=": (-1.0,), "=": (1.0, -1.0)}
    slacks = [(i, sign) for i, row in enumerate(program.rows) if row.relaxable for sign in signs[row.sense]]
    rows = tuple(
        replace(row, coefficients=(*row.coefficients, *(sign if i == of else 0.0 for of, sign in slacks)))
        for i, row in enumerate(program.rows)
    )
    return Program(
        columns=(*program.columns, *(f"shortfall of {program.rows[of].key}" for of, _ in slacks)),
        costs=(0.0,) * columns + (1.0,) * len(slacks),
        rows=rows,
        normalizer=(1.0,) * columns + (0.0,) * len(slacks),
    )


def _trust(program: Program, solution: Solution) -> None:
    if solution.status != "optimal":
        raise SolverError(f"The solver could not find the nearest ration (it says: {solution.status}).")
    verify(program, solution)
