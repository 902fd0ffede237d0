"""Phosphorus and the digestible parts of a nutrient."""

from __future__ import annotations

from rationlp.library.equations.published import published

_NRC = "definition"


@published(
    "P phytate",
    gives="phytate_phosphorus",
    unit="% of DM",
    scope="seeds and their products",
    source="phytate_2007_swgermany",
    how="page",
    valid={"phytate_share": (20, 90)},
    range_from="shares seen in seeds: 35 to 85 % of phosphorus, 67 % on average",
)
def phytate_phosphorus(phosphorus: float, phytate_share: float) -> float:
    """Phytate P [% DM] = total P x share / 100; share in % of the phosphorus.

    Range: seeds and their products, 20 to 90 % of the phosphorus; the share of each crop and its source stand in the
    note of the figure (rule M1).
    """
    return phosphorus * phytate_share / 100


@published(
    "P nonphytate", gives="nonphytate_phosphorus", unit="% of DM", scope="all feeds", source="definition", how="page"
)
def nonphytate_phosphorus(phosphorus: float, phytate_phosphorus: float) -> float:
    """Nonphytate P [% DM] = total P - phytate P. A definition; refuses more phytate than phosphorus."""
    return phosphorus - phytate_phosphorus


@published("P1", gives="sttd_phosphorus_pig", unit="% of DM", scope="all feeds, pigs", source=_NRC, how="page")
def digestible_phosphorus(phosphorus: float, sttd_phosphorus_coefficient: float) -> float:
    """STTD P [% DM] = total P x STTD coefficient [%] / 100. A definition (NRC Swine 2012)."""
    return phosphorus * sttd_phosphorus_coefficient / 100


@published("AA2", gives="digestible amino acids", unit="% of DM", scope="all feeds", source=_NRC, how="page")
def digestible_part(total: float, coefficient: float) -> float:
    """Digestible amino acid [% DM] = total [% DM] x SID coefficient [%] / 100. A definition (NRC Swine 2012)."""
    return total * coefficient / 100


@published("AA1", gives="crude_protein", unit="%", scope="all feeds", source="definition", how="page")
def crude_protein_from_nitrogen(nitrogen: float) -> float:
    """Crude protein [%] = nitrogen [%] x 6.25, for every feed. A definition."""
    return nitrogen * 6.25


@published(
    "P standardized",
    gives="sttd_phosphorus_coefficient",
    unit="% of the nutrient",
    scope="plant feeds, pigs",
    source="pigabs_flaxmeal",
    how="page",
    valid={"basal_loss": (2, 12)},
    range_from="basal endogenous loss of about 190 mg/kg dry matter intake over 0.2 to 0.9 % P",
)
def standardized_from_apparent(apparent: float, basal_loss: float) -> float:
    """STTD coefficient [%] = apparent coefficient + basal endogenous loss, both in % of the phosphorus.

    Range: plant feeds without added phytase.
    """
    return apparent + basal_loss
