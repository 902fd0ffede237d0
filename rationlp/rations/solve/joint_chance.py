"""The chance that a mix meets all its requirements at once.

Rows share nutrients and bins, so that their chances do not simply multiply. The rows are normal with the mean of the
mix and the covariance that its bins and feeds bring, these independent of one another; how likely it is that none is
missed is worked out by `normal.py`, over the few rows that are in any doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rationlp.rations.program.formula import Formula
from rationlp.rations.program.program import ProgramRow
from rationlp.rations.program.rows import has_chance, need_scale
from rationlp.rations.solve.normal import CERTAIN, POINTS, chance_below, density, draws_below
from rationlp.rations.solve.verify import TOLERANCE, ZERO
from rationlp.stages.model import Need, RatioNeed

Amounts = Sequence[float] | np.ndarray
SAME = 1e-9  # of a correlation of one: two rows that say the same


def chance_of_all(formula: Formula, amounts: Sequence[float]) -> float:
    """The probability, 0 to 1, that every row of a need or a ratio holds at `amounts`; the same every time.

    Within 0.005 of what any number of draws would come to.
    """
    return JointChance(formula).probability(amounts)


@dataclass(frozen=True, slots=True, eq=False)
class _Standing:
    """How the rows stand at some shares: those in doubt (`rows`), by how many standard deviations they hold (`slack`),
    their covariance (`spread`), and whether a row that is sure is missed."""

    rows: np.ndarray
    slack: np.ndarray
    sds: np.ndarray
    spread: np.ndarray
    missed: bool

    @property
    def correlation(self) -> np.ndarray:
        return self.spread / np.outer(self.sds, self.sds)


class JointChance:
    """The chance of a formula's rows, for any mix of its candidates. What a candidate brings is worked out once.

    Amounts may be in any scale. Every row is written so that it holds where it is not below nothing.
    """

    def __init__(self, formula: Formula):
        pairs = zip(formula.program.rows, formula.sources, strict=True)
        chosen = [(row, source) for row, source in pairs if isinstance(source, Need | RatioNeed) and has_chance(source)]
        self._candidates = formula.candidates
        signs = np.array([1.0 if row.sense == ">=" else -1.0 for row, _ in chosen])
        count = len(formula.program.columns)
        self.coefficients = signs[:, None] * np.array([row.coefficients for row, _ in chosen]).reshape(-1, count)
        self._sizes = np.array([row.magnitudes for row, _ in chosen]).reshape(-1, count)
        terms = [_terms(row, source, formula.stage.energy) for row, source in chosen]
        self._names = tuple(dict.fromkeys(name for term in terms for name in term))
        self._weights = signs[:, None] * np.array([[term.get(n, 0.0) for n in self._names] for term in terms])
        self._brought: dict[int, np.ndarray] = {}

    def probability(self, amounts: Amounts, points: int = POINTS) -> float:
        """The chance, 0 to 1, that every row holds."""
        if not len(self.coefficients):
            return 1.0
        standing = self._standing(self._shares(amounts))
        return 0.0 if standing.missed else chance_below(standing.slack, standing.correlation, points)

    def gradient(self, amounts: Amounts, points: int = POINTS) -> np.ndarray:
        """By how much the chance grows with each share, the others standing; times the shares it adds up to nothing.

        A little more of a candidate moves each row by the candidate's own figures, which are unsure as well. Only mixes
        in which a row is just met gain or lose by it; their likelihood is the row's density times the chance of the
        other rows there, and what the figures then are, given where all rows stand, is linear in the rows.
        """
        shares = self._shares(amounts)
        standing = self._standing(shares)
        found = np.zeros(len(shares))
        if not len(standing.rows):
            return found
        used, inverse = np.flatnonzero(shares), np.linalg.pinv(standing.spread, rcond=1e-9, hermitian=True)
        tied = np.array([self._brings(int(i))[np.ix_(standing.rows, standing.rows)] for i in used])
        for place, row in enumerate(standing.rows):
            weight, moved = self._at_bound(standing, place, points)
            if weight > 0.0:
                found += weight * self.coefficients[row]
                # what the figures of the candidates in the mix are where the rows stand so
                found[used] += weight * shares[used] * (tied[:, place, :] @ (inverse @ moved))
        return found

    def _at_bound(self, standing: _Standing, place: int, points: int) -> tuple[float, np.ndarray]:
        """How likely it is that the row at `place` is just met and no other missed; and how far the rows have moved
        from their means there, on average."""
        spread, slack = standing.spread, standing.slack * standing.sds
        variance = spread[place, place]
        others = [k for k in range(len(slack)) if k != place]
        # row k stands slack_k above nothing and moves by y_k: where row `place` is just met, its move is -slack
        moved = -spread[:, place] / variance * slack[place]
        rest = spread[np.ix_(others, others)] - np.outer(spread[others, place], spread[others, place]) / variance
        own = np.sqrt(np.maximum(np.diag(rest), 0.0))
        stands = (slack + moved)[others]
        free = own > 1e-6 * standing.sds[others]
        if (stands[~free] < -1e-6 * standing.sds[others][~free]).any():
            return 0.0, moved
        likely = density(standing.slack[place]) / standing.sds[place]
        picked = np.array(others, dtype=int)[free]
        if len(picked):
            sds = own[free]
            draws = draws_below(stands[free] / sds, rest[np.ix_(free, free)] / np.outer(sds, sds), points)
            if draws.probability <= 0.0:
                return 0.0, moved
            likely *= draws.probability
            drawn = draws.root @ (draws.factors @ draws.weights) / draws.probability
            moved[picked] -= sds * drawn
        return likely, moved

    def _standing(self, shares: np.ndarray) -> _Standing:
        mean = self.coefficients @ shares
        room = TOLERANCE * (self._sizes @ shares) + ZERO
        spread = np.zeros((len(mean), len(mean)))
        for i in np.flatnonzero(shares):
            spread += shares[i] ** 2 * self._brings(int(i))
        sds = np.sqrt(np.maximum(spread.diagonal(), 0.0))
        sure = sds <= room
        missed = bool((sure & (mean < -room)).any())
        slack = np.where(sure, np.inf, (mean + ZERO) / np.where(sure, 1.0, sds))
        rows = _distinct(np.flatnonzero(slack < CERTAIN), slack, spread, sds)
        return _Standing(rows, slack[rows], sds[rows], spread[np.ix_(rows, rows)], missed)

    def _brings(self, column: int) -> np.ndarray:
        """The covariance of the rows that a whole share of a candidate brings."""
        if column not in self._brought:
            matrix = self._candidates[column].spread.matrix(self._names)
            self._brought[column] = self._weights @ matrix @ self._weights.T
        return self._brought[column]

    @staticmethod
    def _shares(amounts: Amounts) -> np.ndarray:
        found = np.asarray(amounts, dtype=float)
        return np.asarray(found / found.sum())


def _distinct(rows: np.ndarray, slack: np.ndarray, spread: np.ndarray, sds: np.ndarray) -> np.ndarray:
    """The rows without those that hold wherever another one does: bound to it and with no less slack."""
    kept: list[int] = []
    for row in sorted(rows.tolist(), key=lambda k: float(slack[k])):
        if not any(spread[row, k] >= (1 - SAME) * sds[row] * sds[k] for k in kept):
            kept.append(row)
    return np.array(kept, dtype=int)


def _terms(row: ProgramRow, source: Need | RatioNeed, energy: str | None) -> dict[str, float]:
    """What one unit of each nutrient of an ingredient does to a row, in the row's own scale."""
    bound = (source.minimum if row.sense == ">=" else source.maximum) or 0.0
    if isinstance(source, RatioNeed):
        return {source.numerator: 1.0, source.denominator: -bound}
    scale = need_scale(bound)
    found = {source.nutrient: 1 / scale}
    if source.reference_energy is not None and energy is not None:
        found[energy] = found.get(energy, 0.0) - bound / source.reference_energy / scale
    return found
