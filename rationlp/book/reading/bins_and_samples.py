"""Whether bins, samples, hand sorts and assays of a book agree with themselves and each other."""

from __future__ import annotations

from collections import defaultdict
from math import atan, degrees, radians, tan

from rationlp.book.column import in_book_units
from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.finder import plain
from rationlp.numbers import as_typed

STEEPEST_DEG = 45.0
"""Grain runs down from a steeper heap: it lies at 16 (peas) to 37 degrees (memory: farm grain storage tables)."""
SORT_TOLERANCE = 0.02
"""How far the sorted masses may miss the mass that was sorted: dust and scale steps, 2 % of it (common practice)."""
USUAL_MOISTURE_PCT = (3.0, 35.0)
"""Outside these a moisture is more likely a slip (0.13 for 13 %) than grain."""
LEAST_ASSAY_PCT = {"dry_matter": 40.0, "crude_protein": 2.0}
"""Below these a figure of a grain sample is more likely a share typed as 0.14 than a percentage."""
ROUNDING = 1e-8
"""Of a length that people measured: the last bits of a float."""


def check_bins_and_samples(reading: BookReading) -> None:
    """Put what does not agree on the reading's list of problems."""
    _bins(reading)
    _samples(reading)
    _assays(reading)


def _bins(reading: BookReading) -> None:
    sampled = defaultdict(list)
    for row in reading["samples"]:
        if row["bin"]:
            sampled[plain(row["bin"])].append(row)
    low, high = USUAL_MOISTURE_PCT
    for row in reading["bins"]:
        _bin_mass(reading, row)
        _cone(reading, row)
        if row["sale_price"] is None and "sale_price" not in row.bad:
            do = "Fill in what the grain would bring if sold, so that feeding it is weighed against selling it."
            place = row.present("sale_price", "bin")
            reading.warning(row, place, "no sale_price: the grain counts as free", "a price, or 0", do)
        if row.sound("moisture_pct") and not low <= row["moisture_pct"] <= high:
            found = f"a moisture of {as_typed(row['moisture_pct'])} %"
            expected = f"{as_typed(low)} to {as_typed(high)} % in stored grain"
            reading.warning(row, "moisture_pct", found, expected, "Check it; 13 means 13 %.")
        if row.sound("bin"):
            _bin_samples(reading, row, sampled[plain(row["bin"])])


def _bin_samples(reading: BookReading, row: SheetRow, samples: list[SheetRow]) -> None:
    if not samples and (reading["samples"] or not (reading["sorted"] or reading["assays"])):
        do = "Until it is sampled, its crops are guessed from other bins or seed; do not feed by that."
        reading.warning(row, "bin", f"no sample of the bin {row['bin']!r}", "a row on samples", do)
    for sample in samples if len(samples) > 1 else ():
        if sample["taken_on"] is None and "taken_on" not in sample.bad:
            found = f"several samples of {row['bin']!r}, this one undated"
            do = "Fill in taken_on, so that the newest is known."
            reading.warning(sample, sample.present("taken_on", "sample"), found, "the day it was taken", do)


def _bin_mass(reading: BookReading, row: SheetRow) -> None:
    rectangular = row["length"] is not None or row["width"] is not None
    measures = (*(("length", "width") if rectangular else ("diameter",)), "wall_depth", "test_weight")
    if rectangular and row["diameter"] is not None:
        across = in_book_units("length", row["diameter"], reading.farm.units)
        found = f"a diameter of {across} beside a length or width"
        expected, do = "the measures of one shape", "Keep those of the bin's shape."
        reading.error(row, "diameter", found, expected, do)
    if row["mass"] is not None or row.bad & {"mass", *measures}:
        return
    missing = [column for column in measures if row[column] is None]
    if missing:
        reading.warning(
            row,
            row.present("mass", "bin"),
            f"no mass and no {', '.join(missing)}",
            "the mass, or diameter (or length and width), wall_depth, peak_height and test_weight",
            "Fill in one or the other; until then nobody knows how much is in the bin.",
        )


