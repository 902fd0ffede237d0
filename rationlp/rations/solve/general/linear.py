"""The linear program of a year: columns come in, prices and right sides change, every answer is checked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf, isfinite

from rationlp.rations.program.program import SolverStatus
from rationlp.rations.solve.highs import OPTIONS, Highs, Problem, linear, run_on, run_plain, status_of

TOLERANCE = 1e-6
"""Of the terms of a row, of the cost, of a price."""


@dataclass(frozen=True, slots=True)
class LinearAnswer:
    """What the solver said of a `LiveLinear`. `row_duals` are the change of the cost for one more unit of a right side.

    Numbers only where `status` is optimal.
    """

    status: SolverStatus
    amounts: tuple[float, ...] = ()
    cost: float = float("nan")
    row_duals: tuple[float, ...] = ()


class LiveLinear:
    """Minimize sum(costs x columns), columns at least 0 (or more), rows equal to their right sides; kept in the solver.

    Columns come in, costs and right sides change in place. Every row has a column from the start.
    """

    def __init__(self, costs: Sequence[float], rows: Sequence[tuple[Mapping[int, float], float]]):
        problem = Problem("linear")
        made = [problem.add_variable(f"n{i:05d}", 0, None) for i in range(len(costs))]
        problem += linear(list(zip(made, costs, strict=True)))
        for coefficients, right in rows:
            problem += linear([(made[i], a) for i, a in coefficients.items()]) == right
        self._highs = Highs(msg=False, **OPTIONS).solved(problem)
        self._costs = list(costs)
        self._least, self._most = [0.0] * len(self._costs), [inf] * len(self._costs)
        self._right = [right for _, right in rows]
        self._columns: list[Mapping[int, float]] = [
            {row: terms[j] for row, (terms, _) in enumerate(rows) if terms.get(j)} for j in range(len(self._costs))
        ]

    def add_column(self, cost: float, coefficients: Mapping[int, float]) -> int:
        """One more column with its coefficient by row; its place. Nothing is solved yet."""
        filled = {row: a for row, a in coefficients.items() if a}
        self._highs.addCol(cost, 0.0, self._highs.getInfinity(), len(filled), list(filled), list(filled.values()))
        self._costs.append(cost)
        self._least.append(0.0)
        self._most.append(inf)
        self._columns.append(filled)
        return len(self._costs) - 1

    def set_cost(self, column: int, cost: float) -> None:
        """Another cost of a column; nothing is solved yet."""
        if cost != self._costs[column]:
            self._highs.changeColCost(column, cost)
            self._costs[column] = cost

    def set_most(self, column: int, most: float, least: float = 0.0) -> None:
        """The most of a column, infinite for no end, and the least; nothing is solved yet."""
        self._highs.changeColBounds(column, least, min(most, self._highs.getInfinity()))
        self._least[column], self._most[column] = least, most

    def set_coefficient(self, row: int, column: int, value: float) -> None:
        """Another coefficient; nothing is solved yet."""
        self._highs.changeCoeff(row, column, value)
        self._columns[column] = {**self._columns[column], row: value}

    def set_right(self, row: int, right: float) -> None:
        """Another right side of a row; nothing is solved yet."""
        self._highs.changeRowBounds(row, right, right)
        self._right[row] = right

    def run(self) -> LinearAnswer:
        """Solve what stands now, from the last answer; from cold where that leads nowhere, then in the plain way.

        An answer that does not stand up to the check is looked for in the plain way too, then `failed`.
        """
        run_on(self._highs)
        found = self._read()
        if found.status is SolverStatus.OPTIMAL and not self._stands(found):
            run_plain(self._highs)
            found = self._read()
            if found.status is SolverStatus.OPTIMAL and not self._stands(found):
                return LinearAnswer(SolverStatus.FAILED)
        return found

    def _read(self) -> LinearAnswer:
        status = status_of(self._highs)
        if status is not SolverStatus.OPTIMAL:
            return LinearAnswer(status)
        found = self._highs.getSolution()
        amounts = tuple(max(x, 0.0) for x in found.col_value)
        cost = sum(c * x for c, x in zip(self._costs, amounts, strict=True))
        return LinearAnswer(status, amounts, cost, tuple(found.row_dual))

    def _stands(self, found: LinearAnswer) -> bool:
        """Whether an answer keeps rows and bounds, and its prices prove that none costs less (strong duality)."""
        if len(found.row_duals) != len(self._right) or not all(map(isfinite, (*found.amounts, *found.row_duals))):
            return False
        left, sizes = [0.0] * len(self._right), [abs(right) for right in self._right]
        paid = sum(right * dual for right, dual in zip(self._right, found.row_duals, strict=True))
        priced = sum(abs(right * dual) for right, dual in zip(self._right, found.row_duals, strict=True))
        scale = max(map(abs, self._costs), default=0.0) or 1.0
        ends = zip(self._least, self._most, strict=True)
        for x, (least, most), cost, terms in zip(found.amounts, ends, self._costs, self._columns, strict=True):
            if not least - TOLERANCE <= x <= most + TOLERANCE:
                return False
            worth = [a * found.row_duals[row] for row, a in terms.items()]
            beyond = cost - sum(worth)
            paid += max(beyond, 0.0) * least
            if most < inf:
                paid += min(beyond, 0.0) * most
            elif beyond < -TOLERANCE * max(scale, *map(abs, worth)):
                return False
            for row, a in terms.items():
                left[row] += a * x
                sizes[row] += abs(a * x)
        kept = all(
            abs(made - right) <= TOLERANCE * (1.0 + size)
            for made, right, size in zip(left, self._right, sizes, strict=True)
        )
        return kept and abs(paid - found.cost) <= TOLERANCE * max(1.0, abs(found.cost), priced)
