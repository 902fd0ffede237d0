"""Net energy in pigs."""

from __future__ import annotations

from rationlp.library.equations.published import published

_NOBLET = "memory:NRC Nutrient Requirements of Swine 2012, chapter 1"
_INRA = "memory:INRA-AFZ tables 2004, calculation chapter"
_RANGE = "the source: 61 mixed diets, NE/ME 69 to 77 %; used for single feeds as NRC 2012 does"
_KCAL = 1 / 4.184 * 1000
_DIET = {"crude_protein": (0, 60), "ether_extract": (0, 45), "adf": (0, 45)}


@published(
    "NE1", gives="ne_pig", scope="diets and feedstuffs", source=_NOBLET, how="memory", valid=_DIET, range_from=_RANGE
)
def net_energy_from_me(me_pig: float, ether_extract: float, starch: float, crude_protein: float, adf: float) -> float:
    """NE [kcal/kg DM] = 0.726 ME + 13.3 EE + 3.9 starch - 6.2 CP - 8.3 ADF; ME kcal/kg DM, the rest % of dry matter.

    Range: made from 61 mixed diets for growing pigs. Source: Journal of Animal Science 72:344, 1994 (NRC Swine 2012,
    Eq. 1-7, from memory; printed in g/kg).
    """
    return 0.726 * me_pig + 13.3 * ether_extract + 3.9 * starch - 6.2 * crude_protein - 8.3 * adf


@published(
    "NE2",
    gives="ne_pig",
    scope="diets and feedstuffs",
    source="NE_FIG5_2018",
    how="page",
    valid=_DIET,
    range_from=_RANGE,
)
def net_energy_from_de(de_pig: float, ether_extract: float, starch: float, crude_protein: float, adf: float) -> float:
    """NE [kcal/kg DM] = 0.700 DE + 16.1 EE + 4.8 starch - 9.1 CP - 8.7 ADF; DE kcal/kg DM, the rest % of dry matter.

    The equation of this library: it returns the NE printed for seven table feeds within 1 kcal. Sugars of milk and
    molasses count as starch, as in the printed whey. Range: made from 61 mixed diets for growing pigs; used for single
    feeds as in NRC 2012. Source: Journal of Animal Science and Biotechnology 9:39, 2018, figure 5; NRC Swine 2012,
    Eq. 1-8 (printed in g/kg).
    """
    return 0.700 * de_pig + 16.1 * ether_extract + 4.8 * starch - 9.1 * crude_protein - 8.7 * adf


@published("NE3", gives="ne_pig", scope="diets and feedstuffs", source=_INRA, how="memory", range_from=_RANGE)
def net_energy_from_digested_parts(
    digestible_protein: float, digestible_fat: float, starch: float, sugars: float, digestible_rest: float
) -> float:
    """NE [kcal/kg DM] = 28.9 DCP + 83.7 DEE + 34.2 starch + 28.4 sugars + 20.6 DRes, % of dry matter.

    DRes is digestible organic matter less the other four. Range: diets and feedstuffs whose digestible parts are known.
    Source: INRA-AFZ tables 2004, NEg2 (from memory; printed in MJ: 0.121, 0.350, 0.143, 0.119, 0.086).
    """
    in_mj = (
        0.121 * digestible_protein + 0.350 * digestible_fat + 0.143 * starch + 0.119 * sugars + 0.086 * digestible_rest
    )
    return in_mj * _KCAL


@published(
    "NE4",
    gives="ne_pig",
    scope="diets and feedstuffs",
    source=_INRA,
    how="memory",
    valid={"crude_fibre": (0, 35)},
    range_from=_RANGE,
)
def net_energy_from_de_inra(
    de_pig: float, crude_protein: float, ether_extract: float, crude_fibre: float, starch: float
) -> float:
    """NE [kcal/kg DM] = 0.703 DE + (-0.041 CP + 0.066 EE - 0.041 CF + 0.020 starch) MJ; DE kcal/kg DM, % of dry matter.

    Within 0.3 % of NE2 on corn. Range: as NE2. Source: INRA-AFZ tables 2004, NEg4 (from memory).
    """
    parts_mj = -0.041 * crude_protein + 0.066 * ether_extract - 0.041 * crude_fibre + 0.020 * starch
    return 0.703 * de_pig + parts_mj * _KCAL


@published(
    "NE5",
    gives="ne_pig",
    scope="diets and feedstuffs",
    source=_INRA,
    how="memory",
    valid={"crude_fibre": (0, 35)},
    range_from=_RANGE,
)
def net_energy_from_me_inra(
    me_pig: float, crude_protein: float, ether_extract: float, crude_fibre: float, starch: float
) -> float:
    """NE [kcal/kg DM] = 0.730 ME + (-0.028 CP + 0.055 EE - 0.041 CF + 0.015 starch) MJ; ME kcal/kg DM, % of dry matter.

    Within 0.2 % of NE2 on corn. Range: as NE2. Source: INRA-AFZ tables 2004, NEg7 (from memory).
    """
    parts_mj = -0.028 * crude_protein + 0.055 * ether_extract - 0.041 * crude_fibre + 0.015 * starch
    return 0.730 * me_pig + parts_mj * _KCAL
