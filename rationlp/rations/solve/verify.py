"""Every answer is checked before anyone sees it: rows and cost recomputed, primal against dual."""

from __future__ import annotations

from rationlp.errors import SolverError
from rationlp.rations.program.program import Program, ProgramRow, Solution

TOLERANCE = 1e-6  # relative to the size of the terms of a row, of the cost, of a price


def verify(program: Program, solution: Solution) -> None:
    """Check that `solution` solves `program`. Raises SolverError with everything that does not hold.

    Checked from the amounts and duals alone: amounts not negative, the normalization, every row; prices of the duals
    (no column is worth more than it costs, no row has a price of the wrong sign); strong duality, which makes the
    answer optimal (G. B. Dantzig, Linear Programming and Extensions, 1963, duality theorem).
    """
    faults = [*_primal_faults(program, solution), *_dual_faults(program, solution)]
    if faults:
        raise SolverError("The solver's answer did not stand up to the check, so it is not shown: " + "; ".join(faults))


def row_holds(program: Program, row: ProgramRow, amounts: tuple[float, ...]) -> bool:
    """Whether `row` holds at `amounts`, up to rounding of its own terms."""
    value = program.value(row, amounts)
    slack = TOLERANCE * _size(row.coefficients, amounts)
    if row.sense == "=":
        return abs(value) <= slack
    return value >= -slack if row.sense == ">=" else value <= slack


def _primal_faults(program: Program, solution: Solution) -> list[str]:
    faults = [
        f"the amount of {column} is {amount:g}"
        for column, amount in zip(program.columns, solution.amounts, strict=True)
        if amount < 0
    ]
    total = sum(n * x for n, x in zip(program.normalizer, solution.amounts, strict=True))
    if abs(total - 1) > TOLERANCE:
        faults.append(f"the mix adds up to {total:g} instead of 1")
    faults += [f"{row.key} is broken" for row in program.rows if not row_holds(program, row, solution.amounts)]
    return faults


def _dual_faults(program: Program, solution: Solution) -> list[str]:
    faults = []
    scale = max(map(abs, program.costs), default=0.0) or 1.0
    prices = [program.normalizer[j] * solution.norm_dual for j in range(len(program.columns))]
    sizes = [abs(price) for price in prices]
    for row, dual in zip(program.rows, solution.row_duals, strict=True):
        if (row.sense == ">=" and dual < -TOLERANCE * scale) or (row.sense == "<=" and dual > TOLERANCE * scale):
            faults.append(f"the price of {row.key} has the wrong sign")
        if dual:
            for j, a in enumerate(row.coefficients):
                prices[j] += a * dual
                sizes[j] = max(sizes[j], abs(a * dual))
    for j, column in enumerate(program.columns):
        if prices[j] - program.costs[j] > TOLERANCE * max(scale, sizes[j]):
            faults.append(f"{column} is worth more than it costs")
    if abs(solution.norm_dual - program.cost(solution.amounts)) > TOLERANCE * max(scale, abs(solution.norm_dual)):
        faults.append(f"cost {program.cost(solution.amounts):g} and its dual {solution.norm_dual:g} differ")
    return faults


def _size(coefficients: tuple[float, ...], amounts: tuple[float, ...]) -> float:
    return max((abs(a * x) for a, x in zip(coefficients, amounts, strict=True)), default=0.0) or 1e-9
