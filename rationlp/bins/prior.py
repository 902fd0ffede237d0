"""Crop shares of a bin that nobody has sorted: from what was sown, the farm's other bins, or nothing at all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from rationlp.bins.joint import Sorted
from rationlp.book.columns import FOREIGN_MATTER
from rationlp.book.records import Book
from rationlp.library.read import Library

SOWN_CV = 0.5
"""How far a crop's share at harvest may lie from its share of the seed, as a part of it (a judgement: crops of a
mixture
out-yield or smother each other, and no published spread was found)."""
GRAIN_GROUPS = ("cereal", "pulse", "oilseed")


def shares_sown(seed_mass: Sequence[float]) -> Sorted:
    """Shares of the seed as a first guess at the shares of the harvest; each crop by itself may do half as well or
    better.

    `seed_mass` in any one unit. The covariance is that of shares that make a whole.
    """
    shares = np.asarray(seed_mass, float) / float(np.sum(seed_mass))
    off = np.eye(len(shares)) - shares[:, None]
    return Sorted(shares, off @ np.diag((SOWN_CV * shares) ** 2) @ off.T)


def shares_like(other_bins: Sequence[Mapping[str, float]], crops: Sequence[str]) -> Sorted:
    """Shares of a bin among these crops, when other bins of the farm are all that is known (Dirichlet law).

    One count for each crop and one for each other bin: a farm with two bins sorted has an idea, no more.
    """
    counts = np.ones(len(crops)) + sum(
        (np.array([found.get(crop, 0.0) for crop in crops]) for found in other_bins), np.zeros(len(crops))
    )
    return _dirichlet(counts / counts.sum(), float(counts.sum()))


def shares_unknown(crops: Sequence[str]) -> Sorted:
    """Any of these crops, in any share: as wide as a draw that is mostly one crop or another (Dirichlet, 1)."""
    return _dirichlet(np.full(len(crops), 1 / len(crops)), 1.0)


def _dirichlet(mean: np.ndarray, weight: float) -> Sorted:
    return Sorted(mean, (np.diag(mean) - np.outer(mean, mean)) / (weight + 1))


def farm_sorts(book: Book, without_bin: str) -> list[dict[str, float]]:
    """Shares of the newest hand sort of each other bin, foreign matter left out."""
    newest: dict[str, dict[str, float]] = {}
    for sample in sorted(book.samples, key=lambda row: (row.taken_on is not None, row.taken_on)):
        masses = {r.crop: r.mass_g for r in book.sorted if r.sample == sample.sample and r.crop != FOREIGN_MATTER}
        total = sum(masses.values())
        if sample.bin != without_bin and total:
            newest[sample.bin] = {crop: mass / total for crop, mass in masses.items()}
    return list(newest.values())


def library_grains(library: Library) -> list[str]:
    """Every crop of the library that lies in bins."""
    return [feed for feed, row in library.feeds.items() if row.origin == "crop" and row.group in GRAIN_GROUPS]
