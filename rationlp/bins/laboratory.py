"""How far a laboratory's figure may miss: its own statement, the published error of the method, or Horwitz."""

from __future__ import annotations

from rationlp.library.read import Library
from rationlp.library.records import LabVariation

HORWITZ_FLOOR = 1.2e-7
"""Mass fraction below which the relative error no longer grows, 22 % (memory: Analyst 125:385, 2000)."""

MASS_FRACTION = {"%": 0.01, "mg/kg": 1e-6}


def horwitz_rsd_pct(mass_fraction: float) -> float:
    """Relative standard deviation between laboratories [%] for a content given as a mass fraction: 2 C^-0.15.

    Source: AOAC Official Methods, appendix F (aoac_app_f). Raises ValueError for a fraction outside 0 to 1.
    """
    if not 0 < mass_fraction <= 1:
        raise ValueError(f"a mass fraction of {mass_fraction:g}")
    return 2 * max(mass_fraction, HORWITZ_FLOOR) ** -0.15


def label_variation_pct(guarantee_pct: float, per_guarantee: float, constant: float) -> float:
    """Analytical variation of a feed label [% of the guarantee]: a / X + b, X the guarantee in %.

    Crude protein: 20 / X + 2. Source: AAFCO Official Publication, analytical variations (memory).
    """
    return per_guarantee / guarantee_pct + constant


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
    return (row.sd if row.sd is not None else row.cv_pct / 100 * value), row.source


def _published(nutrient: str, method: str, library: Library) -> LabVariation | None:
    """The row for this nutrient whose method words all stand in `method`; a row without words speaks for any method."""
    words = method.lower()
    rows = [row for row in library.lab_variation.get(nutrient, ()) if all(word in words for word in row.method)]
    return max(rows, key=lambda row: len(row.method), default=None)
