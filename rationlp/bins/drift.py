"""How samples of one bin differ: by place, for a bin is uneven, and by time, for its mix moves as it is drawn.

By place: mixed grain parts by seed size as a bin fills (umanitoba_33024, maize_silo_seg), so that one probe holds more
of a crop than another. A crop's share in one probe is taken to spread about the bin's by a part of itself, each crop
by its own, all together making a whole; a sample of n probes spreads by 1/n of that variance. That the spread is in
proportion to the share is published (umanitoba_33024: the share before filling did not change the pattern); how wide
it is, nobody has published of mixed grain, so PROBE_CV is a judgement, which samples that a farm takes of one bin on
one day replace.

By time: an older sample tells less of the bin now than chance would let it (bin_flow). How far shares move between two
days is taken to be in proportion to chance: the drift has `excess` times the covariance that kernels and probes give to
the difference of the two sorts. It is estimated by what chi-square per degree of freedom is above one, and is never
taken as less than a half (a judgement), which doubles the variance of the older of two equal samples.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from rationlp.bins.chance import CLEARLY, chi_square_tail
from rationlp.bins.joint import Sorted
from rationlp.bins.lots import Crop
from rationlp.bins.model import Drift, ShareDrift
from rationlp.book.records import Sample
from rationlp.finder import listed
from rationlp.numbers import Floats, p_words

LEAST_EXCESS = 0.5
PROBE_CV = 0.3
"""Spread of a crop's share between single probes of one bin, as a part of the share (a judgement: no figure of mixed
grain is published; fumonisin, which lies in many kernels, spreads by 27 % between probes of maize silos:
silo_mycotoxins)."""
PROBE_CV_DEGREES = 4.0
"""How many differences between samples PROBE_CV counts as much as (a judgement)."""
PROBES_NOT_STATED = 5
"""Probes of a sample of which the book does not say how many: the fewest that any rule asks of a full bin (memory: ISO
950, ISO 24333)."""
CV_GRID = np.geomspace(0.01, 1.5, 120)


@dataclass(frozen=True, slots=True)
class Unevenness:
    """Variance of a crop's share between probes, as a part of the share squared, and how many samples it rests on.

    0 samples: PROBE_CV, a judgement.
    """

    variance: float
    samples: int = 0

    @property
    def cv(self) -> float:
        """Spread between single probes as a part of the share."""
        return math.sqrt(self.variance)

    def of(self, shares: Floats, probes: int) -> Floats:
        """Covariance of the shares in so many probes about the bin's."""
        return self.variance / probes * between_probes(shares)


def between_probes(shares: Floats) -> Floats:
    """Covariance of the shares in one probe for a spread of 1: every share by itself, then made a whole again."""
    likely = np.clip(shares, 1e-9, 1)
    likely = likely / likely.sum()
    off = np.eye(len(likely)) - likely[:, None]
    spread: Floats = off @ np.diag(likely**2) @ off.T
    return spread


def probes_of(sample: Sample) -> int:
    """Probes of a sample, PROBES_NOT_STATED where the book is silent."""
    return sample.probes or PROBES_NOT_STATED


def unevenness(repeats: Sequence[Sequence[tuple[Sorted, int]]]) -> Unevenness:
    """What samples taken of one bin on one day say of how uneven this farm's bins are, beside PROBE_CV.

    Each of `repeats` has the sorts of one bin and day with their probes. The difference of each sort from the mean of
    those before it is normal with the covariance of kernels and probes; the variance between probes is its posterior
    mean, by a grid over its square root, under a scaled inverse chi-square of PROBE_CV_DEGREES whose mean is PROBE_CV
    squared (A. Gelman and others, Bayesian Data Analysis, chapter 2.6: memory).
    """
    variances = CV_GRID**2
    scale = PROBE_CV**2 * (PROBE_CV_DEGREES - 2)
    logs = -(PROBE_CV_DEGREES / 2) * np.log(variances) - scale / (2 * variances)  # in log variance, as the grid is
    for sorts in repeats:
        for later in range(1, len(sorts)):
            logs += [_log_likelihood(sorts[: later + 1], variance) for variance in variances]
    count = sum(len(sorts) for sorts in repeats)
    if not count:
        return Unevenness(PROBE_CV**2)
    weights = np.exp(logs - logs.max())
    return Unevenness(float(weights @ variances / weights.sum()), count)