def _cone(reading: BookReading, row: SheetRow) -> None:
    """Grain does not stand, nor run down, more steeply than `STEEPEST_DEG`."""
    across = [row[side] for side in ("diameter", "length", "width") if row.sound(side)]
    if not across or not row.sound("peak_height"):
        return
    height, half = abs(row["peak_height"]), min(across) / 2
    if height > half * tan(radians(STEEPEST_DEG)) * (1 + ROUNDING):
        shape = "heaped" if row["peak_height"] > 0 else "drawn down"
        slope = degrees(atan(height / half))
        told, wide = (in_book_units("length", length, reading.farm.units) for length in (height, half))
        found = f"a cone {shape} by {told} over half a width of {wide}, {slope:.0f} degrees"
        expected = f"at most {STEEPEST_DEG:g} degrees: grain lies at 16 to 37"
        reading.warning(row, "peak_height", found, expected, "Measure again; check the units of both.")


def _samples(reading: BookReading) -> None:
    sorted_rows, assayed = defaultdict(list), set()
    for row in reading["sorted"]:
        sorted_rows[plain(row["sample"] or "")].append(row)
    for row in reading["assays"]:
        assayed.add(plain(row["sample"] or ""))
    if not reading["sorted"] and any(row["sorted_mass_g"] for row in reading["samples"]):
        reading.sheet_problem(
            "error",
            "sorted",
            "no sorted masses, though samples has sorted_mass_g",
            "the grams of every crop of each sorted sample",
            "Fill in the sheet sorted.",
        )
        return
    astray = any(not row.sound("sample") for row in reading["sorted"])
    for row in reading["samples"]:
        name = plain(row["sample"] or "")
        if astray and row.sound("sample") and _short(row, sorted_rows[name]):
            continue  # what it lacks may stand in a row whose sample is not known; that row is reported
        if row.sound("sample"):
            _sort(reading, row, sorted_rows[plain(row["sample"])], plain(row["sample"]) in assayed)


def _short(sample: SheetRow, crops: list[SheetRow]) -> bool:
    """Whether grams are missing from the hand sort of a sample."""
    stated = sample["sorted_mass_g"]
    total = sum(row["mass_g"] or 0.0 for row in crops)
    return total == 0 or (stated is not None and total < (1 - SORT_TOLERANCE) * stated)


def _sort(reading: BookReading, sample: SheetRow, crops: list[SheetRow], assayed: bool) -> None:
    """Whether the hand sort of a sample is there and adds up."""
    name, stated = sample["sample"], sample["sorted_mass_g"]
    if any("mass_g" in row.bad for row in crops) or "sorted_mass_g" in sample.bad:
        return
    total = sum(row["mass_g"] for row in crops)
    if not crops and stated is None:
        rest = "Its crops are not known." if assayed else "It says nothing about the bin yet."
        reading.warning(
            sample, "sample", f"no sorted rows for the sample {name!r}", "grams of every crop on sorted", rest
        )
    elif crops and total == 0:
        reading.error(
            crops[0], "mass_g", f"0 g sorted in the sample {name!r}", "the grams of every crop", "Fill them in."
        )
    elif stated is not None and abs(total - stated) > SORT_TOLERANCE * stated:
        cells = (
            f"sorted!{crops[0].place.cell('mass_g')} to {crops[-1].place.cell('mass_g')}" if crops else "none on sorted"
        )
        reading.error(
            sample,
            "sorted_mass_g",
            f"{as_typed(stated)} g, but the sorted masses add up to {as_typed(total)} g ({cells})",
            f"the two within {SORT_TOLERANCE:.0%} of each other",
            "Look for a crop left out, a slip in a mass, or foreign_matter not entered.",
        )


# Figures --------------------------------------------------------------------------------------------------------


def _assays(reading: BookReading) -> None:
    for row in reading["assays"]:
        least = LEAST_ASSAY_PCT.get(row["nutrient"] or "")
        if least is not None and row.sound("value", "unit") and row["unit"] == "%" and row["value"] < least:
            value = row["value"]
            is_share = value < 1
            report = reading.error if row["sample"] and is_share else reading.warning
            check = f"Write {as_typed(100 * value)} if that is meant" if is_share else "Check it"
            do = f"{check}; 14 with the unit % means 14 %."
            found, expected = (
                f"{as_typed(value)} % {row['nutrient']}",
                f"more than {as_typed(least)} % in a grain sample",
            )
            report(row, "value", found, expected, do)
