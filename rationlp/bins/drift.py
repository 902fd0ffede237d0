"""Two hand sorts of one bin: has the mix moved, or is it chance? And how much an older sample still says.

Mixed grain parts by seed size as a bin fills and draws down (umanitoba_33024, bin_flow), so an older sample tells less
of the bin now than its kernels would. How far shares move between two samples is taken to be in proportion to chance:
the drift has `excess` times the covariance that kernels give to the difference of the two sorts. It is estimated by
what chi-square per degree of freedom is above one, and is never taken as less than a half (a judgement), which doubles
the variance of the older of two equal samples.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from rationlp.bins.chance import CLEARLY, chi_square_tail
from rationlp.bins.joint import Sorted, sorted_shares
from rationlp.bins.lots import Crop
from rationlp.bins.model import Drift, ShareDrift
from rationlp.book.records import Sample
from rationlp.numbers import p_words

LEAST_EXCESS = 0.5


def compare(older: Sorted, newer: Sorted, names: tuple[str, str], crops: Sequence[Crop]) -> Drift:
    """The drift from one sort to the next; chi-square has one degree fewer than there are crops."""
    change = newer.shares - older.shares
    covariance = older.covariance + newer.covariance
    degrees = int(np.linalg.matrix_rank(covariance, tol=1e-9 * np.trace(covariance), hermitian=True))
    chi_square = float(change @ np.linalg.pinv(covariance, rcond=1e-9, hermitian=True) @ change)
    p_value = chi_square_tail(chi_square, degrees)
    rows = [
        ShareDrift(crop.crop, crop.label, float(change[i]), float(covariance[i, i]) ** 0.5)
        for i, crop in enumerate(crops)
    ]
    rows.sort(key=lambda row: -abs(row.change) / row.sd if row.sd else 0.0)
    real = p_value < CLEARLY
    excess = max(LEAST_EXCESS, chi_square / degrees - 1 if degrees else 0.0)
    sentence = _sentence(names, rows, p_value, real)
    return Drift(*names, chi_square, degrees, p_value, real, excess, tuple(rows), sentence)


def drifts_between(
    samples: Sequence[Sample], heaps: Mapping[str, Mapping[str, float]], crops: Sequence[Crop]
) -> list[tuple[Drift | None, np.ndarray | None]]:
    """For each sample but the first: the drift since the sort before it, and the covariance it adds to older ones.

    Nothing where there are no two sorts to compare.
    """
    found: list[tuple[Drift | None, np.ndarray | None]] = []
    last = samples[0] if samples and heaps[samples[0].sample] else None
    for sample in samples[1:]:
        masses = heaps[sample.sample]
        if last is None or not masses:
            found.append((None, None))
        else:
            older, newer = (sorted_shares(heaps[one.sample], crops) for one in (last, sample))
            drift = compare(older, newer, (last.sample, sample.sample), crops)
            found.append((drift, drift.excess * (older.covariance + newer.covariance)))
        last = sample if masses else last
    return found


def _sentence(names: tuple[str, str], rows: Sequence[ShareDrift], p_value: float, real: bool) -> str:
    moved = ", ".join(f"{row.label} {100 * row.change:+.1f} (chance {100 * row.sd:.1f})" for row in rows[:3])
    if real:
        return (
            f"From sample {names[0]} to {names[1]} the mix has moved by more than chance ({p_words(p_value)}): {moved} "
            "points. Mixed grain segregates by seed size as a bin is filled and emptied; sample again as it is "
            "drawn down, and mix by the newest sample."
        )
    return f"From sample {names[0]} to {names[1]} the mix moved within chance ({p_words(p_value)}): {moved} points."
