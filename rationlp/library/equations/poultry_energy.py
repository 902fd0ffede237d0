"""Metabolizable energy in poultry, corrected to zero nitrogen retention (AMEn), for whole feeds and in general.

The equations for single feeds of NRC 1994, Table B-1, stand in poultry_feeds.py.
"""

from __future__ import annotations

from rationlp.library.equations.published import published

_KCAL = 1 / 4.184 * 1000
_WPSA = "memory:European Table of Energy Values for Poultry Feedstuffs, WPSA, 3rd ed. 1989"


@published(
    "AMEn EU",
    gives="amen_poultry",
    unit="kcal/kg",
    scope="compound poultry feed",
    source="MD686_2012",
    how="page",
    valid={"result": (2300, 3600)},
    range_from="compound feeds of usual energy; single feeds lie outside its scope",
)
def amen_compound_feed(crude_protein: float, ether_extract: float, starch: float, sugars: float) -> float:
    """AMEn [kcal/kg] = (0.1551 CP + 0.3431 fat + 0.1669 starch + 0.1301 sugar) MJ; all in % of the same basis.

    Range: compound poultry feed as fed, fat after hydrolysis, starch by polarimetry. For a single feed only the change
    that it gives is used here. Source: formula of Commission Regulation (EC) 152/2009, Annex VII, as printed in
    MD686_2012.
    """
    in_mj = 0.1551 * crude_protein + 0.3431 * ether_extract + 0.1669 * starch + 0.1301 * sugars
    return in_mj * _KCAL


@published("AMEn WPSA", gives="amen_poultry", scope="all feeds with known digestibility", source=_WPSA, how="memory")
def amen_from_digested_parts(digestible_protein: float, digestible_fat: float, digestible_nfe: float) -> float:
    """AMEn [kcal/kg DM] = 43.1 dCP + 92.8 dEE + 41.4 dNFE, digestible parts in % of dry matter.

    Range: any feed whose digestibility in poultry is known. Source: European Table of Energy Values for Poultry
    Feedstuffs, WPSA, 3rd edition 1989 (from memory; printed in g/kg).
    """
    return 43.1 * digestible_protein + 92.8 * digestible_fat + 41.4 * digestible_nfe


@published("AMEn WPSA", gives="amen_poultry", scope="all feeds with known digestibility", source=_WPSA, how="memory")
def amen_from_digestibility(
    crude_protein: float,
    ether_extract: float,
    nfe: float,
    protein_digestibility: float,
    fat_digestibility: float,
    nfe_digestibility: float,
) -> float:
    """AMEn [kcal/kg DM] by amen_from_digested_parts; parts in % of dry matter, digestibilities as shares of 0 to 1.

    Range and source: as amen_from_digested_parts; where the digestibilities are assumed, the figure's note says so.
    """
    return amen_from_digested_parts(
        crude_protein * protein_digestibility, ether_extract * fat_digestibility, nfe * nfe_digestibility
    )


@published(
    "AMEn 2015",
    gives="amen_poultry",
    scope="maize, sorghum, soya and maize by-products, and diets of them",
    source="AJAS2015_AMEN",
    how="page",
    valid={"ash": (1, 8), "ndf": (5, 45)},
    range_from="the feeds it was fitted on; its ash term is unsafe for mineral-rich feeds",
)
def amen_broiler_diet(ether_extract: float, ash: float, crude_fibre: float, ndf: float) -> float:
    """AMEn [kcal/kg DM] = 4164.187 + 51.006 EE - 197.663 ash - 35.689 CF - 20.593 NDF, % of dry matter.

    In male broilers; R2 0.75. Range: maize, sorghum, soya, maize by-products and diets of them; not mineral-rich feeds.
    Source: Asian-Australasian Journal of Animal Sciences 28(9):1335-1344, 2015.
    """
    return 4164.187 + 51.006 * ether_extract - 197.663 * ash - 35.689 * crude_fibre - 20.593 * ndf


@published(
    "AMEn crystal",
    gives="amen_poultry",
    scope="crystalline amino acids",
    source="calc:AMEn_crystal",
    how="memory",
    valid={"crude_protein": (50, 130)},
)
def amen_of_crystal(gross_energy: float, crude_protein: float) -> float:
    """AMEn [kcal/kg DM] = GE - 8.22 kcal per g of nitrogen; GE kcal/kg DM, CP (N x 6.25) % of dry matter.

    Range: crystalline amino acids, taken as wholly absorbed. Source: the usual correction to zero nitrogen retention,
    the energy of the nitrogen as uric acid (from memory).
    """
    return gross_energy - 8.22 * crude_protein * 10 / 6.25
