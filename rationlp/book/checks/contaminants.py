"""A contaminant in another unit than its laboratory wrote: ppb typed as ppm would lose the farm a good bin, ppm typed
as ppb would feed a bad one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.library.contaminant_law import published_levels
from rationlp.numbers import as_typed, plain
from rationlp.units import convert_composition

if TYPE_CHECKING:
    from rationlp.library.read import Library

UNITS = {"mg/kg": ("ug/kg", "mg/kg"), "%": ("mg/kg", "g/kg", "%")}
"""The units that a laboratory gives a contaminant in, smallest first, by the unit the library keeps it in."""
NAMES = {"mg/kg": "mg/kg (ppm)", "ug/kg": "ug/kg (ppb)"}
FAR_ABOVE = 10.0
"""So many times the highest published limit is asked about."""
FAR_BELOW = 50.0
"""So small a part of the lowest published limit is asked about."""
STEP = 1000.0
"""From one unit to the next."""


def check_contaminant_units(reading: BookReading, library: Library) -> None:
    """Report each figure of a contaminant that is hardly possible in its unit and usual in another one.

    Where it would feed a bad lot (far too little in a feed, far too much as a bound) it is an error; the other way it
    is told and counts as it stands. What stands with its unit in its own cell is taken as meant, and told.
    """
    for sheet, columns in (("assays", ("value",)), ("own_feeds", ("value",)), ("own_stages", ("minimum", "maximum"))):
        for row in reading[sheet]:
            known = library.nutrients.get(row["nutrient"] or "")
            if known is None or known.kind != "toxin" or row["per"] not in (None, "kg"):
                continue
            for column in columns:
                if row.sound(column, "unit"):
                    _ask(reading, row, column, published_levels(known.nutrient, library))


def _ask(reading: BookReading, row: SheetRow, column: str, levels: list[float]) -> None:
    kept, typed = row["unit"], row.unit_typed
    number = convert_composition(row[column], kept, typed)
    likely = _likely(number, typed, kept, levels)
    if not likely:
        return
    low, high = (plain(convert_composition(level, kept, typed)) for level in (min(levels), max(levels)))
    above = row[column] > max(levels)
    side = "above" if above else "below"
    found = f"{plain(number)} {NAMES.get(typed, typed)} of {row['nutrient']}, far {side} every published limit"
    expected = f"the laboratory's figure and its unit; limits are {low} to {high} {typed}"
    do = f"Perhaps {plain(number)} {NAMES.get(likely, likely)} is meant: correct the unit by the laboratory's sheet."
    feeds_too_much = above == (row.place.sheet == "own_stages")
    if not feeds_too_much or (row.place.sheet, row.place.cell(column)) in reading.unit_written:
        reading.warning(row, column, found, expected, do)
    else:
        reading.error(
            row, column, found, expected, f"{do} If it is right, write {as_typed(number)} {typed} in the cell."
        )


def _likely(number: float, typed: str, kept: str, levels: list[float]) -> str:
    """The unit that was probably meant, or nothing. `levels` are in the unit `kept`."""
    low, high = min(levels, default=0.0), max(levels, default=0.0)
    value = convert_composition(number, typed, kept)
    too_low = 0 < value <= max(low / FAR_BELOW, high / STEP)
    if not low or not (too_low or value >= FAR_ABOVE * high):
        return ""
    least, most = (low / FAR_ABOVE, FAR_ABOVE * high) if too_low else (low / FAR_BELOW, high)
    readings = {unit: convert_composition(number, unit, kept) for unit in UNITS[kept]}
    others = [unit for unit, reading in readings.items() if least <= reading <= most]
    usual = [unit for unit in others if low <= readings[unit] <= high]
    return next(iter(usual or others), "")
