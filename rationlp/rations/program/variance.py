"""What one share of a candidate adds to the variance of a row."""

from __future__ import annotations

from rationlp.errors import given
from rationlp.feeds.spread import Spread
from rationlp.stages.model import Need, RatioNeed


def row_variance(need: Need, bound: float, spread: Spread, energy: str | None) -> float:
    """Variance of a - r (per kg) or a - r e / e_ref (with energy): what one share adds to the row of a bound r."""
    variance = spread.covariance_of(need.nutrient, need.nutrient)
    if need.reference_energy is None:
        return variance
    return _difference(
        variance,
        need.nutrient,
        bound / need.reference_energy,
        given(energy, "the energy of a need that follows it"),
        spread,
    )


def ratio_variance(ratio: RatioNeed, bound: float, spread: Spread) -> float:
    """Variance of a - r b: what one share adds to the row of a ratio a over b at a bound r."""
    variance = spread.covariance_of(ratio.numerator, ratio.numerator)
    return _difference(variance, ratio.numerator, bound, ratio.denominator, spread)


def _difference(variance: float, first: str, times: float, second: str, spread: Spread) -> float:
    """Variance of `first` less `times` the second; not below nothing, where rounding would have it so."""
    together, other = spread.covariance_of(first, second), spread.covariance_of(second, second)
    return max(variance - 2 * times * together + times**2 * other, 0.0)
