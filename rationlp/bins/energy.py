"""How the energy of a crop follows its proximates: the slopes of the equations that the library names for it.

The library's own figure stays where it is; only its change with protein, fat, fibre, ash and starch comes from the
equations (estimates.csv says which). Figures are on dry matter, percent and kcal/kg.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping

from rationlp.library.equations import EquationError, OutsideRange
from rationlp.library.expressions import evaluate, inputs_of
from rationlp.library.read import Library
from rationlp.library.reestimate import ENERGIES, estimate_for

EXACT = frozenset({"me_pig", "ne_pig"})
"""Energies that the library itself reckons by their equation from digestible energy: nothing is left beside it."""
STEP = 0.01

__all__ = ["ENERGIES", "EXACT", "slopes"]


def slopes(energy: str, crop: str, figures: Mapping[str, float], library: Library) -> dict[str, float] | None:
    """Change of an energy [kcal/kg DM] for each unit of each figure it is reckoned from, at `figures` of the crop.

    None if the library names no equation for it, or a figure the equation needs is missing or impossible.
    """
    row = estimate_for(crop, energy, library)
    if row is None or not inputs_of(row.equation) <= figures.keys():
        return None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        try:
            base = evaluate(row.equation, crop, {crop: figures})
            return {
                name: (evaluate(row.equation, crop, {crop: {**figures, name: figures[name] + STEP}}) - base) / STEP
                for name in sorted(inputs_of(row.equation))
            }
        except EquationError:
            return None
