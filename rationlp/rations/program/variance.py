"""What one share of each candidate adds to the variance of a row."""

from __future__ import annotations

from collections.abc import Iterable

from rationlp.errors import given
from rationlp.feeds.spread import Spread
from rationlp.stages.model import Need, RatioNeed


def row_variances(need: Need, bound: float, spreads: Iterable[Spread], energy: str | None) -> list[float]:
    """Variances of a - r (per kg) or a - r e / e_ref (with energy): what one share adds to the row of a bound r."""
    if need.reference_energy is None:
        return [spread.covariance_of(need.nutrient, need.nutrient) for spread in spreads]
    followed = given(energy, "the energy of a need that follows it")
    times = bound / need.reference_energy
    return [spread.variance_of(need.nutrient, times, followed) for spread in spreads]


def ratio_variances(ratio: RatioNeed, bound: float, spreads: Iterable[Spread]) -> list[float]:
    """Variances of a - r b: what one share adds to the row of a ratio a over b at a bound r."""
    return [spread.variance_of(ratio.numerator, bound, ratio.denominator) for spread in spreads]
