"""One program kept in the solver, and many prices and questions put to it in place; every answer is proved."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rationlp.errors import SolverError
from rationlp.numbers import Floats, Places
from rationlp.offers.vertex import Corner, Rows, next_corner, proved_corner
from rationlp.rations.program.program import Program
from rationlp.rations.solve.chance import TOLERANCE as EXACT
from rationlp.rations.solve.chance import ChanceRow, Demanding
from rationlp.rations.solve.solver import LiveProgram

WITHIN = 1e-5
"""Where rows carry a chance the best mix moves with every price; a known mix is taken if this part too dear."""
CHANCE = 1e-6
"""Of its need, that a row with a chance may be missed by: a part in a million."""
MOST_CUTS = 60
"""More cuts than these are dropped where they do not bind; the solver is slower with many than with a few made anew."""
ROUNDS = 500
"""Of cuts for the rows that carry a chance, or of steps towards a price, for one answer."""
FAR = 10.0
"""Times the largest price: a change of price that is as good as any larger one."""
EQUAL = 1e-10
"""Costs that differ by less than this part of the largest price are one cost."""
MOVED = 1e-9
"""A share that moves by less has not moved (rounding)."""


class PricedProgram:
    """A program in the solver. Prices and what is left out change in place; rows only grow.

    `chances` are rows that hold with a probability: mixes that miss one are cut off (rations.solve.chance), and
    the cuts stay. `corners` are the answers found so far with everything in.
    """

    def __init__(self, program: Program, chances: Sequence[ChanceRow] = (), exact: bool = False):
        """With `exact` a chance is kept as closely as the ration itself keeps it, for one answer rather than many."""
        self.program = program
        self._demanding = Demanding(program, chances, EXACT if exact else CHANCE)
        self.chances = self._demanding.rows
        self.costs = np.array(program.costs)
        self.normalizer = np.array(program.normalizer)
        self.rows = Rows(program.rows, len(program.columns))
        self.within = WITHIN if self.chances else 0.0
        self.corners: list[Corner] = []
        self._amounts = np.zeros((0, len(self.costs)))
        self._live = LiveProgram(program)

    def solve(self, costs: Floats, out: Sequence[int] = (), lifted: Sequence[int] = ()) -> Corner | None:
        """The cheapest amounts at `costs`, proved; None if there are none.

        `out` are columns that may not be used, `lifted` rows that need not hold. Raises SolverError.
        """
        self._live.set_costs(costs.tolist())
        self._live.leave_out(out, lifted)
        for _ in range(ROUNDS):
            found = proved_corner(self._live, self.rows, self.normalizer, costs, out, lifted)
            if found is None:
                return None
            cuts = self._demanding.cuts(found.amounts)
            if not cuts:
                self._forget()
                return found
            self._live.add_rows(cuts)
            self.rows.add(cuts)
        raise SolverError("The ration at the confidence asked for did not settle; ask for a lower confidence_pct.")

    def _forget(self) -> None:
        """Drop the cuts that do not bind, where there are many."""
        first, count = len(self.program.rows), len(self.rows.keys)
        if count - first > MOST_CUTS:
            binding = set(self._live.basis().rows)
            places = [place for place in range(first, count) if place not in binding]
            self._live.drop_rows(places)
            self.rows.drop(places)

    def best(self, costs: Floats) -> Corner:
        """The cheapest corner at `costs`, from those known if one of them is proved to be it.

        Raises SolverError, also if the program has no answer.
        """
        return self.corners[int(self.answers(costs[None, :])[0])]

    def answers(self, costs: Floats) -> Places:
        """For each row of `costs` (one price list each) the place of its cheapest corner in `corners`.

        The cheapest of the corners already found is taken where its duals prove that nothing is cheaper; only the other
        price lists go to the solver. Raises SolverError, also if the program has no answer.
        """
        which = np.full(len(costs), -1, dtype=np.intp)
        if self.corners:
            cheapest = (costs @ self._amounts[: len(self.corners)].T).argmin(axis=1)
            for place in np.unique(cheapest):
                self._settle(which, np.flatnonzero(cheapest == place), costs, int(place))
        open_ = np.flatnonzero(which < 0)
        while len(open_):
            place = self._keep(self._must(self.solve(costs[open_[0]])))
            which[open_[0]] = place
            open_ = self._settle(which, open_[1:], costs, place)
        return which

    def _keep(self, found: Corner) -> int:
        """Put a corner to those known; its place."""
        place = len(self.corners)
        if place >= len(self._amounts):
            self._amounts = np.vstack([self._amounts, np.zeros((max(place, 8), len(self.costs)))])
        self._amounts[place] = found.amounts
        self.corners.append(found)
        return place

    def _settle(self, which: Places, open_: Places, costs: Floats, place: int) -> Places:
        """Give the open price lists that a corner is proved for its place; those that stay open."""
        if not len(open_):
            return open_
        proved = self.corners[place].proves(costs[open_], within=self.within)
        which[open_[proved]] = place
        return open_[~proved]

    @staticmethod
    def _must(found: Corner | None) -> Corner:
        if found is None:
            raise SolverError("No mix meets every requirement, whatever the prices.")
        return found

    def last_price(self, column: int, held: Floats, value: float, upward: bool) -> tuple[float | None, Corner | None]:
        """How far the price of `column` can go before the mix `held` is beaten, all other prices standing still.

        `held` are amounts that cost `value` at the program's costs. Going up, only a mix with less of the column can
        beat it; going down, only one with more. Of the mixes known the one that beats it soonest is taken; the program
        is solved at that price; a mix that is cheaper still beats it sooner; and so on, until nothing is cheaper there
        (Newton's method on the gap, which is convex: W. Dinkelbach, Management Science 13, 1967). The answer is exact
        at degenerate optima too. Returns the change of price (negative if `held` is beaten today) and the mix that
        takes over; None and None if no change is enough. Raises SolverError.
        """
        sign = -1.0 if upward else 1.0
        least = MOVED * float(held.sum())
        self._look_beside(column, held, sign)
        change, taker = self._soonest(self.corners, column, held[column], value, sign, least)
        if taker is None:
            change, taker = self._soonest([self._most_moved(column, sign)], column, held[column], value, sign, least)
        if taker is None:
            return None, None
        room = EQUAL * max(float(np.abs(self.costs).max()), 1.0)
        for _ in range(ROUNDS):
            costs = self.costs.copy()
            costs[column] -= sign * change
            found = self.best(costs)
            moved = sign * (found.amounts[column] - held[column])
            if value - sign * change * held[column] - found.value(costs) <= room or moved <= least:
                return float(change), taker
            sooner = (found.value(self.costs) - value) / moved
            if sooner >= change:  # nothing but rounding is left
                return float(change), taker
            change, taker = sooner, found
        raise SolverError("The price at which the mix changes did not settle.")

    def _look_beside(self, column: int, held: Floats, sign: float) -> None:
        """Put the corner beside the mix `held` to those known: most often it is the one that takes over."""
        start = next((corner for corner in self.corners if corner.amounts is held), None)
        if start is not None and not self.chances:
            beside = next_corner(start, self.rows, self.costs, column, sign)
            if beside is not None:
                self._keep(beside)

    def _soonest(
        self, known: list[Corner], column: int, held: float, value: float, sign: float, least: float
    ) -> tuple[float, Corner | None]:
        """Of the corners with more (sign 1) or less (-1) of a column than `held` the one that beats `value` soonest."""
        if not known:
            return float("inf"), None
        amounts = self._amounts[: len(known)] if known is self.corners else known[0].amounts[None, :]
        moved = sign * (amounts[:, column] - held)
        able = np.flatnonzero(moved > least)
        if not len(able):
            return float("inf"), None
        changes = (amounts[able] @ self.costs - value) / moved[able]
        place = int(changes.argmin())
        return float(changes[place]), known[able[place]]

    def _most_moved(self, column: int, sign: float) -> Corner:
        """The corner with the most (sign 1) or least (sign -1) of a column."""
        aim = np.zeros(len(self.costs))
        if self.chances:  # the very end of a curved set takes many cuts; a price that decides everything does as well
            aim = self.costs.copy()
        aim[column] -= sign * (FAR * float(np.abs(self.costs).max()) if self.chances else 1.0)
        return self._must(self.solve(aim))
