"""Amounts per head and day as concentrations of the feed that is eaten."""

from __future__ import annotations

PER_DAY_IN_UNIT = {"%": ("g", 0.1), "mg/kg": ("mg", 1.0), "IU/kg": ("IU", 1.0), "kcal/kg": ("kcal", 1.0)}


def per_day_to_concentration(amount: float, day_unit: str, unit: str, feed_kg: float) -> float:
    """An amount per head and day (`g`, `mg`, `IU`, `kcal`) as a concentration in `unit` of `feed_kg` kg of feed.

    The arithmetic of NRC 1994 Nutrient Requirements of Poultry, Table 2-3: percent = mg per day / (10 x g of feed).
    Raises ValueError for a unit that does not fit.
    """
    expected, factor = PER_DAY_IN_UNIT[unit]
    if day_unit == "mg" and expected == "g":
        amount, day_unit = amount / 1000, "g"
    if day_unit == "g" and expected == "mg":
        amount, day_unit = amount * 1000, "mg"
    if day_unit != expected:
        raise ValueError(f"{day_unit} per day does not fit a nutrient in {unit}")
    return amount / feed_kg * factor
