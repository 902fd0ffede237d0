"""What animals eat and need, by published models: the second look at the requirement tables.

The stage tables of the library are recalled from handbooks; these models, from the same handbooks, must return them,
and a test asks that. Body weights in kg, feed in g per day as fed at 90 % dry matter, energies in kcal per day unless
said.
"""

from __future__ import annotations

import math

from rationlp.library.equations.published import published

_NRC8 = "memory:NRC Nutrient Requirements of Swine 2012, chapter 8"
_NRC94 = "memory:NRC 1994 Nutrient Requirements of Poultry, Table 2-4"
_STARTING = {"body_weight_kg": (5, 20)}
_GROWING = {"body_weight_kg": (20, 140)}
_MODEL = "the model's own range"
MEAN_PROTEIN_GAIN_MAX_G = 147.7
"""Largest protein gain of the high-lean pigs of the 2012 tables, g per day."""


@published(
    "I1",
    gives="ME intake",
    unit="kcal/day",
    scope="pigs of 5 to 20 kg",
    source=_NRC8,
    how="memory",
    valid=_STARTING,
    range_from=_MODEL,
)
def me_intake_starting_pig(body_weight_kg: float) -> float:
    """ME intake [kcal/day] = -783.6 + 315.9 BW - 5.7685 BW^2. Range: 5 to 20 kg. Source: NRC Swine 2012 (memory)."""
    return -783.6 + 315.9 * body_weight_kg - 5.7685 * body_weight_kg**2


@published(
    "I2",
    gives="ME intake",
    unit="kcal/day",
    scope="barrows",
    source=_NRC8,
    how="memory",
    valid=_GROWING,
    range_from=_MODEL,
)
def me_intake_barrow(body_weight_kg: float) -> float:
    """ME intake [kcal/day] = 10447 (1 - exp(-exp(-4.283) BW^1.0843)). Range: 20 to 140 kg. NRC Swine 2012 (memory)."""
    return 10447 * (1 - math.exp(-math.exp(-4.283) * math.pow(body_weight_kg, 1.0843)))


@published(
    "I3",
    gives="ME intake",
    unit="kcal/day",
    scope="gilts",
    source=_NRC8,
    how="memory",
    valid=_GROWING,
    range_from=_MODEL,
)
def me_intake_gilt(body_weight_kg: float) -> float:
    """ME intake [kcal/day] = 10967 (1 - exp(-exp(-3.803) BW^0.9072)). Range: 20 to 140 kg. NRC Swine 2012 (memory)."""
    return 10967 * (1 - math.exp(-math.exp(-3.803) * math.pow(body_weight_kg, 0.9072)))


@published(
    "I5",
    gives="daily feed",
    unit="kg/day",
    scope="pigs fed to appetite",
    source="memory:NRC Nutrient Requirements of Swine 2012, Table 16-1A",
    how="memory",
    valid={"diet_me_kcal": (2500, 3800)},
    range_from="usual diets",
)
def feed_to_supply(me_intake_kcal: float, diet_me_kcal: float) -> float:
    """Feed to put out [kg/day as fed] = ME intake [kcal/day] / ME of the diet [kcal/kg] / 0.95; 5 % is wasted.

    Source: NRC Swine 2012, Table 16-1A (memory).
    """
    return me_intake_kcal / diet_me_kcal / 0.95


@published(
    "AA3",
    gives="sid_lysine_pig",
    unit="%",
    scope="pigs of 5 to 20 kg",
    source=_NRC8,
    how="memory",
    valid=_STARTING,
    range_from=_MODEL,
)
def lysine_need_starting_pig(body_weight_kg: float) -> float:
    """SID lysine [% of feed] = 1.871 - 0.22 ln(BW). Range: 5 to 20 kg. Source: NRC Swine 2012 (memory)."""
    return 1.871 - 0.22 * math.log(body_weight_kg)


