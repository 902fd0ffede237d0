"""The concentrate that serves several stages at the least weighted sum of their costs, with a bound that proves it.

The cost of a stage's ration is a ratio C/Y, cost over what it yields (tonnes, or energy), both linear in the amounts.
A sum of ratios may have several low points, so that a step from one mix to the next (W. Dinkelbach, On nonlinear
fractional programming, Management Science 13, 1967) finds a good one and no more. What is left is searched by branch
and bound over the yields: no stage can be fed for less than its own ration, C = rY + D with D not negative, so that
within a <= Y <= b the ratio is at least r + D/b, which is linear.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import sqrt

from rationlp.errors import SolverError
from rationlp.rations.program.program import ProgramRow, Solution
from rationlp.rations.solve.checked import settle, solve_checked
from rationlp.rations.solve.solver import LiveProgram
from rationlp.rations.studies.shared_program import SharedProgram

STEPS = 500
NODES = 150
PROVEN = 2e-4  # of the total cost: what a longer search might still save, at most
SETTLED = 1e-9
EDGE = 1e-7  # by this part the range of a yield is opened, against rounding
Box = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Found:
    """`amounts` by the columns of the shared program, their weighted total cost, and a bound below every other mix."""

    amounts: tuple[float, ...]
    total: float
    bound: float


def any_mix(shared: SharedProgram, own_costs: Sequence[float]) -> tuple[float, ...] | None:
    """Amounts of a concentrate that serves every stage, or None if there is none."""
    live = LiveProgram(shared.program(own_costs, [1.0] * len(own_costs)))
    return live.solution.amounts if _with_cuts(shared, live).status == "optimal" else None


def least_mix(shared: SharedProgram, own_costs: Sequence[float], weights: Sequence[float]) -> Found | None:
    """The concentrate of the least weighted sum of costs, proven as far as NODES programs go; None if there is none."""
    starts = [found for start in _starts(weights) if (found := _settle(shared, own_costs, start, weights))]
    if not starts:
        return None
    return _Search(shared, own_costs, weights, min(starts)).run()


def _with_cuts(shared: SharedProgram, live: LiveProgram) -> Solution:
    """The answer of `live` once every chance is kept."""
    for _ in range(STEPS):
        if settle(live).status != "optimal":
            return live.solution
        cuts = shared.cuts(live.solution.amounts)
        if not cuts:
            return live.solution
        live.add_rows(cuts)
        live.run()
    raise SolverError("The shared concentrate at the confidence asked for did not settle.")


def _starts(weights: Sequence[float]) -> Iterator[list[float]]:
    """All stages together first, then each with most of the say."""
    yield list(weights)
    for favourite in range(len(weights)) if len(weights) > 1 else ():
        yield [w * (100.0 if i == favourite else 1.0) for i, w in enumerate(weights)]


def _settle(
    shared: SharedProgram, rates: Sequence[float], start: Sequence[float], weights: Sequence[float]
) -> tuple[float, tuple[float, ...]] | None:
    """The total cost and the amounts that Dinkelbach's step comes to, as long as it goes down."""
    live = LiveProgram(shared.program(rates, start))
    best: tuple[float, tuple[float, ...]] | None = None
    for _ in range(STEPS):
        solution = _with_cuts(shared, live)
        if solution.status != "optimal":
            return best
        rates = shared.rates(solution.amounts)
        total = _total(rates, weights)
        if best is not None and total > best[0] * (1 - SETTLED):
            return min(best, (total, solution.amounts))
        best = (total, solution.amounts)
        parts = [w / shared.yield_of(i, solution.amounts) for i, w in enumerate(weights)]
        live.set_costs(shared.costs(rates, parts))
        live.run()
    return best


def _total(rates: Sequence[float], weights: Sequence[float]) -> float:
    return sum(w * rate for w, rate in zip(weights, rates, strict=True))


class _Search:
    """Branch and bound over boxes of yields, the box with the lowest bound first."""

    def __init__(
        self,
        shared: SharedProgram,
        own_costs: Sequence[float],
        weights: Sequence[float],
        start: tuple[float, tuple[float, ...]],
    ):
        self.shared, self.weights, self.best = shared, weights, start
        self.own_total = _total(own_costs, weights)
        self.program = shared.program(own_costs, weights)
        self.yields = [shared.yield_row(i) for i in range(len(weights))]
        self.beyond = [shared.beyond_row(i, cost) for i, cost in enumerate(own_costs)]
        self.open: list[tuple[float, int, Box, tuple[float, ...]]] = []
        self.nodes = 0

    def run(self) -> Found:
        box = self._whole_box()
        if box is not None:
            self._try(box)
        while self.open and self.nodes < NODES:
            bound, _, box, amounts = heapq.heappop(self.open)
            if bound >= self.best[0] * (1 - PROVEN):
                return Found(self.best[1], self.best[0], bound)
            for part in self._halves(box, amounts):
                self._try(part)
        bound = min([self.best[0], *(node[0] for node in self.open[:1])])
        return Found(self.best[1], self.best[0], bound)

    def _whole_box(self) -> Box | None:
        """The least and the largest yield of each stage; None if the solver cannot say, and nothing is searched."""
        ranges = []
        for row in self.yields:
            ends = [solve_checked(replace(self.program, costs=tuple(sign * y for y in row))) for sign in (1.0, -1.0)]
            if any(end.status != "optimal" for end in ends):
                return None
            ranges.append((ends[0].objective * (1 - EDGE), -ends[1].objective * (1 + EDGE)))
        return tuple(ranges)

    def _try(self, box: Box) -> None:
        """Bound the mixes of a box from below, and see how good the one is that the bound is found at."""
        self.nodes += 1
        whole = sum(self.weights)
        costs = tuple(
            sum(w / whole * d[j] / high for w, d, (_, high) in zip(self.weights, self.beyond, box, strict=True))
            for j in range(len(self.program.columns))
        )
        rows = (*self.program.rows, *self._box_rows(box))
        live = LiveProgram(replace(self.program, costs=costs, rows=rows))
        solution = _with_cuts(self.shared, live)
        if solution.status != "optimal":
            return
        bound = self.own_total + whole * solution.objective
        self.best = min(self.best, (_total(self.shared.rates(solution.amounts), self.weights), solution.amounts))
        heapq.heappush(self.open, (bound, self.nodes, box, solution.amounts))

    def _box_rows(self, box: Box) -> Iterator[ProgramRow]:
        ones = self.program.normalizer
        for i, (low, high) in enumerate(box):
            row = self.yields[i]
            yield ProgramRow(
                f"yield {i} at least", tuple(y - low * one for y, one in zip(row, ones, strict=True)), ">="
            )
            yield ProgramRow(
                f"yield {i} at most", tuple(y - high * one for y, one in zip(row, ones, strict=True)), "<="
            )

    def _halves(self, box: Box, amounts: Sequence[float]) -> tuple[Box, Box]:
        """The box in two, where its bound is farthest from the cost of the mix it was found at."""
        worst, at, held = -1.0, 0, 0.0
        for i, (_, high) in enumerate(box):
            made = sum(y * x for y, x in zip(self.yields[i], amounts, strict=True))
            beyond = sum(d * x for d, x in zip(self.beyond[i], amounts, strict=True))
            gap = self.weights[i] * beyond * (1 / made - 1 / high)
            if gap > worst:
                worst, at, held = gap, i, made
        low, high = box[at]
        cut: float = min(max(sqrt(held * high), low + 0.1 * (high - low)), high - 0.02 * (high - low))
        return (*box[:at], (low, cut), *box[at + 1 :]), (*box[:at], (cut, high), *box[at + 1 :])
