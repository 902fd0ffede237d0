"""Rations that meet each requirement with a stated probability, by cuts on the same linear program.

With x the mix, m the mean of a row and V its covariance over the candidates (independent of each other), the row holds
with probability p when m'x - z_p sqrt(x'Vx) >= 0: a convex set for p > 1/2. At a mix x0 that breaks it, the row
(m - z_p V x0 / sqrt(x0'V x0))'x >= 0 cuts x0 off and no mix that keeps the chance (J. E. Kelley, The cutting-plane
method for solving convex programs, Journal of SIAM 8, 1960; chance rows: A. Charnes, W. W. Cooper, Chance-constrained
programming, Management Science 6, 1959).

With it the confidence of a ration: which rows carry a chance, what it costs, and the best there is if it is out of
reach.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt
from statistics import NormalDist

import numpy as np

from rationlp.errors import SolverError, given
from rationlp.feeds.candidates import Candidate
from rationlp.numbers import Floats
from rationlp.rations.program.program import Program, ProgramRow, RowArrays, Solution, SolverStatus
from rationlp.rations.program.rows import has_chance, need_scale
from rationlp.rations.program.variance import ratio_variances, row_variances
from rationlp.rations.solve.checked import settle, solve_checked
from rationlp.rations.solve.model import Confidence
from rationlp.rations.solve.proved import solve_proved
from rationlp.rations.solve.solver import LiveProgram
from rationlp.stages.model import AVERAGES_PCT, Need, RatioNeed

ROUNDS = 500
CUT_MARK = " at confidence "  # between the key of a row and the confidence of its cut
TOLERANCE = 1e-8  # of a row, relative to its need, at one tonne of mix
STILL = 1e-12  # of the mix
STEPS = 24  # of the search for the best probability, halving each time


@dataclass(frozen=True, slots=True)
class ChanceRow:
    """Row `index` of a program with the variance each column's share brings to it, in the row's own scale."""

    index: int
    variances: tuple[float, ...]
    probability: float


def margin_multiplier(probability: float) -> float:
    """How many standard deviations of margin give `probability` (0 to 1) of meeting a row: the normal quantile.

    Published pairs: 0 at 50 %, 0.5 at 69 % (Journal of Applied Poultry Research 2007, margins of safety).
    """
    return NormalDist().inv_cdf(probability)


def row_sd(chance: ChanceRow, amounts: Sequence[float]) -> float:
    """Standard deviation of the row at `amounts`, in the row's own scale."""
    return sqrt(sum(v * x * x for v, x in zip(chance.variances, amounts, strict=True)))


def achieved(program: Program, chance: ChanceRow, amounts: Sequence[float]) -> float:
    """The probability that the row holds at `amounts`; certain where nothing about it is unsure."""
    row = program.rows[chance.index]
    slack = program.value(row, tuple(amounts)) * (1 if row.sense == ">=" else -1)
    sd = row_sd(chance, amounts)
    if sd == 0:
        return 1.0 if slack >= -TOLERANCE else 0.0
    return NormalDist().cdf(slack / sd)


def solve_with_chance(
    program: Program, chances: Sequence[ChanceRow], live: LiveProgram | None = None
) -> tuple[Program, Solution]:
    """The verified least-cost answer that keeps every chance, and `program` with the cuts that prove it.

    Returns an answer that is infeasible as it is. `live` is the program in the solver with the cuts of lower chances,
    which hold for higher ones as well. Raises SolverError if the cuts do not come to an end.
    """
    live = live or LiveProgram(program)
    demanding = Demanding(program, chances)
    before: tuple[float, ...] = ()
    for _ in range(ROUNDS):
        if live.solution.status != SolverStatus.OPTIMAL and settle(live).status == SolverStatus.INFEASIBLE:
            return live.program, live.solution
        cuts = demanding.cuts(live.solution.amounts)
        if not cuts or unmoved(before, live.solution.amounts):
            held = live.solution
            if settle(live) is held:
                return live.program, held
            continue  # another answer: its chances are looked at as well
        before = live.solution.amounts
        live.add_rows(cuts)
        live.run()
    raise SolverError("The ration at the confidence asked for did not settle; ask for a lower confidence_pct.")


class Demanding:
    """The rows of a program that are to hold with more than even odds: which of them a mix misses, all in one product.

    `rows` are those with a variance; a mix may miss one by `tolerance` of its need.
    """

    def __init__(self, program: Program, chances: Sequence[ChanceRow], tolerance: float = TOLERANCE):
        self.rows = [chance for chance in chances if chance.probability > 0.5 and any(chance.variances)]
        self.tolerance = tolerance
        self._asked = [program.rows[chance.index] for chance in self.rows]
        arrays = RowArrays.of(self._asked, len(program.columns))
        self._signs = -arrays.signs  # of what has it to spare
        self._means = self._signs[:, None] * arrays.coefficients
        self._variances = np.array([chance.variances for chance in self.rows]).reshape(arrays.coefficients.shape)
        self._quantiles = np.array([margin_multiplier(chance.probability) for chance in self.rows])

    def cuts(self, amounts: Sequence[float] | Floats) -> list[ProgramRow]:
        """A row for every chance that the amounts miss, which cuts them off and no mix that keeps the chance."""
        if not self.rows:
            return []
        held = np.asarray(amounts)
        pulls = self._variances * held  # of the standard deviation, times itself, by one more unit of each column
        sds = np.sqrt(pulls @ held)
        slack = self._means @ held - self._quantiles * sds
        missed = np.flatnonzero((slack < -self.tolerance * held.sum()) & (sds > 0))
        if not len(missed):
            return []
        margins = (self._quantiles[missed] / sds[missed])[:, None] * pulls[missed]
        found = self._signs[missed, None] * (self._means[missed] - margins)
        return [
            self._cut(place, tuple(coefficients))
            for place, coefficients in zip(missed.tolist(), found.tolist(), strict=True)
        ]

    def _cut(self, place: int, coefficients: tuple[float, ...]) -> ProgramRow:
        """A cut of one of the rows."""
        row = self._asked[place]
        key = f"{row.key}{CUT_MARK}{100 * self.rows[place].probability:g} %"
        return ProgramRow(key, coefficients, row.sense, sizes=row.magnitudes)


