"""Every answer is checked before anyone sees it: rows and cost recomputed, primal against dual."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

import numpy as np

from rationlp.errors import SolverError
from rationlp.rations.program.program import (
    NOTHING_LEFT_OUT,
    LeftOut,
    Program,
    ProgramRow,
    RowArrays,
    Solution,
    SolverStatus,
)

TOLERANCE = 1e-6  # relative to the size of the bound of a row, of the cost, of a price
DUST = 1e-9  # of the largest weight of a proof: what the solver leaves of nothing
EXACT = 1e-13  # of the terms of a sum: what double precision may lose in it
_SIGNS = {">=": 1.0, "<=": -1.0, "=": 0.0}
ZERO = 2e-9  # of a row at one tonne of mix: what the solver calls nothing, where a row has no size of its own


def verify(program: Program, solution: Solution) -> None:
    """Check that `solution` solves `program`. Raises SolverError with everything that does not hold.

    Checked from the amounts and duals alone: every figure a number, amounts not negative, the normalization, every row;
    prices of the duals (no column is worth more than it costs, no row has a price of the wrong sign); strong duality,
    which makes the answer optimal (G. B. Dantzig, Linear Programming and Extensions, 1963, duality theorem).
    """
    found = faults(program, solution)
    if found:
        raise SolverError("The solver's answer did not stand up to the check, so it is not shown: " + "; ".join(found))


def faults(
    program: Program, solution: Solution, left_out: LeftOut = NOTHING_LEFT_OUT, arrays: RowArrays | None = None
) -> list[str]:
    """Everything about an answer called optimal that does not hold, but for what is left out of the program.

    `arrays` are those of the rows, where they are at hand.
    """
    unfit = _unfit(program, solution)
    if unfit:
        return unfit
    arrays = arrays or RowArrays.of(program.rows, len(program.columns))
    found = _primal_faults(program, solution, left_out, arrays)
    if not _prices_stand(program, solution, left_out, arrays):
        found += _dual_faults(program, solution, left_out)
    return found


def proves_none(
    program: Program, weights: Sequence[float], norm_weight: float, left_out: LeftOut = NOTHING_LEFT_OUT
) -> bool:
    """Whether these weights of the rows and of the normalization prove that no mix keeps all rows of `program`.

    Weights of the sign of their rows (others count nothing) make one row that every mix must keep; where no column has
    anything in it, no mix keeps it (G. Farkas, Theorie der einfachen Ungleichungen, Journal fuer die reine und
    angewandte Mathematik 124, 1902).
    """
    sign = 1.0 if norm_weight > 0 else -1.0
    heights = [abs(weight) * max(map(abs, row.coefficients)) for row, weight in zip(program.rows, weights, strict=True)]
    prices, sizes = [0.0] * len(program.columns), [0.0] * len(program.columns)
    if not all(map(isfinite, heights)):
        return False
    for i, (row, weight) in enumerate(zip(program.rows, weights, strict=True)):
        held = sign * weight
        if i in left_out.rows or held * _SIGNS[row.sense] < 0 or heights[i] <= DUST * max(heights):
            continue
        for j, a in enumerate(row.coefficients):
            if a:
                prices[j] += held * a
                sizes[j] += abs(held * a)
    return any(sizes) and all(
        price + EXACT * size < 0 if n else price <= DUST * size
        for j, (price, size, n) in enumerate(zip(prices, sizes, program.normalizer, strict=True))
        if j not in left_out.columns
    )


def row_holds(program: Program, row: ProgramRow, amounts: Sequence[float]) -> bool:
    """Whether `row` holds at `amounts`, up to rounding of its own terms."""
    return excess(program, row, amounts) <= 0.0


def excess(program: Program, row: ProgramRow, amounts: Sequence[float]) -> float:
    """By how much `row` is missed at `amounts` beyond its rounding, in its own scale; below zero where it holds."""
    value = program.value(row, tuple(amounts))
    missed = {">=": -value, "<=": value, "=": abs(value)}[row.sense]
    return missed - room(row, amounts)


def room(row: ProgramRow, amounts: Sequence[float]) -> float:
    """What rounding may move `row` by: a part of the bound as the mix has it, which no cancelling makes small."""
    size = sum(size * x for size, x in zip(row.magnitudes, amounts, strict=True) if x)
    return TOLERANCE * size + ZERO * sum(amounts)


def _unfit(program: Program, solution: Solution) -> list[str]:
    """Why an answer is none at all: not called optimal, figures missing, or not numbers."""
    columns, rows = len(program.columns), len(program.rows)
    if solution.status != SolverStatus.OPTIMAL:
        return [f"it is called {solution.status}"]
    counts = (len(solution.amounts), len(solution.reduced_costs), len(solution.row_duals))
    if counts != (columns, columns, rows):
        return ["it has not a figure for every feed and every row"]
    figures = (*solution.amounts, *solution.row_duals, *solution.reduced_costs, solution.norm_dual, solution.objective)
    return [] if all(map(isfinite, figures)) else ["a figure in it is not a number"]


def _primal_faults(program: Program, solution: Solution, left_out: LeftOut, arrays: RowArrays) -> list[str]:
    found = [
        f"the amount of {column} is {amount:g}"
        for j, (column, amount) in enumerate(zip(program.columns, solution.amounts, strict=True))
        if amount < 0 or (amount > ZERO and j in left_out.columns)
    ]
    total = sum(n * x for n, x in zip(program.normalizer, solution.amounts, strict=True))
    if abs(total - 1) > TOLERANCE:
        found.append(f"the mix adds up to {total:g} instead of 1")
    near = _near_its_room(arrays, solution.amounts)
    return found + [
        f"{program.rows[i].key} is broken"
        for i in near
        if i not in left_out.rows and not row_holds(program, program.rows[i], solution.amounts)
    ]


def _near_its_room(arrays: RowArrays, amounts: Sequence[float]) -> list[int]:
    """The places of the rows that are missed by more than half of what rounding may move them by: all looked at in one
    product."""
    held = np.array(amounts)
    value = arrays.coefficients @ held
    missed = np.where(arrays.signs == 0.0, np.abs(value), arrays.signs * value)
    near = missed > (TOLERANCE * (arrays.sizes @ held) + ZERO * held.sum()) / 2
    return [int(place) for place in np.flatnonzero(near)]


def _prices_stand(program: Program, solution: Solution, left_out: LeftOut, arrays: RowArrays) -> bool:
    """Whether nothing that `_dual_faults` looks at is wrong by more than half of what it allows: all in one product."""
    duals, costs, normalizer = np.array(solution.row_duals), np.array(program.costs), np.array(program.normalizer)
    room = TOLERANCE / 2 * (np.abs(costs).max(initial=0.0) or 1.0)
    cost = program.cost(solution.amounts)
    if max(abs(solution.norm_dual - cost), abs(solution.objective - cost)) > room:
        return False
    if (arrays.signs * duals > room).any() or any(duals[row] for row in left_out.rows):
        return False
    over = normalizer * solution.norm_dual + duals @ arrays.coefficients - costs
    return all(place in left_out.columns for place in np.flatnonzero(over > room).tolist())


def _dual_faults(program: Program, solution: Solution, left_out: LeftOut) -> list[str]:
    found = []
    scale = max(map(abs, program.costs), default=0.0) or 1.0
    prices = [program.normalizer[j] * solution.norm_dual for j in range(len(program.columns))]
    sizes = [abs(price) for price in prices]
    for i, (row, dual) in enumerate(zip(program.rows, solution.row_duals, strict=True)):
        if dual and i in left_out.rows:
            found.append(f"{row.key} has a price and was left out")
        if (row.sense == ">=" and dual < -TOLERANCE * scale) or (row.sense == "<=" and dual > TOLERANCE * scale):
            found.append(f"the price of {row.key} has the wrong sign")
        if dual:
            for j, (a, size) in enumerate(zip(row.coefficients, row.magnitudes, strict=True)):
                prices[j] += a * dual
                sizes[j] = max(sizes[j], abs(a * dual), abs(size * dual))
    for j, column in enumerate(program.columns):
        if j not in left_out.columns and prices[j] - program.costs[j] > TOLERANCE * max(scale, sizes[j]):
            found.append(f"{column} is worth more than it costs")
    cost = program.cost(solution.amounts)
    if abs(solution.norm_dual - cost) > TOLERANCE * max(scale, abs(solution.norm_dual)):
        found.append(f"cost {cost:g} and its dual {solution.norm_dual:g} differ")
    if abs(solution.objective - cost) > TOLERANCE * max(scale, abs(cost)):
        found.append(f"cost {cost:g} and the cost it is said to have, {solution.objective:g}, differ")
    return found
