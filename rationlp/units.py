"""Units: the one place where a conversion factor may stand. Inside, everything is SI (kg, m, kg/m3)."""

from __future__ import annotations

import re
from math import isfinite

KG_PER_LB = 0.45359237  # exact, international pound
KG_PER_SHORT_TON = 2000 * KG_PER_LB
KG_PER_TONNE = 1000.0
M_PER_FT = 0.3048  # exact, international foot
HA_PER_ACRE = 43560 * M_PER_FT**2 / 10_000  # exact, international acre
M3_PER_US_BUSHEL = 0.03523907016688  # exact, 2150.42 cubic inches
LB_PER_BU_IN_KG_M3 = KG_PER_LB / M3_PER_US_BUSHEL

MASS_KG = {
    "kg": 1.0,
    "g": 0.001,
    "t": KG_PER_TONNE,
    "tonne": KG_PER_TONNE,
    "tonnes": KG_PER_TONNE,
    "lb": KG_PER_LB,
    "lbs": KG_PER_LB,
    "oz": KG_PER_LB / 16,
    "cwt": 100 * KG_PER_LB,
    "quintal": 100.0,
    "ton": KG_PER_SHORT_TON,
    "tons": KG_PER_SHORT_TON,
}
LENGTH_M = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": M_PER_FT, "in": M_PER_FT / 12}
VOLUME_M3 = {"m3": 1.0, "l": 0.001, "ft3": M_PER_FT**3, "bu": M3_PER_US_BUSHEL}
DENSITY_KG_M3 = {
    "kg/m3": 1.0,
    "kg/hl": 10.0,
    "kg/l": 1000.0,
    "lb/bu": LB_PER_BU_IN_KG_M3,
    "lb/ft3": KG_PER_LB / M_PER_FT**3,
}

AGE_WEEKS = {
    "wk": 1.0,
    "w": 1.0,
    "week": 1.0,
    "weeks": 1.0,
    "d": 1 / 7,
    "day": 1 / 7,
    "days": 1 / 7,
    "month": 365.25 / 12 / 7,
    "months": 365.25 / 12 / 7,
    "mo": 365.25 / 12 / 7,
}

BOOK_MASS_UNIT = {"metric": "kg", "us": "lb"}
BOOK_PRICE_MASS_KG = {"metric": KG_PER_TONNE, "us": KG_PER_SHORT_TON}
BOOK_AREA_HA = {"metric": 1.0, "us": HA_PER_ACRE}
BOOK_VOLUME_UNIT = {"metric": "m3", "us": "ft3"}
BOOK_LENGTH_UNIT = {"metric": "m", "us": "ft"}
BOOK_DENSITY_UNIT = {"metric": "kg/m3", "us": "lb/bu"}


def fahrenheit(celsius: float) -> float:
    """Degrees Fahrenheit."""
    return celsius * 9 / 5 + 32


# A figure of composition, by unit: (unit the library keeps it in, factor to get there).
COMPOSITION_UNITS = {
    "%": ("%", 1.0),
    "g/kg": ("%", 0.1),
    "mg/kg": ("mg/kg", 1.0),
    "ppm": ("mg/kg", 1.0),
    "ug/kg": ("mg/kg", 0.001),
    "ppb": ("mg/kg", 0.001),
    "kcal/kg": ("kcal/kg", 1.0),
    "Mcal/kg": ("kcal/kg", 1000.0),
    "kcal/lb": ("kcal/kg", 1 / KG_PER_LB),
    "Mcal/lb": ("kcal/kg", 1000 / KG_PER_LB),
    "kJ/kg": ("kcal/kg", 1 / 4.184),
    "MJ/kg": ("kcal/kg", 1000 / 4.184),
    "IU/kg": ("IU/kg", 1.0),
    "g/lb": ("%", 0.1 / KG_PER_LB),
    "mg/lb": ("mg/kg", 1 / KG_PER_LB),
    "ug/lb": ("mg/kg", 0.001 / KG_PER_LB),
    "IU/lb": ("IU/kg", 1 / KG_PER_LB),
    "mEq/kg": ("mEq/kg", 1.0),
    "per_kg": ("per_kg", 1.0),
}

_QUANTITY = re.compile(r"^\s*([-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?)\s*([A-Za-z/0-9]*)\s*$")


