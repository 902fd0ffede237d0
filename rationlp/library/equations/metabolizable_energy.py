"""Metabolizable energy in pigs: from digestible energy and protein, or from composition."""

from __future__ import annotations

from rationlp.library.equations.published import published

_NRC = "memory:NRC Nutrient Requirements of Swine 2012, chapter 1"
_FEED_RANGE = "the source prints none; feeds and diets with protein below 65 %"
_PROTEIN = {"crude_protein": (0, 65)}
_DIET = {"ndf": (5, 30), "ash": (2, 10)}


@published(
    "ME1",
    gives="me_pig",
    scope="feedstuffs and diets",
    source=_NRC,
    how="memory",
    valid={"crude_protein": (0, 100)},
    range_from="returns the printed table for 8 to 48 % protein; kept for all",
)
def metabolizable_energy_from_de(de_pig: float, crude_protein: float) -> float:
    """ME [kcal/kg DM] = DE - 6.8 CP; DE kcal/kg, CP in % of the same basis (dry matter here).

    Range: feedstuffs and diets; returns the printed ME of seven table feeds (8 to 48 % protein) within 1 kcal. Source:
    NRC Nutrient Requirements of Swine 2012, chapter 1 (from memory; printed as DE - 0.68 CP with CP in g/kg).
    """
    return de_pig - 6.8 * crude_protein


@published(
    "ME2",
    gives="me_pig",
    scope="mixed diets, growing pigs",
    source=_NRC,
    how="memory",
    valid=_DIET | {"crude_protein": (8, 30), "ether_extract": (0, 15)},
    range_from="the source prints none; usual mixed diets",
)
def metabolizable_energy_of_diet(ash: float, crude_protein: float, ether_extract: float, ndf: float) -> float:
    """ME [kcal/kg DM] = 4194 - 92 ash + 10 CP + 41 EE - 35 NDF, % of dry matter.

    Range: mixed diets for growing pigs. Source: Journal of Animal Science 71:3389, 1993, as given in NRC Nutrient
    Requirements of Swine 2012, chapter 1 (from memory; printed in g/kg).
    """
    return 4194 - 92 * ash + 10 * crude_protein + 41 * ether_extract - 35 * ndf


@published(
    "ME3",
    gives="me_pig",
    scope="feedstuffs and diets",
    source="memory:Can J Anim Sci 1971 51:271",
    how="memory",
    valid=_PROTEIN,
    range_from=_FEED_RANGE,
)
def metabolizable_energy_protein_1971(de_pig: float, crude_protein: float) -> float:
    """ME [kcal/kg] = DE x (1.012 - 0.0019 CP); CP %. Source: Canadian Journal of Animal Science 51:271, 1971 (memory).

    Range: feedstuffs and diets with protein below 65 %.
    """
    return de_pig * (1.012 - 0.0019 * crude_protein)


@published(
    "ME4",
    gives="me_pig",
    scope="feedstuffs and diets",
    source="memory:NRC Nutrient Requirements of Swine 1998, chapter 1",
    how="memory",
    valid=_PROTEIN,
    range_from=_FEED_RANGE,
)
def metabolizable_energy_protein_1998(de_pig: float, crude_protein: float) -> float:
    """ME [kcal/kg] = DE x (96 - 0.202 CP) / 100; CP %. Source: NRC Nutrient Requirements of Swine 1998 (from memory).

    Range: feedstuffs and diets with protein below 65 %.
    """
    return de_pig * (96 - 0.202 * crude_protein) / 100


@published(
    "ME5",
    gives="me_pig",
    scope="corn, sorghum, wheat, brans, oilseed and animal meals",
    source="KSU_ENERGY_1983",
    how="page",
    valid=_PROTEIN | {"crude_fibre": (0, 20)},
)
def metabolizable_energy_protein_fibre(de_pig: float, crude_protein: float, crude_fibre: float) -> float:
    """ME [kcal/kg DM] = DE x (100.4 - 0.12 CP - 0.15 CF) / 100, % of dry matter. r 0.94.

    Range: corn, sorghum, wheat, brans, oilseed and animal meals. Source: Kansas State University Swine Day 1983,
    Report of Progress 442.
    """
    return de_pig * (100.4 - 0.12 * crude_protein - 0.15 * crude_fibre) / 100


