"""How far a sample and an assay of it may miss: kernels are few and not of one mass, and laboratories err.

Shares are 0 to 1 by mass, kernel masses in grams, sample sizes in kernels or grams.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from rationlp.library.read import Library
from rationlp.library.records import LabVariation
from rationlp.numbers import Floats

KERNEL_MASS_CV = 0.2
"""Spread of kernel mass within one crop, as a share of its mean (common practice: 20 to 25 % in grain)."""

NOT_ABOVE = 0.05
"""How often a share may be above the most that is said of it."""
MOST_INCREMENTS = 40
FEWEST_INCREMENTS = 7
HORWITZ_FLOOR = 1.2e-7
"""Mass fraction below which the relative error no longer grows, 22 % (memory: Analyst 125:385, 2000)."""

MASS_FRACTION = {"%": 0.01, "mg/kg": 1e-6}


def as_floats(numbers: Sequence[float] | Floats) -> Floats:
    """The numbers as an array."""
    return np.asarray(numbers, dtype=np.float64)


def heft(
    shares: Sequence[float] | Floats, kernel_mass_g: Sequence[float] | Floats, kernel_mass_cv: float = 0.0
) -> Floats:
    """w k (1 + c^2) of each crop [g]: what one gram of it adds to the variance of a sample."""
    return as_floats(shares) * as_floats(kernel_mass_g) * (1 + kernel_mass_cv**2)


def share_covariance(
    shares: Sequence[float] | Floats,
    kernel_mass_g: Sequence[float] | Floats,
    sample_g: float,
    kernel_mass_cv: float = 0.0,
) -> Floats:
    """Covariance matrix [share squared] of the shares found in a sample of `sample_g` grams.

    cov(A, B) = (1 / M) sum_j w_j k_j (1 + c^2) (d_Aj - w_A) (d_Bj - w_B), d = 1 for the same crop, else 0. Its rows add
    to nothing: shares always make a whole. Source: fundamental error of the theory of sampling (fe_page, gy_wiki); the
    covariance by the same argument.
    """
    off = np.eye(len(shares)) - as_floats(shares)[:, None]
    spread: Floats = (off * heft(shares, kernel_mass_g, kernel_mass_cv)) @ off.T
    return spread / sample_g


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
    each = as_floats(contents)
    off = each - float(as_floats(shares) @ each)
    return float(heft(shares, kernel_mass_g, kernel_mass_cv) @ off**2) / sample_g


def none_found_at_most(kernel_mass_g: float, sample_g: float) -> float:
    """The share of a crop that is not exceeded 19 times in 20 where a sample held no kernel of it.

    Kernels found follow the Poisson law, so that none are found 1 time in 20 of -ln(0.05) = 3.0 expected ones. Source:
    memory, Hanley and Lippman-Hand, If nothing goes wrong, is everything all right?, JAMA 249, 1983 (rule of three).
    """
    return min(-math.log(NOT_ABOVE) * kernel_mass_g / sample_g, 1.0)


def increments(tonnes: float) -> int:
    """How many probes or cuts a lot of loose grain needs: 7 up to 2.5 t, then sqrt(20 t) rounded up, at most 40.

    Source: German feed sampling ordinance (de_feed_sampling); the same rule in Regulation (EU) 691/2013 from memory.
    """
    if tonnes <= 2.5:
        return FEWEST_INCREMENTS
    return min(MOST_INCREMENTS, math.ceil(math.sqrt(20 * tonnes)))


def horwitz_rsd_pct(mass_fraction: float) -> float:
    """Relative standard deviation between laboratories [%] for a content given as a mass fraction: 2 C^-0.15.

    Source: AOAC Official Methods, appendix F (aoac_app_f). Raises ValueError for a fraction outside 0 to 1.
    """
    if not 0 < mass_fraction <= 1:
        raise ValueError(f"a mass fraction of {mass_fraction:g}")
    return 2 * math.pow(max(mass_fraction, HORWITZ_FLOOR), -0.15)


def lab_sd(nutrient: str, value: float, unit: str, method: str, library: Library) -> tuple[float, str]:
    """Standard deviation of one laboratory figure, in `unit`, and who says so.

    `value` and `unit` are as the laboratory gives them, `method` its words. A published error of the method or nutrient
    (lab_variation.csv) comes before the Horwitz formula, which knows only mass fractions.
    """
    kind = library.nutrients[nutrient].kind if nutrient in library.nutrients else "own"
    row = _published(nutrient, method, library) or _published(kind, method, library)
    if row is None and unit in MASS_FRACTION:
        if value <= 0:
            return 0.0, "aoac_app_f"
        return value * horwitz_rsd_pct(min(value * MASS_FRACTION[unit], 1.0)) / 100, "aoac_app_f"
    row = row or _published("all", method, library)
    if row is None:
        raise ValueError(f"no laboratory variation for {nutrient} in {unit}")
    return row.sd_at(value), row.source


def _published(nutrient: str, method: str, library: Library) -> LabVariation | None:
    """The row for this nutrient whose method words all stand in `method`; a row without words speaks for any method."""
    words = method.lower()
    rows = [row for row in library.lab_variation.get(nutrient, ()) if all(word in words for word in row.method)]
    return max(rows, key=lambda row: len(row.method), default=None)
