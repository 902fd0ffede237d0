"""Figures of composition and requirement: their units, what they are turned into, and which are impossible."""

from __future__ import annotations

from collections.abc import Mapping

from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.book.reading.unit_words import composition_unit
from rationlp.finder import names_of, plain
from rationlp.numbers import as_typed
from rationlp.units import (
    COMPOSITION_UNITS,
    DAILY_UNIT_OF,
    DAILY_UNITS,
    KG_PER_SHORT_TON,
    KG_PER_TONNE,
    convert_composition,
    convert_daily,
)

_CONCENTRATION = {unit.casefold(): unit for unit in COMPOSITION_UNITS}
_DAILY = {unit.casefold(): unit for unit in DAILY_UNITS}

MOISTURE = frozenset({"moisture", "moisture_content", "water", "water_content", "h2o", "total_moisture", "humidity"})
"""What laboratories call the part that is not dry matter."""
HIGHEST = {"%": 100.0, "mg/kg": 1_000_000.0, "kcal/kg": 10_000.0}
"""The most there can be in a kilogram; pure fat burns with about 9,400 kcal/kg."""
HIGHEST_CRUDE_PROTEIN = 300.0
"""Nitrogen times 6.25 passes 100 % in pure amino acids and urea (2.81 times its mass)."""


def settle_figures(reading: BookReading, nutrients: Mapping[str, str]) -> None:
    """Turn every figure into the unit the library keeps the nutrient in; report what cannot be turned.

    `nutrients` gives the unit of each nutrient the library knows. A figure of another nutrient keeps its own unit,
    and a daily amount is kept in g, mg, kcal or IU.
    """
    for row in reading["assays"]:
        _settle(reading, row, nutrients, ("value", "lab_sd"))
    for row in reading["own_feeds"]:
        _settle(reading, row, nutrients, ("value", "sd"))
    for row in reading["own_stages"]:
        _settle(reading, row, nutrients, ("minimum", "maximum"))


def _settle(reading: BookReading, row: SheetRow, nutrients: Mapping[str, str], columns: tuple[str, str]) -> None:
    if row["unit"] is None or row["nutrient"] is None or "per" in row.bad:
        return
    daily = row["per"] == "day"
    unit = _unit(reading, row, daily)
    if unit is None:
        return
    moisture = plain(row["nutrient"]) in MOISTURE and row.place.sheet in ("assays", "own_feeds")
    if moisture:
        row.values["nutrient"] = "dry_matter"
    target = _target(unit, nutrients.get(row["nutrient"]), daily)
    for column in columns:
        if row[column] is None:
            continue
        try:
            value = row[column] * _percent_factor(reading, row, column, unit)
            converted = (convert_daily if daily else convert_composition)(value, unit, target)
        except ValueError:
            reading.error(
                row,
                "unit",
                f"the unit {row['unit']} for {row['nutrient']}",
                f"a unit that can be turned into {target}",
                "Correct the unit, or the nutrient.",
            )
            return
        if moisture and column == "value":
            converted = _dry_matter_of(reading, row, converted)
        row.values[column] = converted
        if row["per"] in (None, "kg"):
            _check_range(reading, row, column, converted, target)
    row.values["unit"], row.unit_typed = target, unit


def _dry_matter_of(reading: BookReading, row: SheetRow, moisture: float) -> float:
    """Dry matter in percent as fed, of a moisture in percent as a laboratory writes it."""
    if row["basis"] == "dry_matter":
        found, expected = "moisture on dry matter", "moisture as fed, or dry_matter"
        reading.error(row, "basis", found, expected, "Write as_fed, or enter the dry matter.")
    elif not 0 <= moisture < 100:
        reading.error(
            row, "value", f"{as_typed(moisture)} % of moisture", "0 to 100 %", "Correct the value or its unit."
        )
    return 100 - moisture


def _unit(reading: BookReading, row: SheetRow, daily: bool) -> str | None:
    """The unit of the row as the tables of units spell it."""
    known = _DAILY if daily else _CONCENTRATION
    text = composition_unit(row["unit"])
    unit = known.get(text)
    if unit is None:
        expected = f"a unit {'per head and day' if daily else 'of a concentration'}: {', '.join(known.values())}"
        if daily:
            do = "Use one of them, or state it per kg."
        elif "%" in text:
            do = "Write % and say the basis in its own column."
        elif text in PER_TON:
            do = PER_TON[text]
        else:
            do = names_of(known.values()).suggestion(text, "Use one of them.")
        reading.error(row, "unit", f"the unit {row['unit']!r}", expected, do)
    return unit


_SHORT_TON = KG_PER_TONNE / KG_PER_SHORT_TON
PER_TON = {
    **dict.fromkeys(
        ("g/ton", "g/tn", "g/t", "gm/ton", "g/tonne"),
        f"Write mg/kg, and the figure as it is if for 1,000 kg, {_SHORT_TON:.4f} times the figure if for 2,000 lb.",
    ),
    **dict.fromkeys(("lb/ton", "lbs/ton", "#/ton"), "Divide the figure by 20 and write % (of a short ton, 2,000 lb)."),
}
"""What to do with a figure for a ton, which is one of two masses."""


def _target(unit: str, library_unit: str | None, daily: bool) -> str:
    """The unit a figure is kept in."""
    if not daily:
        return library_unit or unit
    return DAILY_UNIT_OF.get(library_unit or "", DAILY_UNITS[unit][0])


def _percent_factor(reading: BookReading, row: SheetRow, column: str, unit: str) -> float:
    """100 for a cell that shows its 0.14 as 14 %; reports one that does so in another unit."""
    cell = row.place.cell(column)
    if (row.place.sheet, cell) not in reading.percent_cells:
        return 1.0
    if unit != "%":
        reading.error(
            row,
            column,
            f"{as_typed(row[column] * 100)} % (the cell is formatted in percent)",
            f"a number in {unit}, as the column unit says",
            "Change the format of the cell, or the unit.",
        )
    return 100.0


def _check_range(reading: BookReading, row: SheetRow, column: str, value: float, unit: str) -> None:
    """Report a figure that no feed can have. `value` is in `unit`."""
    base, factor = COMPOSITION_UNITS.get(unit, (unit, 1.0))
    highest = HIGHEST.get(base)
    if row["nutrient"] == "crude_protein" and row.place.sheet == "own_feeds":
        highest = HIGHEST_CRUDE_PROTEIN
    if highest is not None and value * factor > highest:
        reading.error(
            row,
            column,
            f"{as_typed(value * factor)} {base} of {row['nutrient']}",
            f"at most {as_typed(highest)} {base}",
            "Correct the value or its unit.",
        )
    if column == "value" and row["nutrient"] == "dry_matter" and value == 0:
        reading.error(row, column, "dry matter of 0 %", "more than 0 %", "Correct the value.")