@published(
    "ME6",
    gives="me_pig",
    scope="corn, sorghum, wheat, brans, oilseed and animal meals",
    source="KSU_ENERGY_1983",
    how="page",
    valid={"crude_fibre": (0, 20), "ash": (0, 32)},
)
def metabolizable_energy_fibre_ash(crude_fibre: float, ash: float) -> float:
    """ME [kcal/kg DM] = 1000 x (4.277 - 0.0676 CF - 0.0516 ash), % of dry matter. r 0.95.

    Range: as ME5; not oily seed. Source: as ME5.
    """
    return 1000 * (4.277 - 0.0676 * crude_fibre - 0.0516 * ash)


@published(
    "ME7",
    gives="me_pig",
    scope="all feeds",
    source="CAMB_1975",
    how="page",
    valid={"result": (1900, 4500)},
    range_from="the source prints none; ingredients with DE 2011 to 4590 kcal/kg DM",
)
def metabolizable_energy_proximates(crude_protein: float, ether_extract: float, nfe: float) -> float:
    """ME [kcal/kg DM] = 99.5 CP + 144.7 EE + 87.8 NFE - 4795, % of dry matter; EE after acid, NFE by difference.

    r 0.94. Range: ingredients of usual energy. Source: Journal of Agricultural Science, Cambridge 84:19-27, 1975.
    """
    return 99.5 * crude_protein + 144.7 * ether_extract + 87.8 * nfe - 4795


@published("ME8", gives="me_pig", scope="ingredients", source="DEME_2021", how="page", valid={"ndf": (0, 70)})
def metabolizable_energy_of_ingredient(gross_energy: float, ndf: float) -> float:
    """ME [kcal/kg DM] = 965 + 0.66 GE - 24.62 NDF; GE kcal/kg DM, NDF % of dry matter (basis assumed, not printed).

    R2 0.60. Range: ingredients. Source: Animal Bioscience 34(2):306-311, 2021.
    """
    return 965 + 0.66 * gross_energy - 24.62 * ndf


@published("ME9", gives="me_pig", scope="ingredients", source="DEME_2021", how="page", valid={"ndf": (0, 70)})
def metabolizable_energy_of_ingredient_ash(gross_energy: float, ash: float, ndf: float) -> float:
    """ME [kcal/kg DM] = 1133 + 0.65 GE - 29.05 ash - 23.17 NDF; GE kcal/kg DM, the rest % of dry matter.

    R2 0.67. Range: ingredients. Source: as ME8.
    """
    return 1133 + 0.65 * gross_energy - 29.05 * ash - 23.17 * ndf


@published(
    "ME10",
    gives="me_pig",
    scope="mixed diets, growing pigs",
    source="memory:J Anim Sci 1993 71:3389",
    how="memory",
    valid=_PROTEIN,
    range_from=_FEED_RANGE,
)
def metabolizable_energy_protein_1993(de_pig: float, crude_protein: float) -> float:
    """ME [kcal/kg DM] = DE x (100.3 - 0.21 CP) / 100; CP % of dry matter.

    Range: mixed diets for growing pigs. Source: Journal of Animal Science 71:3389, 1993 (from memory; CP there in
    g/kg).
    """
    return de_pig * (100.3 - 0.21 * crude_protein) / 100


@published(
    "ME11",
    gives="me_pig",
    scope="barley, wheat, maize, oats, rye",
    source="cereals_energy_uk",
    how="page",
    valid=_PROTEIN,
    range_from="five cereals",
)
def metabolizable_energy_cereal_protein(de_pig: float, crude_protein: float) -> float:
    """ME [kcal/kg DM] = DE x (100 - 0.254 CP) / 100; CP % of dry matter. r -0.77.

    Range: barley, wheat, maize, oats and rye. Source: Energy values in pig nutrition 3, Journal of Agricultural
    Science, Cambridge.
    """
    return de_pig * (100 - 0.254 * crude_protein) / 100


@published(
    "ME12",
    gives="me_pig",
    scope="barley, wheat, maize, oats, rye",
    source="cereals_energy_uk",
    how="page",
    valid={"de_pig": (2500, 4200)},
    range_from="five cereals",
)
def metabolizable_energy_cereal(de_pig: float) -> float:
    """ME [kcal/kg DM] = 11.95 + 0.965 DE (0.050 + 0.965 DE in MJ). r 0.99. Range and source: as ME11."""
    return 0.050 / 4.184 * 1000 + 0.965 * de_pig
