"""The ration itself along the price of one offer: between which prices which mix is the cheapest that may be fed.

The least cost over any fixed set of mixes is a concave, piecewise linear function of a price, also over those alone
that leave nothing undecided (what is too light to weigh, crystals beyond a need: rations.solve.settle). So two mixes
whose lines cross where nothing is cheaper have their breakpoint there, and else a piece of its own lies between (M. J.
Eisner, D. G. Severance, Mathematical techniques for efficient record segmentation in large shared databases, Journal of
the ACM 23, 1976).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from rationlp.book.records import Settings
from rationlp.errors import SolverError
from rationlp.numbers import Floats
from rationlp.offers.live_ration import LiveRation, in_mix, shares_of
from rationlp.offers.priced_program import MOVED
from rationlp.offers.vertex import Corner, Rows, proved_corner
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.only_here import bare
from rationlp.rations.program.program import Program, ProgramRow, Solution, SolverStatus
from rationlp.rations.solve.settle import Alternative, Runner, Settled, decided, open_choice
from rationlp.rations.solve.solver import LiveProgram
from rationlp.stages.model import ALL, AVERAGES_PCT

EQUAL = 1e-7
"""The part of a cost by which two mixes may differ and be equally cheap: far below a cent in a tonne."""
DEEPEST = 60
"""So often a stretch of prices is cut in two at most; mixes are few, so that this is never reached."""


@dataclass(frozen=True, slots=True)
class PricePiece:
    """Prices per tonne between which one mix is the ration; `mix` are its shares (0 to 1) by offer or bin."""

    price_from: float
    price_to: float
    mix: dict[str, float]


@dataclass(frozen=True, slots=True, eq=False)
class Mixed:
    """A mix by its amounts, at one unit of the objective."""

    amounts: Floats

    def line(self, costs: Floats, column: int) -> tuple[float, float]:
        """Cost at price 0 of the column, and its rise."""
        slope = float(self.amounts[column])
        return float(costs @ self.amounts) - float(costs[column]) * slope, slope


def decides_anew(settings: Settings) -> bool:
    """Whether a ration along prices decides anew at each what is too light to weigh: at plain averages it does."""
    return settings.confidence_pct <= AVERAGES_PCT and settings.confidence_of != ALL


class PricedRation:
    """A ration at plain averages that has a mix, to be asked what the price of one offer does."""

    def __init__(self, case: LiveRation):
        self._case = case
        self._formula = bare(case.formula)
        self._costs = np.array(self._formula.program.costs)
        self._branches = _Branches(self._formula.program)

    @staticmethod
    def can_ask(case: LiveRation) -> bool:
        """Whether it has a mix and the book asks for plain averages: with a chance, a mix moves with every price."""
        return case.priced is not None and decides_anew(case.solved.farm.settings)

    def pieces(self, offer: str, low: float, high: float) -> tuple[PricePiece, ...]:
        """The mixes from price `low` to `high` (per tonne) of an offer that may go into the ration, in rising order.

        Today's price lies between the two, and today's mix is known; an offer that is in no mix stays out above it.
        Raises SolverError where an answer does not stand up to verification.
        """
        column = self._formula.program.columns.index(offer)
        today = float(self._costs[column])
        if not low <= today <= high:
            raise ValueError(f"{today} is not from {low} to {high}")
        held = Mixed(self._case.held)
        first = (low, self._best(self._costs, column, low))
        last = (high, self._best(self._costs, column, high) if in_mix(float(self._case.shares[column])) else held)
        found = self._by_way_of(self._costs, column, [first, (today, held), last])
        edges = [low, *(price for price, _ in found), high]
        mixes = [first[1], *(after for _, after in found)]
        return tuple(PricePiece(edges[place], edges[place + 1], self._shares(mix)) for place, mix in enumerate(mixes))

    def along(self, column: int, low: float, high: float, costs: Floats) -> tuple[list[float], list[Mixed]]:
        """The prices of a column, from `low` to `high`, at which the ration changes, and the mixes between them; the
        other prices from `costs`. Where they are today's, today's mix is the ration of today's price.

        Raises SolverError where an answer does not stand up to verification.
        """
        stops = [(price, self._best(costs, column, price)) for price in (low, high)]
        if low < costs[column] < high and (costs == self._costs).all():
            stops.insert(1, (float(costs[column]), Mixed(self._case.held)))
        found = self._by_way_of(costs, column, stops)
        return [price for price, _ in found], [stops[0][1], *(after for _, after in found)]

    def _by_way_of(self, costs: Floats, column: int, stops: Sequence[tuple[float, Mixed]]) -> list[tuple[float, Mixed]]:
        """Where the mix changes between prices of which the mixes are known, with the mix above each."""
        return [found for low, high in pairwise(stops) for found in self._between(costs, column, low, high, 0)]

    def _best(self, base: Floats, column: int, price: float) -> Mixed:
        """The ration at another price of a column: the branch and bound of `settle`, every program of it proved."""
        costs = base.copy()
        costs[column] = price
        run = self._branches.at(costs)
        program, solution = run(())
        if solution.status is not SolverStatus.OPTIMAL:
            raise SolverError("The ration could not be calculated at another price.")
        found = decided(Settled(self._formula, program, solution, None), run, _proved, self._branches.open_choice)
        return Mixed(np.array(found.solution.amounts))

    def _between(
        self, costs: Floats, column: int, low: tuple[float, Mixed], high: tuple[float, Mixed], depth: int
    ) -> list[tuple[float, Mixed]]:
        """Where the mix changes between two prices, with the mix above each."""
        (from_, before), (to, after) = low, high
        (start, slope), (end, flatter) = before.line(costs, column), after.line(costs, column)
        if slope - flatter <= MOVED * float(before.amounts.sum()):
            return []
        price = min(max((end - start) / (slope - flatter), from_), to)
        between = self._best(costs, column, price)
        level, rise = between.line(costs, column)
        if start + slope * price - (level + rise * price) <= EQUAL * abs(start + slope * price):
            return [(price, after)]
        if depth >= DEEPEST:
            raise SolverError("The prices at which the mix changes did not settle, so they are not shown.")
        left = self._between(costs, column, low, (price, between), depth + 1)
        right = self._between(costs, column, (price, between), high, depth + 1)
        return [*left, *right]

    def _shares(self, mix: Mixed) -> dict[str, float]:
        shares = shares_of(mix.amounts).tolist()
        names = self._formula.program.columns
        return {name: share for name, share in zip(names, shares, strict=True) if in_mix(share)}


def _proved(program: Program, solution: Solution) -> None:
    """Nothing more to check: what `_Branches` gives is worked out from a basis and proved by its duals."""


class _Branches:
    """The program of a ration with more rows behind it, at any prices: one program in the solver, and for each set of
    rows the corners known so far, with what each leaves undecided. A corner that its duals prove the cheapest at a
    price is not sought again. Rows once asked for stay in the solver, lifted where they are not asked for: rows taken
    out would take the solver's basis with them, so that it began from cold."""

    def __init__(self, program: Program):
        self._program, self._live = program, LiveProgram(program)
        self._normalizer = np.array(program.normalizer)
        self._known: dict[tuple[str, ...], list[Corner]] = {}
        self._amounts: dict[tuple[str, ...], Floats] = {}
        self._programs: dict[tuple[str, ...], Program] = {}
        self._empty: set[tuple[str, ...]] = set()
        self._rows = Rows(program.rows, len(program.columns))
        self._places: dict[str, int] = {}
        self._open: dict[tuple[int, tuple[float, ...]], tuple[Alternative, ...]] = {}

    def at(self, costs: Floats) -> Runner:
        """What `decided` asks its programs of, at these costs. Raises SolverError."""

        def run(rows: tuple[ProgramRow, ...]) -> tuple[Program, Solution]:
            keys = tuple(row.key for row in rows)
            if keys not in self._programs:
                self._programs[keys] = replace(self._program, rows=(*self._program.rows, *rows))
            program = self._programs[keys]
            found = None if keys in self._empty else self._corner(keys, rows, costs)
            if found is None:
                return program, Solution(SolverStatus.INFEASIBLE)
            return program, Solution(SolverStatus.OPTIMAL, tuple(found.amounts.tolist()), found.value(costs))

        return run

    def open_choice(self, formula: Formula, program: Program, solution: Solution) -> tuple[Alternative, ...]:
        """What a mix leaves undecided: no price moves that, so that it is worked out once for each mix of a program."""
        key = (id(program), solution.amounts)  # the programs are kept, so that each is known by its place in memory
        if key not in self._open:
            self._open[key] = open_choice(formula, program, solution)
        return self._open[key]

    def _corner(self, keys: tuple[str, ...], rows: tuple[ProgramRow, ...], costs: Floats) -> Corner | None:
        known = self._known.setdefault(keys, [])
        if known:
            cheapest = known[int((self._amounts[keys] @ costs).argmin())]
            if cheapest.proves(costs[None, :])[0]:
                return cheapest
        self._live.set_costs(costs.tolist())
        lifted = self._lifted_but(rows)
        self._live.leave_out(rows=lifted)
        made = proved_corner(self._live, self._rows, self._normalizer, costs, lifted=lifted)
        if made is None:
            self._empty.add(keys)
            return None
        known.append(made)
        self._amounts[keys] = np.array([corner.amounts for corner in known])
        return made

    def _lifted_but(self, rows: tuple[ProgramRow, ...]) -> list[int]:
        """The places of the rows behind the program that are not asked for now; those asked for stand in the solver."""
        new = [row for row in rows if row.key not in self._places]
        for row in new:
            self._places[row.key] = len(self._program.rows) + len(self._places)
        if new:
            self._live.add_rows(new)
            self._rows.add(new)
        asked = {row.key for row in rows}
        return [place for key, place in self._places.items() if key not in asked]
