"""The chance that a mix meets all its requirements at once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rationlp.feeds.candidates import Candidate
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.program import ProgramRow
from rationlp.rations.program.rows import has_chance, need_scale
from rationlp.stages.model import Need, RatioNeed

DRAWS = 20_000
SEED = 7
"""The same draws every time, so that the same question has the same answer."""
HAIR = 1e-9


def chance_of_all(formula: Formula, amounts: Sequence[float]) -> float:
    """The probability, 0 to 1, that every row of a need or a ratio holds at `amounts`.

    Rows share nutrients, so that their chances do not simply multiply.

    The rows are normal with the mean of the mix and the covariance that its bins and feeds bring; counted over DRAWS
    draws, which leaves an uncertainty of at most 0.004.
    """
    shares = np.array(amounts) / sum(amounts)
    used = [(i, float(share)) for i, share in enumerate(shares) if share > 0]
    pairs = zip(formula.program.rows, formula.sources, strict=True)
    chosen = [(row, source) for row, source in pairs if isinstance(source, Need | RatioNeed) and has_chance(source)]
    if not chosen:
        return 1.0
    signs = np.array([1.0 if row.sense == ">=" else -1.0 for row, _ in chosen])
    coefficients = np.array([row.coefficients for row, _ in chosen])
    mean = signs * (coefficients @ shares)
    spread = np.outer(signs, signs) * _covariance(formula, chosen, used)
    values, vectors = np.linalg.eigh((spread + spread.T) / 2)
    root = vectors * np.sqrt(np.clip(values, 0.0, None))
    normal = np.random.default_rng(SEED).standard_normal((DRAWS, len(mean)))
    return float((mean + normal @ root.T >= -HAIR).all(axis=1).mean())


def _covariance(
    formula: Formula, chosen: Sequence[tuple[ProgramRow, Need | RatioNeed]], used: Sequence[tuple[int, float]]
) -> np.ndarray:
    """Covariance of the rows, in their own scale: that of every ingredient by itself, since feeds are independent."""
    terms = [_terms(row, source, formula.stage.energy) for row, source in chosen]
    names = list(dict.fromkeys(name for term in terms for name in term))
    weights = np.array([[term.get(name, 0.0) for name in names] for term in terms])
    total = np.zeros((len(names), len(names)))
    for i, share in used:
        total += share**2 * _nutrients(formula.candidates[i], names)
    return weights @ total @ weights.T


def _terms(row: ProgramRow, source: Need | RatioNeed, energy: str | None) -> dict[str, float]:
    """What one unit of each nutrient of an ingredient does to a row, in the row's own scale."""
    bound = source.minimum if row.sense == ">=" else source.maximum
    if isinstance(source, RatioNeed):
        return {source.numerator: 1.0, source.denominator: -bound}
    scale = need_scale(bound)
    found = {source.nutrient: 1 / scale}
    if source.reference_energy is not None:
        found[energy] = found.get(energy, 0.0) - bound / source.reference_energy / scale
    return found


def _nutrients(candidate: Candidate, names: Sequence[str]) -> np.ndarray:
    spread = candidate.spread
    found = np.zeros((len(names), len(names)))
    for i, first in enumerate(names):
        for j in range(i, len(names)):
            found[i, j] = found[j, i] = spread.covariance_of(first, names[j])
    return found
