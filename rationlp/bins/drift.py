"""Two hand sorts of one bin: has the mix moved, or is it chance? And how much an older sample still says.

Mixed grain parts by seed size as a bin fills and draws down (umanitoba_33024, bin_flow), so an older sample tells less of
the bin now than its kernels would: its variance is doubled by each newer sample, and where the two differ by more than
chance it is multiplied by the chi-square per degree of freedom instead, and one (the Birge ratio; memory: Physical
Review 40:207, 1932).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from rationlp.bins.chance import CLEARLY, chi_square_tail
from rationlp.bins.joint import Sorted, sorted_shares
from rationlp.bins.lots import Crop
from rationlp.bins.model import Drift, ShareDrift
from rationlp.book.records import Sample


def compare(older: Sorted, newer: Sorted, names: tuple[str, str], crops: Sequence[Crop]) -> Drift:
    """The drift from one sort to the next. Chi-square is over the shares that are free to move: one fewer than crops."""
    change = newer.shares - older.shares
    covariance = older.covariance + newer.covariance
    degrees = int(np.linalg.matrix_rank(covariance, tol=1e-9 * np.trace(covariance), hermitian=True))
    chi_square = float(change @ np.linalg.pinv(covariance, rcond=1e-9, hermitian=True) @ change)
    p_value = chi_square_tail(chi_square, degrees)
    rows = [
        ShareDrift(crop.crop, crop.label, float(change[i]), float(covariance[i, i]) ** 0.5) for i, crop in enumerate(crops)
    ]
    rows.sort(key=lambda row: -abs(row.change) / row.sd if row.sd else 0.0)
    real = p_value < CLEARLY
    return Drift(
        *names, chi_square, degrees, p_value, real, 1 + max(1.0, chi_square / degrees if degrees else 0.0), tuple(rows),
        _sentence(names, rows, p_value, real),
    )  # fmt: skip


def widenings(
    samples: Sequence[Sample], heaps: Mapping[str, Mapping[str, float]], crops: Sequence[Crop]
) -> list[Drift]:
    """What each sample after the first does to all that is older. Without two sorts to compare, variance is doubled."""
    found: list[Drift] = []
    last = samples[0] if samples and heaps[samples[0].sample] else None
    for sample in samples[1:]:
        masses = heaps[sample.sample]
        if last is None or not masses:
            older = last.sample if last else ""
            found.append(Drift(older, sample.sample, 0.0, 0, 1.0, False, 2.0, (), ""))
        else:
            sorts = sorted_shares(heaps[last.sample], crops), sorted_shares(masses, crops)
            found.append(compare(*sorts, (last.sample, sample.sample), crops))
        last = sample if masses else last
    return found


def _sentence(names: tuple[str, str], rows: Sequence[ShareDrift], p_value: float, real: bool) -> str:
    moved = ", ".join(f"{row.label} {100 * row.change:+.1f} (chance {100 * row.sd:.1f})" for row in rows[:3])
    if real:
        return (
            f"From sample {names[0]} to {names[1]} the mix has moved by more than chance (p {p_value:.2g}): {moved} points. "
            "Mixed grain parts by seed size as a bin fills and empties; sample again as it is drawn down, and mix by the "
            "newest sample."
        )
    return f"From sample {names[0]} to {names[1]} the mix moved within chance (p {p_value:.2g}): {moved} points."
