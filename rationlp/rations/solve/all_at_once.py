"""The least-cost mix that meets all its requirements at once with a stated chance, the risk where it is cheapest.

How likely a mix is to miss nothing is log-concave in the slack of the rows (A. Prekopa, Logarithmic concave measures
with application to stochastic programming, Acta Scientiarum Mathematicarum 32, 1971), so that mixes likely enough form
a convex set as far as the spread of the mix itself moves little. It is closed in from outside by planes that touch it
(the supporting hyperplane method: A. F. Veinott, The supporting hyperplane method for unimodal programming, Operations
Research 15, 1967): the cheapest mix that the planes leave is a bound below every mix; where the way to it from a mix
surely likely enough leaves the set, that mix can be fed and a new plane touches. It ends where the two cost the same.
Planes are laid between the two, where they tell most (W. Ben-Ameur and J. Neto, Acceleration of cutting-plane and
column generation algorithms, Networks 49, 2007; memory).
No split of the risk over the rows is assumed: what a row risks is what it is cheapest to risk there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf, log

import numpy as np

from rationlp.errors import SolverError
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.program import Program, ProgramRow, Solution, SolverStatus
from rationlp.rations.solve.chance import (
    CUT_MARK,
    ChanceRow,
    Demanding,
    achieved,
    chance_rows,
    solve_with_chance,
    unmoved,
)
from rationlp.rations.solve.checked import settle
from rationlp.rations.solve.joint_chance import JointChance
from rationlp.rations.solve.normal import quantile
from rationlp.rations.solve.proved import solve_proved
from rationlp.rations.solve.solver import LiveProgram
from rationlp.stages.model import AVERAGES_PCT

ALL = "all requirements at once"
ROUNDS = 250
WITHIN = 1e-4  # of the cost: how far the mix may be from the bound below every mix
CLOSE = 1e-4  # of a chance of one: how near the bound a mix on it lies
NEAR = 2e-3  # standard deviations: how far inside its bound a plane is laid, and moved out by as much
PLANE_POINTS = 128  # of the lattice, where a plane is laid: what a mix is judged by has more
INNER = 0.1  # of the way from the best mix to one surely likely enough: from there the edge is looked for
OUTER = 0.3  # of the way from the best mix to the bound: there a plane is laid, where that is not too unlikely
FAR = 0.1  # of the chance wanted: what is less likely is no place for a plane
ALONE = 1e-6  # of a need: what a row by itself may miss while the mix is sought
HALVINGS = 12  # of the search for where a straight way leaves the set of likely mixes
HAIR = 1e-6  # of a chance of one: what a row may be less sure than in the mix that the risk was taken from
SURE = 0.9999  # a row is not asked to be surer than this: what it risks is next to nothing of the whole
STEPS = 60  # uphill, where the chance asked for may be out of reach


@dataclass(frozen=True, slots=True)
class Likely:
    """A mix that meets all requirements at once with `probability` (0 to 1).

    `solution` is the verified optimum of `program`: the formula's own with the cuts of `chances`, the risk that each
    row is given. No mix as likely costs less than `bound`, where `reached` says that the chance asked for can be had.
    """

    program: Program
    solution: Solution
    chances: tuple[ChanceRow, ...]
    probability: float
    bound: float
    reached: bool


class AllAtOnce:
    """A formula in the solver, asked for one chance after the other; planes found for one serve all higher ones."""

    def __init__(self, formula: Formula, within: float = WITHIN):
        """`within` is how far the cost may be from the bound below every mix, as a part of it."""
        self.formula, self.within = formula, within
        self.joint = JointChance(formula)
        self._normalizer = np.array(formula.program.normalizer)
        self._live: LiveProgram | None = None
        self._cut_for = 0.0
        self._planes: list[ProgramRow] = []
        self._averages: Solution | None = None

    def narrowed(self, formula: Formula) -> AllAtOnce:
        """The same asked of `formula`, this one with more rows at its end that carry no chance: what is known of the
        likely mixes is true there too."""
        found = AllAtOnce(formula, self.within)
        found.joint, found._planes, found._cut_for = self.joint, list(self._planes), self._cut_for
        return found

    def averages(self) -> Solution:
        """The verified least-cost mix of plain averages."""
        if self._averages is None:
            self._averages = solve_proved(self.formula.program)
        return self._averages

    def at(self, confidence_pct: float) -> Likely | None:
        """The least-cost mix that misses nothing with this chance; the likeliest there is where that is out of reach.

        None where not even plain averages can be met. Raises SolverError.
        """
        first = self.averages()
        if first.status != SolverStatus.OPTIMAL:
            return None
        wanted = confidence_pct / 100
        if self.joint.probability(first.amounts) >= wanted:
            return Likely(self.formula.program, first, (), self.joint.probability(first.amounts), first.objective, True)
        inside = self._inside(first, wanted)
        if self.joint.probability(inside) < wanted:
            return self._shared_out(inside, inside, 0.0, first.objective)
        best, bound = self._closed_in(inside, wanted, confidence_pct)
        return self._shared_out(best, inside, wanted, bound)

    def cost_at(self, confidence_pct: float) -> float | None:
        """What the least-cost mix costs that misses nothing with this chance; None where there is none.

        By the objective; the mix itself is not worked out. Raises SolverError.
        """
        first, wanted = self.averages(), confidence_pct / 100
        if first.status != SolverStatus.OPTIMAL:
            return None
        if self.joint.probability(first.amounts) >= wanted:
            return first.objective
        inside = self._inside(first, wanted)
        if self.joint.probability(inside) < wanted:
            return None
        return self.formula.program.cost(tuple(self._closed_in(inside, wanted, confidence_pct)[0].tolist()))

    def _closed_in(self, inside: np.ndarray, wanted: float, confidence_pct: float) -> tuple[np.ndarray, float]:
        """The cheapest mix that is likely enough, and what no such mix costs less than."""
        live = self._started(wanted)
        alone = self._alone(confidence_pct)
        costs = np.array(self.formula.program.costs)
        best, least, bound = inside, float(costs @ inside), self.averages().objective
        stood: tuple[float, tuple[float, ...]] = inf, ()
        for _ in range(ROUNDS):
            solution = live.solution
            bound = max(bound, solution.objective)
            cuts = alone.cuts(solution.amounts)
            outside = np.array(solution.amounts)
            edge, surer, likely = self._edge(best + INNER * (inside - best), outside, wanted)
            if float(costs @ edge) < least:
                best, least = edge, float(costs @ edge)
            if least - bound <= self.within * abs(least) or likely:
                break
            if least == stood[0] and unmoved(stood[1], solution.amounts):
                break  # rounding: the plane of the last round moved nothing, nor will the same one again
            stood = least, solution.amounts
            at = best + OUTER * (outside - best)
            chance = self.joint.probability(at)
            if chance >= wanted:
                best, least = at, float(costs @ at)
            elif chance >= FAR * wanted:  # by the logarithm, which bends one way, no likely mix lies behind this plane
                edge, surer = at, -chance * log(wanted / chance)
            planes = [*cuts, self._plane(edge, surer, confidence_pct, len(live.program.rows))]
            self._planes += planes
            live.add_rows(planes)
            live.run()
            if settle(live).status != SolverStatus.OPTIMAL:
                break  # rounding: the planes leave nothing over; the mix at hand is likely enough
        return best, bound

    def _shared_out(self, best: np.ndarray, inside: np.ndarray, wanted: float, bound: float) -> Likely:
        """The verified mix in which every row is as sure as in `best`, a little surer where that is not enough."""
        for part in _SURER:
            at = best + part * (inside - best)
            split = tuple(risk_split(self.formula, at.tolist()))
            program, solution = solve_with_chance(self.formula.program, split)
            if solution.status != SolverStatus.OPTIMAL:
                continue
            probability = self.joint.probability(solution.amounts)
            if probability >= wanted - CLOSE:
                bound = min(bound, solution.objective)  # of mixes as likely as this one, a hair below what is wanted
                return Likely(program, solution, split, probability, bound, bool(wanted))
        raise SolverError("The ration in which all requirements hold at once did not settle; ask for a lower chance.")

    def _started(self, wanted: float) -> LiveProgram:
        """The program with the planes of lower chances, which hold for this one as well."""
        if wanted < self._cut_for:
            self._live, self._planes = None, []
        if self._live is None:
            self._live = LiveProgram(self.formula.program)
            self._live.add_rows(self._planes)
        self._cut_for = wanted
        return self._live

    def _alone(self, confidence_pct: float) -> Demanding:
        """What each row must hold with, alone: no less than all together, and its own chance where it has a higher."""
        formula = self.formula
        rows = chance_rows(formula.program, formula.sources, formula.candidates, formula.stage.energy, confidence_pct)
        return Demanding(formula.program, rows, ALONE)

    def _edge(self, inside: np.ndarray, outside: np.ndarray, wanted: float) -> tuple[np.ndarray, float, bool]:
        """Where the straight way from a likely mix to another leaves the likely ones, a hair on their side; by how much
        its chance is above the one wanted; and whether the way does not leave them at all."""

        def above(part: float) -> tuple[float, float]:
            """Standard deviations, and chance, above what is wanted."""
            chance = self.joint.probability(inside + part * (outside - inside))
            return float(quantile(np.array(min(max(chance, 1e-12), 1 - 1e-12)))) - asked, chance - wanted

        asked = float(quantile(np.array(wanted)))
        low, high = 0.0, 1.0
        (over, surer), (under, _) = above(0.0), above(1.0)
        if under >= -CLOSE:
            return outside, 0.0, True
        best, side = (low, surer), 0
        for _ in range(HALVINGS):  # regula falsi with the Illinois step: the quantile is all but a straight line
            part = low + (high - low) * (over - NEAR / 2) / (over - under) if over > NEAR else low
            now, surer = above(part)
            if now >= 0.0:
                best = part, surer
            if 0.0 <= now <= NEAR:
                break
            if now > 0.0:  # where one end moves twice in a row, the other counts by half
                low, over, under, side = part, now, under / 2 if side > 0 else under, 1
            else:
                high, under, over, side = part, now, over / 2 if side < 0 else over, -1
        return inside + best[0] * (outside - inside), max(best[1], 0.0), False

    def _plane(self, edge: np.ndarray, surer: float, confidence_pct: float, count: int) -> ProgramRow:
        """The row that touches the set of likely mixes beside `edge`, whose chance is `surer` than wanted: to the first
        order the chance falls by no more than that (rises by as much, where it is below nothing)."""
        slope = self.joint.gradient(edge, PLANE_POINTS)
        slope = slope - (slope @ edge) / edge.sum() + surer  # the slope along the edge: what rounding leaves of nothing
        size = float(np.abs(slope).max()) or 1.0
        return ProgramRow(
            f"{ALL}{CUT_MARK}{confidence_pct:g} % ({count})",
            tuple((slope / size).tolist()),
            ">=",
            sizes=tuple(np.abs(slope / size).tolist()),
        )

    def _inside(self, first: Solution, wanted: float) -> np.ndarray:
        """A mix that misses nothing with more than the chance wanted, or the likeliest that is found uphill."""
        at = np.array(first.amounts)
        best = self._uphill(at, wanted)
        return best / float(self._normalizer @ best)

    def _uphill(self, at: np.ndarray, wanted: float) -> np.ndarray:
        """Steps towards the mix that a plane says gains most, as far along as the chance grows (M. Frank, P. Wolfe, An
        algorithm for quadratic programming, Naval Research Logistics Quarterly 3, 1956)."""
        ones = (1.0,) * len(at)
        live = LiveProgram(replace(self.formula.program, normalizer=ones))
        at = at / at.sum()
        now = self.joint.probability(at)
        enough = wanted + 0.25 * (1.0 - wanted)
        for _ in range(STEPS):
            if now >= enough:
                break
            slope = self.joint.gradient(at, PLANE_POINTS)
            size = float(np.abs(slope).max()) or 1.0
            live.set_costs((-slope / size).tolist())
            live.run()
            if settle(live).status != SolverStatus.OPTIMAL:
                break
            toward = np.array(live.solution.amounts)
            tried = [(self.joint.probability(at + part * (toward - at)), part) for part in _PARTS]
            chance, part = max(tried)
            if chance <= now * (1 + 1e-6):
                break
            at, now = at + part * (toward - at), chance
        return at


def risk_split(formula: Formula, amounts: Sequence[float]) -> list[ChanceRow]:
    """The rows of a formula, each with the chance it has in a mix of these candidates (others may stand behind them).

    Rows that are all but certain are not asked to be surer than SURE. Nothing where there is no mix.
    """
    if not amounts:
        return []
    held = (*amounts, *(0.0,) * (len(formula.candidates) - len(amounts)))
    rows = chance_rows(formula.program, formula.sources, formula.candidates, formula.stage.energy, AVERAGES_PCT)
    return [
        replace(row, probability=min(max(achieved(formula.program, row, held) - HAIR, 0.5), SURE))
        for row in rows
        if any(row.variances)
    ]


_PARTS = (1.0, 0.7, 0.5, 0.35, 0.25, 0.17, 0.12, 0.08, 0.05, 0.03, 0.015)
_SURER = (0.0, 0.002, 0.01, 0.05, 0.2)
