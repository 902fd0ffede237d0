"""Rations that meet each requirement with a stated probability, by cuts on the same linear program.

With x the mix, m the mean of a row and V its covariance over the candidates (independent of each other), the row holds
with probability p when m'x - z_p sqrt(x'Vx) >= 0: a convex set for p > 1/2. At a mix x0 that breaks it, the row
(m - z_p V x0 / sqrt(x0'V x0))'x >= 0 cuts x0 off and no mix that keeps the chance (J. E. Kelley, The cutting-plane
method for solving convex programs, Journal of SIAM 8, 1960; chance rows: A. Charnes, W. W. Cooper, Chance-constrained
programming, Management Science 6, 1959).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from rationlp.errors import SolverError
from rationlp.rations.program.program import Program, Row, Solution
from rationlp.rations.solve.solver import LiveProgram

ROUNDS = 500
CUT_MARK = " at confidence "  # between the key of a row and the confidence of its cut
TOLERANCE = 1e-8  # of a row, relative to its need, at one tonne of mix


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


def solve_with_chance(program: Program, chances: Sequence[ChanceRow]) -> tuple[Program, Solution]:
    """The least-cost answer that keeps every chance, and `program` with the cuts that prove it.

    Returns an answer that is not optimal as it is. Raises SolverError if the cuts do not come to an end.
    """
    live = LiveProgram(program)
    demanding = [chance for chance in chances if chance.probability > 0.5 and any(chance.variances)]
    for _ in range(ROUNDS):
        if live.solution.status != "optimal":
            return live.program, live.solution
        cuts = [cut for chance in demanding if (cut := cut_at(program, chance, live.solution.amounts))]
        if not cuts:
            return live.program, live.solution
        live.add_rows(cuts)
        live.run()
    raise SolverError("The ration at the confidence asked for did not settle; ask for a lower confidence_pct.")


def cut_at(program: Program, chance: ChanceRow, amounts: Sequence[float], tolerance: float = TOLERANCE) -> Row | None:
    """The row that cuts `amounts` off, or nothing if they keep the chance within `tolerance` of the need."""
    row = program.rows[chance.index]
    sign = 1.0 if row.sense == ">=" else -1.0
    sd = row_sd(chance, amounts)
    z = margin_multiplier(chance.probability)
    if sign * program.value(row, tuple(amounts)) - z * sd >= -tolerance * sum(amounts) or sd == 0:
        return None
    coefficients = tuple(
        a - sign * z * v * x / sd for a, v, x in zip(row.coefficients, chance.variances, amounts, strict=True)
    )
    return Row(f"{row.key}{CUT_MARK}{100 * chance.probability:g} %", coefficients, row.sense)


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
        rows[chance.index] = Row(row.key, worse, row.sense, row.relaxable)
    return Program(program.columns, program.costs, tuple(rows), program.normalizer)