def _log_likelihood(sorts: Sequence[tuple[Sorted, int]], variance: float) -> float:
    """Of the last sort's difference from the mean of the others, up to a constant."""
    *before, last = sorts
    shares = np.mean([sort.shares for sort, _ in sorts], axis=0)
    place = variance * between_probes(shares)
    covariance = last[0].covariance + place / last[1]
    covariance = covariance + sum(sort.covariance + place / probes for sort, probes in before) / len(before) ** 2
    off = last[0].shares - np.mean([sort.shares for sort, _ in before], axis=0)
    values, vectors = np.linalg.eigh(covariance)
    real = values > 1e-12 * values.max()
    along = vectors[:, real].T @ off
    return float(-0.5 * (np.log(values[real]).sum() + (along**2 / values[real]).sum()))


def one_day(samples: Sequence[Sample]) -> list[list[Sample]]:
    """The samples of one bin that were taken on one day, where there are several."""
    dated = sorted((row for row in samples if row.taken_on), key=lambda row: str(row.taken_on))
    groups = (list(rows) for _, rows in groupby(dated, key=lambda row: row.taken_on))
    return [rows for rows in groups if len(rows) > 1]


def compare(older: Sorted, newer: Sorted, names: tuple[str, str], crops: Sequence[Crop], same_day: bool) -> Drift:
    """The drift from one sort to the next; chi-square has one degree fewer than there are crops.

    The covariances are of kernels and probes together.
    """
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
    excess = 0.0 if same_day else LEAST_EXCESS
    if degrees and not (same_day and not real):
        excess = max(excess, chi_square / degrees - 1)
    sentence = _sentence(names, rows, p_value, real, same_day)
    return Drift(*names, chi_square, degrees, p_value, real, excess, tuple(rows), sentence)


def drifts_between(
    samples: Sequence[Sample], sorts: Mapping[str, Sorted], uneven: Mapping[str, Floats], crops: Sequence[Crop]
) -> list[tuple[Drift | None, Floats | None]]:
    """For each sample but the first: the drift since the sort before it, and the covariance it adds to older ones.

    Nothing where there are no two sorts to compare.
    """
    found: list[tuple[Drift | None, Floats | None]] = []
    last = samples[0] if samples and samples[0].sample in sorts else None
    for sample in samples[1:]:
        if last is None or sample.sample not in sorts:
            found.append((None, None))
        else:
            older, newer = (
                Sorted(sorts[one.sample].shares, sorts[one.sample].covariance + uneven[one.sample])
                for one in (last, sample)
            )
            same_day = last.taken_on is not None and last.taken_on == sample.taken_on
            drift = compare(older, newer, (last.sample, sample.sample), crops, same_day)
            found.append((drift, drift.excess * (older.covariance + newer.covariance)))
        last = sample if sample.sample in sorts else last
    return found


def _sentence(names: tuple[str, str], rows: Sequence[ShareDrift], p_value: float, real: bool, same_day: bool) -> str:
    moved = listed(f"{row.label} {100 * row.change:+.1f} (chance {100 * row.sd:.1f})" for row in rows[:3])
    if same_day:
        how = "by more than" if real else "within"
        more = " Take more probes, and see whether both samples are of this bin." if real else ""
        return (
            f"Samples {names[0]} and {names[1]} of one day differ {how} what kernels and the probes of an uneven bin "
            f"explain ({p_words(p_value)}): {moved} points.{more}"
        )
    if real:
        return (
            f"From sample {names[0]} to {names[1]} the mix has moved by more than chance ({p_words(p_value)}): {moved} "
            "points. Mixed grain segregates by seed size as a bin is filled and emptied; sample again as it is "
            "drawn down, and mix by the newest sample."
        )
    return f"From sample {names[0]} to {names[1]} the mix moved within chance ({p_words(p_value)}): {moved} points."