@published(
    "AA4",
    gives="sid_lysine_pig",
    unit="g/day",
    scope="growing pigs",
    source=_NRC8,
    how="memory",
    valid=_GROWING | {"protein_gain_g": (60, 180)},
    range_from=_MODEL,
)
def lysine_need_growing_pig(body_weight_kg: float, feed_g: float, protein_gain_g: float) -> float:
    """SID lysine [g/day] of a growing pig that eats `feed_g` and lays down `protein_gain_g` of protein a day.

    (feed x 0.000417 x 0.88 x 1.1 + 0.0045 BW^0.75) / 0.75 + gain x 0.0710 / 0.75 x (1 + 0.0547 + 0.002215 BW), for pigs
    of the tables' largest protein gain (147.7 g). Range: 20 to 140 kg. Source: NRC Swine 2012, chapter 8 (memory);
    within 1 % of the table.
    """
    maintenance = feed_g * 0.000417 * 0.88 * 1.1 + 0.0045 * math.pow(body_weight_kg, 0.75)
    gain = protein_gain_g * 0.0710 * (1 + 0.0547 + 0.002215 * body_weight_kg)
    return (maintenance + gain) / 0.75


@published(
    "P2",
    gives="sttd_phosphorus_pig",
    unit="%",
    scope="pigs of 5 to 20 kg",
    source=_NRC8,
    how="memory",
    valid=_STARTING,
    range_from=_MODEL,
)
def phosphorus_need_starting_pig(body_weight_kg: float) -> float:
    """STTD P [% of feed] = 0.6418 - 0.1083 ln(BW). Range: 5 to 20 kg. Source: NRC Swine 2012 (memory)."""
    return 0.6418 - 0.1083 * math.log(body_weight_kg)


@published(
    "P3",
    gives="sttd_phosphorus_pig",
    unit="g/day",
    scope="growing pigs",
    source=_NRC8,
    how="memory",
    valid=_GROWING,
    range_from=_MODEL,
)
def phosphorus_need_growing_pig(
    body_protein_kg: float, protein_gain_kg: float, feed_kg: float, body_weight_kg: float
) -> float:
    """STTD P [g/day] = 0.85 x (gain of body P / 0.77 + 0.19 x feed dry matter + 0.007 BW), feed as fed at 90 % DM.

    Body P [g] = 1.1613 + 26.012 BP + 0.2299 BP^2 with body protein BP [kg]. Range: 20 to 140 kg. Source: NRC Swine
    2012, chapter 8 (memory).
    """
    body_gain = (26.012 + 2 * 0.2299 * body_protein_kg) * protein_gain_kg
    return 0.85 * (body_gain / 0.77 + 0.19 * feed_kg * 0.9 + 0.007 * body_weight_kg)


CALCIUM_TO_STTD_PHOSPHORUS = {"growing": 2.15, "gestation": 2.30, "lactation": 2.00}


@published(
    "CA1",
    gives="calcium",
    unit="%",
    scope="growing pigs, sows in gestation, in lactation",
    source=_NRC8,
    how="memory",
    valid={"sttd_phosphorus": (0.1, 0.6)},
    range_from="diets of the tables",
)
def calcium_need(kind: str, sttd_phosphorus: float) -> float:
    """Calcium [% of feed] = 2.15 (growing), 2.30 (gestation) or 2.00 (lactation) x STTD phosphorus [% of feed].

    Source: NRC Swine 2012, chapter 8 (memory); the figure for lactation agrees with page SOWBOOK_T6.3.
    """
    return CALCIUM_TO_STTD_PHOSPHORUS[kind] * sttd_phosphorus


@published(
    "M1",
    gives="ME maintenance",
    unit="kcal/day",
    scope="growing pigs",
    source="MEM_2016",
    how="page",
    valid={"body_weight_kg": (5, 150)},
    range_from="growing pigs",
)
def maintenance_growing_pig(body_weight_kg: float) -> float:
    """ME for maintenance [kcal/day] = 197 BW^0.60. Growing pigs. Source: Animal Bioscience 29(12), 2016."""
    return 197 * math.pow(body_weight_kg, 0.60)


