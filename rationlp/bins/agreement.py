"""Does the assay say what hand sort and library lead one to expect? And if not, which slip would explain it?"""

from __future__ import annotations

import math

CLEARLY = 0.01
"""Below this probability sort and assay disagree."""
DOUBTFUL = 0.05


def chi_square_tail(chi_square: float, degrees: int) -> float:
    """Probability that a chi-square of so many degrees is larger. Closed form for whole degrees; 1 for none.

    Even degrees: exp(-x/2) sum (x/2)^j / j!; odd: erfc(sqrt(x/2)) and the same sum over half-integers.
    """
    if degrees <= 0:
        return 1.0
    half = max(chi_square, 0.0) / 2
    term = math.exp(-half) if degrees % 2 == 0 else math.sqrt(half / math.pi) * 2 * math.exp(-half)
    total = 0.0 if degrees % 2 == 0 else math.erfc(math.sqrt(half))
    step = 1.0 if degrees % 2 == 0 else 1.5
    for _ in range(degrees // 2):
        total += term
        term *= half / step
        step += 1
    return min(total, 1.0)
