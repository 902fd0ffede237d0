"""How likely a difference is by chance alone."""

from __future__ import annotations

import math

CLEARLY = 0.01
"""Below this probability a difference is more than chance."""
DOUBTFUL = 0.05


def chi_square_tail(chi_square: float, degrees: int) -> float:
    """Probability that a chi-square of so many degrees is larger; 1 for no degrees.

    Closed form for whole degrees. Even: exp(-x/2) sum (x/2)^j / j!; odd: erfc(sqrt(x/2)) and the same sum over halves.
    """
    if degrees <= 0:
        return 1.0
    half = max(chi_square, 0.0) / 2
    even = degrees % 2 == 0
    total = 0.0 if even else math.erfc(math.sqrt(half))
    term = math.exp(-half) if even else 2 * math.sqrt(half / math.pi) * math.exp(-half)
    step = 1.0 if even else 1.5
    for _ in range(degrees // 2):
        total += term
        term *= half / step
        step += 1
    return min(total, 1.0)