WHICH_TON = ("t for 1,000 kg, or 2000 lb for a short ton", "Write which ton is meant.")
WHICH_CWT = ("100 lb, or 112 lb for a British hundredweight", "Write which hundredweight is meant.")
"""What is expected of a mass whose unit is more than one, and what to do."""


def unclear_mass(unit: str, units: str) -> tuple[str, str] | None:
    """What to ask of `unit`, with or without a number before it, if it may be another one in a book of `units`."""
    bare = unit.strip(" +-.,0123456789")
    if units == "us":
        return WHICH_TON if bare == "T" else None
    return {"ton": WHICH_TON, "tons": WHICH_TON, "cwt": WHICH_CWT}.get(bare.casefold())


def parse_quantity(text: str, table: dict[str, float], default_unit: str) -> float:
    """Read `1.5 t`, `50 lb` or `25` into SI.

    `table` gives SI per unit, `default_unit` the unit of a bare number. Raises ValueError with the reason.
    """
    match = _QUANTITY.match(text)
    if not match:
        raise ValueError(f"{text!r} is not a number with a unit ({', '.join(table)})")
    number, unit = match.groups()
    unit = unit or default_unit
    factor = table.get(unit, table.get(unit.lower()))
    if factor is None:
        raise ValueError(f"the unit {unit!r} is not one of {', '.join(table)}")
    value = float(number.replace(",", ".")) * factor
    if not isfinite(value):
        raise ValueError(f"{text!r} is beyond all measure")
    return value


def convert_composition(value: float, unit: str, to_unit: str) -> float:
    """A figure of composition from one unit to another, both of COMPOSITION_UNITS. Raises ValueError."""
    if unit == to_unit:
        return value
    if unit not in COMPOSITION_UNITS or to_unit not in COMPOSITION_UNITS:
        raise ValueError(f"the unit {unit!r} is not one of {', '.join(COMPOSITION_UNITS)}")
    base, factor = COMPOSITION_UNITS[unit]
    to_base, to_factor = COMPOSITION_UNITS[to_unit]
    value = value * factor
    if base != to_base:
        if {base, to_base} == {"%", "mg/kg"}:
            value = value * 10_000 if base == "%" else value / 10_000
        else:
            raise ValueError(f"{unit} cannot be turned into {to_unit}")
    return value / to_factor


def as_fed(value_dm: float, dry_matter_pct: float) -> float:
    """A dry-matter figure on the as-fed basis, same unit."""
    return value_dm * dry_matter_pct / 100


def dry_matter_basis(value_as_fed: float, dry_matter_pct: float) -> float:
    """An as-fed figure on the dry-matter basis, same unit."""
    return value_as_fed * 100 / dry_matter_pct


Z90 = 1.6448536269514722
"""Half of the interval that holds 90 of 100 draws, in standard deviations; 95 of 100 lie below its upper end."""

# An amount per head and day, by unit: (unit it is kept in, factor to get there).
DAILY_UNITS = {
    "g": ("g", 1.0),
    "kg": ("g", 1000.0),
    "mg": ("mg", 1.0),
    "ug": ("mg", 0.001),
    "kcal": ("kcal", 1.0),
    "Mcal": ("kcal", 1000.0),
    "kJ": ("kcal", 1 / 4.184),
    "MJ": ("kcal", 1000 / 4.184),
    "IU": ("IU", 1.0),
}
DAILY_UNIT_OF = {"%": "g", "mg/kg": "mg", "kcal/kg": "kcal", "IU/kg": "IU"}
"""The unit of a daily amount of what is kept in %, mg/kg ... in the feed; `per_kg` has none."""


def convert_daily(amount: float, unit: str, to_unit: str) -> float:
    """A daily amount from one unit to another, both of DAILY_UNITS. Raises ValueError."""
    if unit not in DAILY_UNITS or to_unit not in DAILY_UNITS:
        raise ValueError(f"the unit {unit!r} is not one of {', '.join(DAILY_UNITS)}")
    base, factor = DAILY_UNITS[unit]
    to_base, to_factor = DAILY_UNITS[to_unit]
    amount = amount * factor
    if base != to_base:
        if {base, to_base} == {"g", "mg"}:
            amount = amount * 1000 if base == "g" else amount / 1000
        else:
            raise ValueError(f"{unit} a day cannot be turned into {to_unit} a day")
    return amount / to_factor
