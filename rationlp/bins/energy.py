"""How the energy of a crop follows its proximates: the slopes of the published equations.

The library's own figure stays where it is; only its change with protein, fat, fibre, ash and starch comes from the
equations. Figures are on dry matter, percent and kcal/kg. A slope is scaled by what the library's figure is of the
equation's, as the library does where fat in small seed is not fully digested.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping
from inspect import signature

from rationlp.library.equations.digestible_energy import digestible_energy_of_ingredient
from rationlp.library.equations.gross_energy import gross_energy_inra
from rationlp.library.equations.metabolizable_energy import metabolizable_energy_from_de
from rationlp.library.equations.net_energy import net_energy_from_de
from rationlp.library.equations.poultry_energy import amen_compound_feed
from rationlp.library.equations.poultry_feeds import (
    amen_barley,
    amen_corn,
    amen_oats,
    amen_sorghum_low_tannin,
    amen_soybeans_heated,
    amen_triticale,
    amen_wheat,
)
from rationlp.library.equations.published import OutsideRange

Equation = Callable[..., float]

AMEN_OF_FAMILY: dict[str, Equation] = {
    "corn": amen_corn,
    "wheat": amen_wheat,
    "triticale": amen_triticale,
    "barley": amen_barley,
    "oats": amen_oats,
    "hulless_oats": amen_oats,
    "sorghum": amen_sorghum_low_tannin,
    "soybeans_roasted": amen_soybeans_heated,
}
"""The equation of NRC 1994, Table B-1, for each family of crops; the others take that of the EU for compound feed."""

NFE_PARTS = ("crude_protein", "ether_extract", "crude_fibre", "ash")
"""Nitrogen-free extract is what is left of 100 % beside these."""

STEP = 0.01


def energy_equations(family: str) -> dict[str, Equation]:
    """The equation behind each energy of a crop of this family, those that others build on first."""
    return {
        "gross_energy": gross_energy_inra,
        "de_pig": digestible_energy_of_ingredient,
        "me_pig": metabolizable_energy_from_de,
        "ne_pig": net_energy_from_de,
        "amen_poultry": AMEN_OF_FAMILY.get(family, amen_compound_feed),
    }


EXACT = frozenset({"me_pig", "ne_pig"})
"""Energies that the library itself reckons by their equation from digestible energy: nothing is left beside it."""


def slopes(equation: Equation, figures: Mapping[str, float], level: float | None = None) -> dict[str, float] | None:
    """Change of the energy [kcal/kg DM] for each unit of each nutrient it is reckoned from, at `figures`.

    With `level`, the library's own figure, the slopes are scaled by what it is of the equation's. None if a nutrient
    the equation needs is not among `figures`.
    """
    names = [name for name, part in signature(equation).parameters.items() if part.default is part.empty]
    arguments = {name: _argument(name, figures) for name in names}
    if any(value is None for value in arguments.values()):
        return None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        base = equation(**arguments)
        raw = {name: (equation(**{**arguments, name: arguments[name] + STEP}) - base) / STEP for name in names}
    scale = level / base if level is not None else 1.0
    return _without_nfe({name: slope * scale for name, slope in raw.items()})


def _argument(name: str, figures: Mapping[str, float]) -> float | None:
    if name != "nfe":
        return figures.get(name)
    if any(part not in figures for part in NFE_PARTS):
        return None
    return max(100 - sum(figures[part] for part in NFE_PARTS), 0.0)


def _without_nfe(found: dict[str, float]) -> dict[str, float]:
    """A slope on nitrogen-free extract is the same slope, downwards, on each of the parts it is the rest of."""
    nfe = found.pop("nfe", None)
    if nfe is not None:
        for part in NFE_PARTS:
            found[part] = found.get(part, 0.0) - nfe
    return found
