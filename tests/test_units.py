"""Every unit against its definition, written out anew in other words than the table's.

Exact by definition (from memory; they stand in NIST Special Publication 811, appendix B): pound 0.453 592 37 kg, foot
0.3048 m, US bushel 2150.42 cubic inches, thermochemical calorie 4.184 J, Julian year 365.25 days.
"""

from __future__ import annotations

import pytest

from rationlp import units
from rationlp.book_units import units_in

INCH_M = 0.0254
BUSHEL_M3 = 2150.42 * INCH_M**3
TABLES = {
    "MASS_KG": {
        "kg": 1,
        "g": 1e-3,
        "t": 1000,
        "tonne": 1000,
        "tonnes": 1000,
        "lb": 0.45359237,
        "lbs": 0.45359237,
        "oz": 0.028349523125,
        "cwt": 45.359237,
        "quintal": 100,
        "ton": 907.18474,
        "tons": 907.18474,
    },
    "LENGTH_M": {"m": 1, "cm": 0.01, "mm": 0.001, "ft": 12 * INCH_M, "in": INCH_M},
    "VOLUME_M3": {"m3": 1, "l": 0.001, "ft3": 1728 * INCH_M**3, "bu": BUSHEL_M3},
    "DENSITY_KG_M3": {
        "kg/m3": 1,
        "kg/hl": 10,
        "kg/l": 1000,
        "lb/bu": 0.45359237 / BUSHEL_M3,
        "lb/ft3": 0.45359237 / (1728 * INCH_M**3),
    },
    "AGE_WEEKS": {
        **dict.fromkeys(("wk", "w", "week", "weeks"), 1),
        **dict.fromkeys(("d", "day", "days"), 1 / 7),
        **dict.fromkeys(("month", "months", "mo"), 365.25 / 84),
    },
}
COMPOSITION = {
    "%": ("%", 1),
    "g/kg": ("%", 1 / 10),
    "mg/kg": ("mg/kg", 1),
    "ppm": ("mg/kg", 1),
    "ug/kg": ("mg/kg", 1 / 1000),
    "ppb": ("mg/kg", 1 / 1000),
    "kcal/kg": ("kcal/kg", 1),
    "Mcal/kg": ("kcal/kg", 1000),
    "kcal/lb": ("kcal/kg", 2.2046226218487757),
    "Mcal/lb": ("kcal/kg", 2204.6226218487757),
    "kJ/kg": ("kcal/kg", 0.2390057361376673),
    "MJ/kg": ("kcal/kg", 239.0057361376673),
    "IU/kg": ("IU/kg", 1),
    "g/lb": ("%", 0.22046226218487757),
    "mg/lb": ("mg/kg", 2.2046226218487757),
    "ug/lb": ("mg/kg", 0.0022046226218487757),
    "IU/lb": ("IU/kg", 2.2046226218487757),
    "mEq/kg": ("mEq/kg", 1),
    "per_kg": ("per_kg", 1),
}
DAILY = {
    "g": ("g", 1),
    "kg": ("g", 1000),
    "mg": ("mg", 1),
    "ug": ("mg", 1 / 1000),
    "kcal": ("kcal", 1),
    "Mcal": ("kcal", 1000),
    "kJ": ("kcal", 0.2390057361376673),
    "MJ": ("kcal", 239.0057361376673),
    "IU": ("IU", 1),
}


@pytest.mark.parametrize("name", TABLES)
def test_every_unit_of_a_measure_is_as_it_is_defined(name):
    assert getattr(units, name) == pytest.approx(TABLES[name], rel=1e-12)


@pytest.mark.parametrize(("table", "expected"), [("COMPOSITION_UNITS", COMPOSITION), ("DAILY_UNITS", DAILY)])
def test_every_unit_of_a_figure_is_as_it_is_defined(table, expected):
    found = getattr(units, table)
    assert {unit: base for unit, (base, _) in found.items()} == {unit: base for unit, (base, _) in expected.items()}
    assert {unit: factor for unit, (_, factor) in found.items()} == pytest.approx(
        {unit: factor for unit, (_, factor) in expected.items()}, rel=1e-12
    )


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        (2.5, "%", "mg/kg", 25_000),
        (300, "mg/kg", "%", 0.03),
        (9, "g/kg", "mg/kg", 9000),
        (20, "ppb", "mg/kg", 0.02),
        (13.5, "MJ/kg", "kcal/kg", 13_500 / 4.184),
        (3226.577, "kcal/kg", "MJ/kg", 13.5),
    ],
)
def test_a_figure_goes_from_one_unit_to_another(value, unit, to, expected):
    assert units.convert_composition(value, unit, to) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [(18, "g", "mg", 18_000), (540, "mg", "g", 0.54), (2.4, "Mcal", "kJ", 10_041.6), (1.5, "kg", "mg", 1_500_000)],
)
def test_a_day_s_amount_goes_from_one_unit_to_another(value, unit, to, expected):
    assert units.convert_daily(value, unit, to) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("unit", "to"), [("kcal/kg", "%"), ("IU/kg", "mg/kg"), ("%", "stone"), ("stone", "%")])
def test_what_measures_something_else_is_refused(unit, to):
    with pytest.raises(ValueError, match=r"unit|cannot be turned"):
        units.convert_composition(1.0, unit, to)


@pytest.mark.parametrize(("unit", "to"), [("kcal", "g"), ("IU", "mg"), ("g", "stone"), ("stone", "g")])
def test_a_day_of_something_else_is_refused(unit, to):
    with pytest.raises(ValueError, match=r"unit|cannot be turned"):
        units.convert_daily(1.0, unit, to)


def test_money_mass_and_area_of_a_us_book():
    """A short ton is 2,000 lb, an acre 4,046.8564224 square metres, 60 F are 15.56 C."""
    assert {"metric": 1000.0, "us": pytest.approx(907.18474, rel=1e-12)} == units.BOOK_PRICE_MASS_KG
    assert {"metric": 1.0, "us": pytest.approx(0.40468564224, rel=1e-12)} == units.BOOK_AREA_HA
    assert units.fahrenheit(140 / 9) == pytest.approx(60) and units.fahrenheit(-40) == -40


@pytest.mark.parametrize(
    ("system", "tonnes", "told"),
    [
        ("metric", 1.0, "1 t"),
        ("metric", 0.5, "500 kg"),
        ("metric", 0.01234, "12.3 kg"),
        ("us", 0.90718474, "1 ton"),
        ("us", 0.01, "22 lb"),
        ("us", 0.453592370, "1,000 lb"),
    ],
)
def test_a_little_is_told_in_the_small_unit(system, tonnes, told):
    assert units_in(system, "EUR").amount(tonnes) == told