def unmoved(before: Sequence[float], now: Sequence[float]) -> bool:
    """Whether the cuts of the last round did not move the answer: the solver holds them as closely as it can."""
    return len(before) == len(now) and max(abs(b - a) for b, a in zip(before, now, strict=True)) <= STILL * sum(now)


def with_fixed_margins(program: Program, chances: Sequence[ChanceRow]) -> Program:
    """The plain margin that practice uses: every feed's own figure worsened by z sd, whatever the mix.

    For the same chance it asks for more than `solve_with_chance`, since the feeds of a mix are not all poor at once.
    """
    rows = list(program.rows)
    for chance in chances:
        row = rows[chance.index]
        sign = 1.0 if row.sense == ">=" else -1.0
        z = margin_multiplier(chance.probability)
        worse = tuple(a - sign * z * sqrt(v) for a, v in zip(row.coefficients, chance.variances, strict=True))
        rows[chance.index] = replace(row, coefficients=worse, sizes=row.magnitudes)
    return Program(program.columns, program.costs, tuple(rows), program.normalizer)


def chance_rows(
    program: Program,
    sources: Sequence[object],
    candidates: Sequence[Candidate],
    energy: str | None,
    confidence_pct: float,
) -> list[ChanceRow]:
    """Every row of a need or a ratio with the variances its candidates bring; a need may ask for more than the rest.

    Needs that bite at once carry a chance of their own (`probability_pct`, from ceilings.csv of the library).
    """
    found, spreads = [], [candidate.spread for candidate in candidates]
    for index, (row, source) in enumerate(zip(program.rows, sources, strict=True)):
        if not isinstance(source, Need | RatioNeed) or not has_chance(source):
            continue
        bound = given(source.minimum if row.sense == ">=" else source.maximum, f"the bound of {row.key}")
        asked = confidence_pct
        if isinstance(source, Need):
            scale = need_scale(bound)
            variances = tuple(v / scale**2 for v in row_variances(source, bound, spreads, energy))
            asked = max(asked, source.probability_pct or 0.0)
        else:
            variances = tuple(ratio_variances(source, bound, spreads))
        found.append(ChanceRow(index, variances, asked / 100))
    return found


def solve_confidently(
    program: Program, chances: Sequence[ChanceRow], confidence_pct: float, unit: str
) -> tuple[Program, Solution, Confidence | None]:
    """The least-cost ration that keeps every chance, verified, with what the chance costs.

    If no ration keeps them all, the one with the best common probability that can be had; if even the plain averages
    cannot be met, an infeasible answer and no confidence.
    """
    averages = solve_proved(program)
    if averages.status != SolverStatus.OPTIMAL:
        return program, averages, None
    attained, (cut, solution) = confidence_pct, solve_with_chance(program, chances)
    if solution.status != SolverStatus.OPTIMAL:
        attained, (cut, solution) = _best(program, chances, confidence_pct)
    fixed = solve_checked(with_fixed_margins(program, chances))
    return (
        cut,
        solution,
        Confidence(
            asked_pct=confidence_pct,
            attained_pct=attained,
            unit=unit,
            cost=solution.objective,
            cost_of_averages=averages.objective,
            cost_of_fixed_margins=fixed.objective if fixed.status == SolverStatus.OPTIMAL else None,
        ),
    )


def _best(
    program: Program, chances: Sequence[ChanceRow], confidence_pct: float
) -> tuple[float, tuple[Program, Solution]]:
    """The highest probability, in percent, that all rows together can have, and its ration; the one asked for where
    every lower one that is tried can be had: bounds moved just so far that it can be may miss it by rounding.

    Rows with a higher chance of their own keep it as long as the others can have at least even odds with them.
    """
    own = [chance for chance in chances if chance.probability > confidence_pct / 100]
    if own:
        even = [c if c in own else replace(c, probability=AVERAGES_PCT / 100) for c in chances]
        own = own if solve_with_chance(program, even)[1].status == SolverStatus.OPTIMAL else []
    low, high = AVERAGES_PCT, confidence_pct
    found = _at(program, chances, own, low)
    for _ in range(STEPS):
        middle = (low + high) / 2
        answer = _at(program, chances, own, middle)
        if answer[1].status == SolverStatus.OPTIMAL:
            low, found = middle, answer
        else:
            high = middle
    return low if high < confidence_pct else confidence_pct, found


def _at(
    program: Program, chances: Sequence[ChanceRow], own: Sequence[ChanceRow], probability_pct: float
) -> tuple[Program, Solution]:
    """The answer at a common probability, rows in `own` at their own."""
    return solve_with_chance(
        program, [c if c in own else replace(c, probability=min(c.probability, probability_pct / 100)) for c in chances]
    )
