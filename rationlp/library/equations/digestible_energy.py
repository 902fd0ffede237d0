"""Digestible energy in growing pigs from composition.

Adult sows digest fibre better; the growing pig's figure used for sows errs on the safe side (NE_REVIEW_2007).
"""

from __future__ import annotations

from rationlp.library.equations.published import published

_NOBLET_PEREZ = "memory:NRC Nutrient Requirements of Swine 2012, chapter 1"
_DIET_RANGE = "the source prints none; usual mixed diets"
_DIET = {"ndf": (5, 30), "ash": (2, 10)}
_INGREDIENT_DE = (2011, 4590)
_DIET_DE = (2801, 4203)
_PRINTED = "range of the data, printed in the abstract"
_CEREALS = "cereals of the library (the source: 14 cereals)"


@published(
    "DE1",
    gives="de_pig",
    scope="mixed diets, growing pigs",
    source=_NOBLET_PEREZ,
    how="memory",
    valid=_DIET,
    range_from=_DIET_RANGE,
)
def digestible_energy_of_diet(gross_energy: float, ash: float, ndf: float) -> float:
    """DE [kcal/kg DM] = 1161 + 0.749 GE - 43 ash - 41 NDF; GE kcal/kg DM, the rest % of dry matter.

    Range: mixed diets for growing pigs, NDF 5 to 30 %. Source: Journal of Animal Science 71:3389, 1993, as given in NRC
    Nutrient Requirements of Swine 2012, chapter 1 (from memory; printed in g/kg).
    """
    return 1161 + 0.749 * gross_energy - 43 * ash - 41 * ndf


@published(
    "DE2",
    gives="de_pig",
    scope="mixed diets, growing pigs",
    source=_NOBLET_PEREZ,
    how="memory",
    valid=_DIET | {"ether_extract": (0, 15), "crude_protein": (8, 30)},
    range_from=_DIET_RANGE,
)
def digestible_energy_of_diet_without_ge(ash: float, crude_protein: float, ether_extract: float, ndf: float) -> float:
    """DE [kcal/kg DM] = 4168 - 91 ash + 19 CP + 39 EE - 36 NDF, % of dry matter; no gross energy needed.

    Range: mixed diets for growing pigs, CP 8 to 30 %, EE below 15 %. Source: as DE1.
    """
    return 4168 - 91 * ash + 19 * crude_protein + 39 * ether_extract - 36 * ndf


@published(
    "DE3",
    gives="de_pig",
    scope="ingredients",
    source="DE_2020",
    how="page",
    valid={"result": _INGREDIENT_DE},
    range_from=_PRINTED,
)
def digestible_energy_of_ingredient_ash(gross_energy: float, ash: float, ndf: float) -> float:
    """DE [kcal/kg DM] = 1356 + 0.704 GE - 60.3 ash - 27.7 NDF; GE kcal/kg DM, the rest % of dry matter.

    R2 0.80 over 289 data of 39 studies. Range: ingredients with DE 2011 to 4590 kcal/kg DM. Source: Animal Bioscience
    33(4), 2020.
    """
    return 1356 + 0.704 * gross_energy - 60.3 * ash - 27.7 * ndf


@published(
    "DE4",
    gives="de_pig",
    scope="mixed diets",
    source="DE_2020",
    how="page",
    valid={"result": _DIET_DE},
    range_from=_PRINTED,
)
def digestible_energy_of_diet_2020(gross_energy: float, ash: float, ndf: float) -> float:
    """DE [kcal/kg DM] = 1551 + 0.606 GE - 22.1 ash - 25.6 NDF; GE kcal/kg DM, the rest % of dry matter.

    R2 0.62. Range: mixed diets with DE 2801 to 4203 kcal/kg DM. Source: Animal Bioscience 33(4), 2020.
    """
    return 1551 + 0.606 * gross_energy - 22.1 * ash - 25.6 * ndf


@published(
    "DE5",
    gives="de_pig",
    scope="ingredients",
    source="DEME_2021",
    how="page",
    valid={"result": _INGREDIENT_DE, "ndf": (0, 70)},
    range_from="ingredients; the range of DE_2020, whose data it widens",
)
def digestible_energy_of_ingredient(gross_energy: float, ndf: float) -> float:
    """DE [kcal/kg DM] = 728 + 0.76 GE - 25.18 NDF; GE kcal/kg DM, NDF % of dry matter (basis assumed, not printed).

    R2 0.64 over 734 data of 81 experiments. Range: ingredients, DE 2011 to 4590 kcal/kg DM; oily small seed is
    overrated (measured canola seed is 0.917 of it). Source: Animal Bioscience 34(2):306-311, 2021.
    """
    return 728 + 0.76 * gross_energy - 25.18 * ndf


@published(
    "DE6",
    gives="de_pig",
    scope="corn, sorghum, wheat, brans, oilseed and animal meals",
    source="KSU_ENERGY_1983",
    how="page",
    valid={"crude_fibre": (0, 20), "ash": (0, 32)},
)
def digestible_energy_fibre_ash(crude_fibre: float, ash: float) -> float:
    """DE [kcal/kg DM] = 1000 x (4.360 - 0.0652 CF - 0.0489 ash), % of dry matter.

    r 0.93. Range: corn, sorghum, wheat, brans, oilseed and animal meals; not oily seed, whose fat it does not see.
    Source: Kansas State University Swine Day 1983, Report of Progress 442.
    """
    return 1000 * (4.360 - 0.0652 * crude_fibre - 0.0489 * ash)


