"""Answers worked out from their basis and proved in plain arithmetic, whatever the solver said of numbers.

A corner of the feasible set stays where it is when prices move: only whether it is the cheapest one changes. With the
inverse of its basis at hand that is a small product for thousands of price lists at once (sensitivity analysis of the
simplex method: G. B. Dantzig, Linear Programming and Extensions, 1963). A corner is proved feasible once, from its
rows; for each price list it is proved the cheapest by its duals: no column worth more than it costs, no row priced
against its sense, and the cost equal to the price of the normalization.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from rationlp.errors import SolverError
from rationlp.numbers import Flags, Floats, Places
from rationlp.rations.program.program import Basis, ProgramRow, SolverStatus
from rationlp.rations.solve.solver import LiveProgram
from rationlp.rations.solve.verify import TOLERANCE, ZERO

DUST = 1e-15
"""An amount below this part of the largest is the rounding of the inverse."""
SURE = 1e-10
"""A corner is used again for other prices only if no reduced cost is below this part of the largest price."""
STEPS = 4
"""So many steps of no length are taken from a corner at most before the solver is asked."""
_SIGNS = {">=": 1.0, "<=": -1.0, "=": 0.0}


class Rows:
    """The rows of a program as one array; more may follow."""

    def __init__(self, rows: Sequence[ProgramRow], columns: int):
        self.coefficients = np.array([row.coefficients for row in rows], dtype=float).reshape(len(rows), columns)
        self.sizes = np.array([row.magnitudes for row in rows], dtype=float).reshape(len(rows), columns)
        self.signs = np.array([_SIGNS[row.sense] for row in rows])
        self.keys = [row.key for row in rows]

    def add(self, rows: Sequence[ProgramRow]) -> None:
        """Rows behind those there are."""
        self.coefficients = np.vstack([self.coefficients, [row.coefficients for row in rows]])
        self.sizes = np.vstack([self.sizes, [row.magnitudes for row in rows]])
        self.signs = np.append(self.signs, [_SIGNS[row.sense] for row in rows])
        self.keys += [row.key for row in rows]

    def drop(self, places: Sequence[int]) -> None:
        """Take out the rows at these places."""
        self.coefficients = np.delete(self.coefficients, places, axis=0)
        self.sizes = np.delete(self.sizes, places, axis=0)
        self.signs = np.delete(self.signs, places)
        gone = set(places)
        self.keys = [key for place, key in enumerate(self.keys) if place not in gone]

    def broken(self, amounts: np.ndarray, lifted: Iterable[int] = ()) -> list[str]:
        """Keys of the rows that do not hold, up to rounding of their own terms (as `solve.verify.room` has it)."""
        value = self.coefficients @ amounts
        room = TOLERANCE * (self.sizes @ amounts) + ZERO * amounts.sum()
        miss = np.where(self.signs == 0.0, np.abs(value), -self.signs * value)
        miss[list(lifted)] = 0.0
        return [self.keys[i] for i in np.flatnonzero(miss > room)]


@dataclass(frozen=True, slots=True, eq=False)
class Corner:
    """A corner of the feasible set and the prices its basis gives.

    For a price list c, `c[columns] @ duals` is the price of each binding row, the normalization last, and that times
    `held`, these rows, what each column is worth. `signs` are the senses of the rows (0: either sign of price), `out`
    the columns that may not be used, `rows` the places of the binding rows.
    """

    amounts: Floats
    columns: Places
    rows: Places
    held: Floats
    duals: Floats
    signs: Floats
    out: Flags

    def proves(self, costs: Floats, tolerance: float = SURE, within: float = 0.0) -> Flags:
        """For each row of `costs` whether this corner is proved its cheapest, or within a part `within` of it.

        A row priced against its sense is taken at no price; a column then worth more than it costs by d for each unit
        of the normalization can make the mix cheaper by d at most.
        """
        prices, reduced = self._prices(costs)
        largest = np.maximum(np.abs(costs).max(axis=1), 1.0)
        room = tolerance * largest[:, None]
        if within:
            room = room + within * np.abs(prices[:, -1:]) * self.held[-1]
        reduced[:, self.out] = 0.0
        tallies: Flags = np.abs(prices[:, -1] - costs @ self.amounts) <= TOLERANCE * largest
        cheapest: Flags = (reduced >= -room).all(axis=1)
        return cheapest & tallies

    def _prices(self, costs: Floats) -> tuple[Floats, Floats]:
        """For each row of `costs` the prices of the binding rows, none against its sense, and the reduced costs."""
        prices = costs[:, self.columns] @ self.duals
        rows = prices[:, :-1]
        rows[rows * self.signs < 0.0] = 0.0
        return prices, costs - prices @ self.held

    def at_most(self, costs: Floats, dearer: float) -> Floats:
        """More than this of a column is in no mix dearer by at most `dearer`, where the corner is proved the cheapest.

        Each unit of a column adds its reduced cost, and no row or other column takes it back (weak duality).
        """
        _, (reduced,) = self._prices(costs[None, :])
        room = SURE * max(float(np.abs(costs).max()), 1.0)
        return np.where(reduced > room, dearer / np.maximum(reduced, room), np.inf)

    def value(self, costs: Floats) -> float:
        """The cost of the corner at one price list."""
        return float(costs @ self.amounts)

    def first_change(self, costs: Floats, column: int, sign: float) -> tuple[float, Floats, int]:
        """How far the price of a column may fall (sign 1) or rise (-1) before its basis is not the cheapest any more.

        With it how the amounts move as the column that comes in, or the row that is let go, moves by one, and the place
        of that column, or -1 less the place of that row. Infinite where no price is far enough.
        """
        (prices,), (reduced,) = self._prices(costs[None, :])
        basic = np.flatnonzero(self.columns == column)
        faster = -sign * self.duals[basic[0]] if len(basic) else np.zeros(len(prices))
        rate = -faster @ self.held
        rate[column] -= sign
        rate[self.columns] = rate[self.out] = 0.0
        left = np.concatenate([reduced, prices[:-1] * self.signs])
        falls = -np.concatenate([rate, faster[:-1] * self.signs])
        able = falls > SURE * max(float(np.abs(falls).max()), 1.0)
        if not able.any():
            return float("inf"), np.zeros(len(costs)), 0
        changes = np.where(able, np.maximum(left, 0.0) / np.where(able, falls, 1.0), np.inf)
        first = int(changes.argmin())
        moves = np.zeros(len(costs))
        if first < len(costs):
            moves[self.columns] = -self.duals @ self.held[:, first]
            moves[first] = 1.0
            return float(changes[first]), moves, first
        row = first - len(costs)
        moves[self.columns] = self.signs[row] * self.duals[:, row]
        return float(changes[first]), moves, -1 - int(self.rows[row])


def proved_corner(
    live: LiveProgram,
    rows: Rows,
    normalizer: Floats,
    costs: Floats,
    out: Sequence[int] = (),
    lifted: Sequence[int] = (),
) -> Corner | None:
    """The cheapest corner at `costs` of what stands in the solver, proved; None if it is proved that there is none.

    An answer that does not stand up to the check is looked for once more from cold. Raises SolverError.
    """

    def checked(anew: bool) -> Corner | None:
        status, basis = live.run_for_basis(anew)
        if status is SolverStatus.INFEASIBLE:
            return None
        if basis is None:
            raise SolverError(f"The calculation could not be finished ({status}).")
        found = corner(rows, normalizer, basis, out, lifted)
        if not found.proves(costs[None, :], TOLERANCE)[0]:
            raise SolverError("The answer found is not the cheapest one, so it is not shown.")
        return found

    try:
        return checked(anew=False)
    except SolverError:
        return checked(anew=True)


def corner(rows: Rows, normalizer: Floats, basis: Basis, out: Sequence[int] = (), lifted: Sequence[int] = ()) -> Corner:
    """The corner of a basis, proved feasible. Raises SolverError with what does not hold."""
    columns, binding = np.array(basis.columns, dtype=int), np.array(basis.rows, dtype=int)
    if len(columns) != len(binding) + 1 or not basis.normalized:
        raise SolverError("The solver's basis has not as many rows as columns, so its answer is not shown.")
    held = np.vstack([rows.coefficients[binding], normalizer])
    try:
        inverse = np.linalg.inv(held[:, columns])
    except np.linalg.LinAlgError:
        raise SolverError("The solver's basis has no inverse, so its answer is not shown.") from None
    amounts = np.zeros(len(normalizer))
    amounts[columns] = inverse[:, -1]
    scale = max(float(np.abs(amounts).max()), 1.0)
    faults = [] if amounts.min() >= -TOLERANCE * scale else ["an amount is below zero"]
    amounts[amounts < DUST * scale] = 0.0
    if abs(normalizer @ amounts - 1.0) > TOLERANCE * max(1.0, float(np.abs(normalizer * amounts).max())):
        faults.append("the mix does not add up")
    faults += [f"{key} is broken" for key in rows.broken(amounts, lifted)]
    if faults:
        raise SolverError("The solver's answer did not stand up to the check, so it is not shown: " + "; ".join(faults))
    mask = np.zeros(len(normalizer), dtype=bool)
    mask[list(out)] = True
    free = set(lifted).intersection(basis.rows)
    duals = inverse.copy() if free else inverse
    duals[:, [place for place, row in enumerate(basis.rows) if row in free]] = 0.0  # a row that is lifted has no price
    return Corner(amounts, columns, binding, held, duals, rows.signs[binding], mask)


def next_corner(start: Corner, rows: Rows, costs: Floats, column: int, sign: float) -> Corner | None:
    """The corner beside `start` that takes over as the price of a column falls (sign 1) or rises (-1) from `costs`.

    None where no change of that price is enough, or where steps of no length (several rows at one point) lead nowhere.
    One step of the simplex method with a price as parameter (S. Gass, T. Saaty, Naval Research Logistics Quarterly 2,
    39-45, 1955); the corner is proved feasible, and whoever takes it proves from where on it is the cheapest.
    """
    here, costs = start, costs.copy()
    for _ in range(STEPS):
        change, moves, comes = here.first_change(costs, column, sign)
        if not np.isfinite(change):
            return None
        costs[column] -= sign * change
        leaves = _first_met(here, rows, moves)
        if leaves is None:
            return None
        held = {*here.columns.tolist(), *(-1 - here.rows).tolist()} ^ {comes, leaves}
        columns, binding = sorted(x for x in held if x >= 0), sorted(-1 - x for x in held if x < 0)
        try:
            here = corner(rows, here.held[-1], Basis(tuple(columns), tuple(binding), normalized=True))
        except SolverError:
            return None
        if abs(here.amounts[column] - start.amounts[column]) > SURE * float(start.amounts.sum()):
            return here
    return None


def _first_met(start: Corner, rows: Rows, moves: Floats) -> int | None:
    """What first stops amounts that move so: the place of a column that is used up, or -1 less the place of a row."""
    taken = start.columns[moves[start.columns] < -SURE * float(np.abs(moves).max())]
    value, rate = rows.signs * (rows.coefficients @ start.amounts), rows.signs * (rows.coefficients @ moves)
    rate[start.rows] = 0.0
    nearing = np.flatnonzero(rate < -SURE * (rows.sizes @ np.abs(moves)))
    lengths = np.concatenate([start.amounts[taken] / -moves[taken], np.maximum(value[nearing], 0.0) / -rate[nearing]])
    if not len(lengths):
        return None
    first = int(lengths.argmin())
    return int(taken[first]) if first < len(taken) else -1 - int(nearing[first - len(taken)])
