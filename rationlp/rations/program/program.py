"""The ration program as plain labelled numbers, before any solver sees it.

Shares are written homogeneously: every row compares a weighted sum of the shares with zero, and one
normalization fixes their scale. A minimum r on nutrient a is sum((a_i - r) x_i) >= 0. With sum(x) = 1 the
program minimizes cost per tonne; with sum(e_i x_i) = 1 it minimizes cost per unit of energy
(A. Charnes, W. W. Cooper, Programming with linear fractional functionals, Naval Research Logistics Quarterly 9, 1962).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal, Self

import numpy as np

from rationlp.numbers import Floats

Sense = Literal[">=", "<=", "="]
_SIGNS = {"<=": 1.0, ">=": -1.0, "=": 0.0}


@dataclass(frozen=True, slots=True)
class ProgramRow:
    """sum(coefficients x shares) `sense` 0.

    Parameters
    ----------
    key : names the row, unique in the program
    coefficients : one per column
    relaxable : whether the nearest ration may break it (a requirement), or never (a safety cap, a law of the mix)
    rank : of rows that may be broken, the order in which they are kept: the highest rank gives way last
    sizes : per column the size of the bound it counts against (r w_i of a coefficient a_i - r w_i, in the row's own
        scale; the amount a_i where the bound is nothing): what rounding is measured by, since a_i and r w_i may cancel.
        Without them a coefficient is its own size.
    """

    key: str
    coefficients: tuple[float, ...]
    sense: Sense
    relaxable: bool = False
    rank: int = 1
    sizes: tuple[float, ...] = ()

    @property
    def magnitudes(self) -> tuple[float, ...]:
        """The size of the terms of each column, never cancelled."""
        return self.sizes or tuple(map(abs, self.coefficients))

    @property
    def can_bind(self) -> bool:
        """Whether any amounts at all break the row; one that nothing breaks need not be in a program."""
        if self.sense == ">=":
            return min(self.coefficients) < 0
        return max(self.coefficients) > 0 if self.sense == "<=" else any(self.coefficients)


@dataclass(frozen=True, slots=True)
class Program:
    """Minimize sum(costs x shares) over shares >= 0, under `rows` and sum(normalizer x shares) = 1."""

    columns: tuple[str, ...]
    costs: tuple[float, ...]
    rows: tuple[ProgramRow, ...]
    normalizer: tuple[float, ...]

    def value(self, row: ProgramRow, amounts: tuple[float, ...]) -> float:
        """The left side of `row` at `amounts`."""
        return sum(a * x for a, x in zip(row.coefficients, amounts, strict=True) if x)

    def cost(self, amounts: tuple[float, ...]) -> float:
        """The objective at `amounts`."""
        return sum(c * x for c, x in zip(self.costs, amounts, strict=True))


@dataclass(frozen=True, slots=True, eq=False)
class RowArrays:
    """Rows as arrays, row by column: their coefficients, the sizes of the terms, and by row the sign of what misses it:
    1 for at most, -1 for at least, 0 where either side does."""

    coefficients: Floats
    sizes: Floats
    signs: Floats

    @classmethod
    def of(cls, rows: Sequence[ProgramRow], columns: int) -> Self:
        """The arrays of some rows of a program of so many columns."""
        return cls(
            np.array([row.coefficients for row in rows], dtype=float).reshape(-1, columns),
            np.array([row.magnitudes for row in rows], dtype=float).reshape(-1, columns),
            np.array([_SIGNS[row.sense] for row in rows], dtype=float),
        )

    def followed_by(self, more: RowArrays) -> RowArrays:
        """These rows and more behind them."""
        return RowArrays(
            np.concatenate((self.coefficients, more.coefficients)),
            np.concatenate((self.sizes, more.sizes)),
            np.concatenate((self.signs, more.signs)),
        )

    def only(self, places: Sequence[int]) -> RowArrays:
        """The rows at these places."""
        return RowArrays(self.coefficients[places], self.sizes[places], self.signs[places])


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Columns of a program that are held at nothing, and rows that need not hold."""

    columns: frozenset[int] = frozenset()
    rows: frozenset[int] = frozenset()


NOTHING_LEFT_OUT = LeftOut()


class SolverStatus(StrEnum):
    """What the solver came to. A limit says nothing of whether there is an answer."""

    OPTIMAL = "optimal"
    INFEASIBLE = "infeasible"
    UNBOUNDED = "unbounded"
    LIMIT_REACHED = "limit_reached"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Solution:
    """What the solver said. Numbers only where `status` is optimal, or the best found where a limit was reached.

    `row_duals` are the change of the objective for one more unit on the right side of each row, `norm_dual` that of
    the normalization (equal to the objective, since every other right side is zero), `reduced_costs` by column.
    """

    status: SolverStatus
    amounts: tuple[float, ...] = ()
    objective: float = float("nan")
    row_duals: tuple[float, ...] = ()
    norm_dual: float = float("nan")
    reduced_costs: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Basis:
    """Which constraints make an optimal answer: the columns that are in it, and the rows that hold it.

    `columns` are the basic columns, `rows` the places of the rows whose slack is not basic, `normalized` whether the
    normalization is one of them (always, where the answer is one). As many rows as columns, the normalization counted.
    """

    columns: tuple[int, ...]
    rows: tuple[int, ...]
    normalized: bool = True
