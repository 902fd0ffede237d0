"""What a sorted or drawn sample says of the grain it came from: kernels are few, and they are not of one mass.

Shares are 0 to 1 by mass, kernel masses in grams, sample masses in grams. The formulas are those of the theory of
sampling (fundamental error) for a lot that is large beside the sample and drawn from at random; what a bin adds by
being uneven from place to place is not in them and shows only between samples (drift.py).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

KERNEL_MASS_CV = 0.2
"""Spread of kernel mass within one crop, as a share of its mean (common practice: 20 to 25 % in grain)."""

MOST_INCREMENTS = 40
FEWEST_INCREMENTS = 7


def count_sd(share: float, kernels: int) -> float:
    """Standard deviation [share] of a share by count, from `kernels` kernels: sqrt(p (1 - p) / n).

    Source: binomial law, as used by USDA FGIS (gipsa_biotech_2).
    """
    return math.sqrt(share * (1 - share) / kernels)


def count_cv(share: float, kernels: int) -> float:
    """Coefficient of variation of a share by count [share of it]: sqrt((1 - p) / (n p)). Source: jaoac_84_1941."""
    return math.sqrt((1 - share) / (kernels * share))


def heft(shares: Sequence[float], kernel_mass_g: Sequence[float], kernel_mass_cv: float = 0.0) -> np.ndarray:
    """w k (1 + c^2) of each crop [g]: what one gram of it adds to the variance of a sample."""
    return np.asarray(shares, float) * np.asarray(kernel_mass_g, float) * (1 + kernel_mass_cv**2)


def share_covariance(
    shares: Sequence[float], kernel_mass_g: Sequence[float], sample_g: float, kernel_mass_cv: float = 0.0
) -> np.ndarray:
    """Covariance matrix [share squared] of the shares found in a sample of `sample_g` grams.

    cov(A, B) = (1 / M) sum_j w_j k_j (1 + c^2) (d_Aj - w_A) (d_Bj - w_B), d = 1 for the same crop, else 0. Its rows add
    to nothing: shares always make a whole. Source: fundamental error of the theory of sampling (fe_page, gy_wiki); the
    covariance by the same argument.
    """
    shares = np.asarray(shares, float)
    off = np.eye(len(shares)) - shares[:, None]
    return (off * heft(shares, kernel_mass_g, kernel_mass_cv)) @ off.T / sample_g


def property_variance(
    shares: Sequence[float],
    kernel_mass_g: Sequence[float],
    contents: Sequence[float],
    sample_g: float,
    kernel_mass_cv: float = 0.0,
) -> float:
    """Variance [unit of `contents` squared] of a content, such as protein, between samples of `sample_g` grams.

    Var = (1 / M) sum_j w_j k_j (1 + c^2) (a_j - a_mix)^2. Source: fundamental error (fe_page, gy_wiki).
    """
    shares, contents = np.asarray(shares, float), np.asarray(contents, float)
    return float(heft(shares, kernel_mass_g, kernel_mass_cv) @ (contents - shares @ contents) ** 2) / sample_g


def effective_kernels(share: float, variance: float) -> float:
    """How many kernels of one mass would tell a share as well: w (1 - w) / variance. Source: as share_covariance."""
    return share * (1 - share) / variance


def grams_to_sort(
    shares: Sequence[float],
    kernel_mass_g: Sequence[float],
    contents: Sequence[float],
    sd: float,
    kernel_mass_cv: float = 0.0,
) -> float:
    """Grams to sort, so that sorting alone leaves `sd` (unit of `contents`). Source: as property_variance."""
    return property_variance(shares, kernel_mass_g, contents, 1.0, kernel_mass_cv) / sd**2


def increments(tonnes: float) -> int:
    """How many probes or cuts a lot of loose grain needs: 7 up to 2.5 t, then sqrt(20 t) rounded up, at most 40.

    Source: German feed sampling ordinance (de_feed_sampling); the same rule in Regulation (EU) 691/2013 from memory.
    """
    if tonnes <= 2.5:
        return FEWEST_INCREMENTS
    return min(MOST_INCREMENTS, math.ceil(math.sqrt(20 * tonnes)))