@published(
    "M6 pregnant",
    gives="ME maintenance",
    unit="kcal/day",
    scope="pregnant sows",
    source="SOWE_1990",
    how="page",
    valid={"body_weight_kg": (100, 350)},
    range_from="sows",
)
def maintenance_pregnant_sow(body_weight_kg: float) -> float:
    """ME for maintenance [kcal/day] = 105 BW^0.75. Pregnant sows. Source: SOWE_1990."""
    return 105 * math.pow(body_weight_kg, 0.75)


@published(
    "M6 lactating",
    gives="ME maintenance",
    unit="kcal/day",
    scope="lactating sows",
    source="SOWE_1990",
    how="page",
    valid={"body_weight_kg": (100, 350)},
    range_from="sows",
)
def maintenance_lactating_sow(body_weight_kg: float) -> float:
    """ME for maintenance [kcal/day] = 110 BW^0.75. Lactating sows. Source: SOWE_1990."""
    return 110 * math.pow(body_weight_kg, 0.75)


@published(
    "I6",
    gives="milk energy",
    unit="kcal/day",
    scope="lactating sows",
    source=_NRC8,
    how="memory",
    valid={"litter_gain_g": (500, 4500)},
    range_from="litters of 3 to 16",
)
def milk_energy(litter_gain_g: float, piglets: float) -> float:
    """Energy of a sow's milk [kcal/day] = 4.92 x litter gain [g/day] - 90 x piglets; dietary ME is that / 0.70.

    Source: NRC Swine 2012, chapter 8 (memory).
    """
    return 4.92 * litter_gain_g - 90 * piglets


@published(
    "hen ME",
    gives="ME need",
    unit="kcal/day",
    scope="laying hens",
    source=_NRC94,
    how="memory",
    valid={"body_weight_kg": (1.0, 3.5), "temperature_c": (5, 32), "egg_mass_g": (0, 65)},
    range_from="the table it explains, 1 to 3 kg at 22 C",
)
def me_need_of_hen(body_weight_kg: float, temperature_c: float, weight_change_g: float, egg_mass_g: float) -> float:
    """ME [kcal/hen/day] = W^0.75 (173 - 1.95 T) + 5.5 x weight change [g/day] + 2.07 x egg mass [g/day]; T in C.

    Range: hens of 1 to 3.5 kg. Source: NRC Poultry 1994, Table 2-4 (memory; within 1.5 kcal of the recalled table).
    """
    maintenance = math.pow(body_weight_kg, 0.75) * (173 - 1.95 * temperature_c)
    return maintenance + 5.5 * weight_change_g + 2.07 * egg_mass_g


@published(
    "free-range hen ME",
    gives="ME need",
    unit="kcal/day",
    scope="free-range hens",
    source="JAS2016_FREERANGE",
    how="page",
    valid={"body_weight_kg": (1.0, 3.5), "egg_mass_g": (0, 65)},
    range_from="laying hens",
)
def me_need_of_free_range_hen(body_weight_kg: float, egg_mass_g: float) -> float:
    """ME [kcal/hen/day] = 121.8 W^0.75 + 2.48 x egg mass [g/day], no change of weight.

    2.48 is taken as ME; the abstract does not say so plainly. Source: JAS2016_FREERANGE.
    """
    return 121.8 * math.pow(body_weight_kg, 0.75) + 2.48 * egg_mass_g


@published(
    "hen isoleucine",
    gives="total isoleucine need",
    unit="mg/day",
    scope="laying hens",
    source="MANNION1993_ILE",
    how="page",
    valid={"egg_mass_g": (30, 65), "body_weight_kg": (1.2, 2.6)},
    range_from="laying hens of commercial strains",
)
def isoleucine_need_of_hen(egg_mass_g: float, body_weight_kg: float) -> float:
    """Total isoleucine [mg/hen/day] = 9.91 x egg mass [g/day] + 33.56 x body weight [kg].

    Range: laying hens. Source: MANNION1993_ILE (the abstract was read).
    """
    return 9.91 * egg_mass_g + 33.56 * body_weight_kg