@published(
    "DE7",
    gives="de_pig",
    scope="cereals",
    source="CAMB_1975",
    how="page",
    valid={"crude_fibre": (1.5, 15)},
    range_from=_CEREALS,
)
def digestible_energy_cereal_fibre(crude_fibre: float) -> float:
    """DE [kcal/kg DM] = 4228 - 140 CF, % of dry matter.

    r -0.97 over 14 cereals. Range: cereals, crude fibre 1.5 to 15 %. Source: Journal of Agricultural Science, Cambridge
    84:19-27, 1975.
    """
    return 4228 - 140 * crude_fibre


@published(
    "DE8",
    gives="de_pig",
    scope="cereals",
    source="CAMB_1975",
    how="page",
    valid={"modified_adf": (2, 20)},
    range_from=_CEREALS,
)
def digestible_energy_cereal_adf(modified_adf: float) -> float:
    """DE [kcal/kg DM] = 4179 - 86 MADF (modified acid detergent fibre), % of dry matter.

    r -0.96 over 14 cereals. Range: cereals. Source: as DE7.
    """
    return 4179 - 86 * modified_adf


@published(
    "DE9",
    gives="de_pig",
    scope="all feeds",
    source="CAMB_1975",
    how="page",
    valid={"result": _INGREDIENT_DE},
    range_from="ingredients; the range of DE_2020",
)
def digestible_energy_proximates(crude_protein: float, ether_extract: float, nfe: float) -> float:
    """DE [kcal/kg DM] = 109.9 CP + 149.3 EE + 90.1 NFE - 5030, % of dry matter; EE after acid, NFE by difference.

    r 0.95. Range: feeds with DE 2011 to 4590 kcal/kg DM. Source: as DE7.
    """
    return 109.9 * crude_protein + 149.3 * ether_extract + 90.1 * nfe - 5030


@published("DE10", gives="de_pig", scope="all feeds", source="CAMB_1975", how="page")
def digestible_energy_digested_parts(
    digestible_protein: float, digestible_fat: float, digestible_fibre: float, digestible_nfe: float
) -> float:
    """DE [kcal/kg DM] = 52.9 DCP + 108.3 DEE + 39.4 DCF + 39.9 DNFE + 183.7, digestible parts in % of dry matter.

    r 0.99. Range: all feeds whose digestible parts are known. Source: as DE7.
    """
    return 52.9 * digestible_protein + 108.3 * digestible_fat + 39.4 * digestible_fibre + 39.9 * digestible_nfe + 183.7


@published(
    "DE11",
    gives="de_pig",
    scope="mixed diets",
    source="NDF_DE",
    how="page",
    valid={"ndf": (5, 30)},
    range_from=_DIET_RANGE,
)
def digestible_energy_ndf(ndf: float) -> float:
    """DE [kcal/kg DM] = 4314 - 37.22 NDF, % of dry matter. Residual SD 265 kcal.

    Range: mixed diets. Source: journal abstract NDF_DE.
    """
    return 4314 - 37.22 * ndf


@published(
    "DE12",
    gives="de_pig",
    scope="mixed diets",
    source="NDF_DE",
    how="page",
    valid={"ndf": (5, 30)},
    range_from=_DIET_RANGE,
)
def digestible_energy_ge_ndf(gross_energy: float, ndf: float) -> float:
    """DE [kcal/kg DM] = 1.510 GE - 2579 - 39.37 NDF; GE kcal/kg DM, NDF % of dry matter. Residual SD 127 kcal.

    Range: mixed diets; its slope on GE is steep, so not for oily seed. Source: journal abstract NDF_DE.
    """
    return 1.510 * gross_energy - 2579 - 39.37 * ndf


@published(
    "DE13",
    gives="de_pig",
    scope="mixed diets without sweet lupin",
    source="NDF_DE",
    how="page",
    valid={"ndf": (5, 30)},
    range_from=_DIET_RANGE,
)
def digestible_energy_ge_ndf_no_lupin(gross_energy: float, ndf: float) -> float:
    """DE [kcal/kg DM] = 1.177 GE - 1085 - 40.22 NDF; GE kcal/kg DM, NDF % of dry matter. Residual SD 107 kcal.

    Range: mixed diets without sweet lupin. Source: journal abstract NDF_DE.
    """
    return 1.177 * gross_energy - 1085 - 40.22 * ndf


@published(
    "DE14",
    gives="de_pig",
    scope="mixed diets, growing pigs",
    source="memory:J Anim Sci 2001 79:2418",
    how="memory",
    valid={"ndf": (5, 30)},
    range_from=_DIET_RANGE,
)
def digestible_energy_growing_pig(gross_energy: float, ndf: float) -> float:
    """DE [kcal/kg DM] = GE x (98.3 - 0.90 NDF) / 100; GE kcal/kg DM, NDF % of dry matter.

    Range: mixed diets for growing pigs. Source: Journal of Animal Science 79:2418, 2001 (from memory; NDF there in
    g/kg).
    """
    return gross_energy * (98.3 - 0.90 * ndf) / 100


@published(
    "DE14 sow",
    gives="de_pig",
    scope="mixed diets, adult sows",
    source="memory:J Anim Sci 2001 79:2418",
    how="memory",
    valid={"ndf": (5, 30)},
    range_from=_DIET_RANGE,
)
def digestible_energy_sow(gross_energy: float, ndf: float) -> float:
    """DE in adult sows [kcal/kg DM] = GE x (96.7 - 0.64 NDF) / 100; GE kcal/kg DM, NDF % of dry matter.

    Range: mixed diets for adult sows. Source: as DE14.
    """
    return gross_energy * (96.7 - 0.64 * ndf) / 100
