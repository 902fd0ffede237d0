"""Whether a book agrees with itself: names, sums, bounds and dates. Needs nothing of the feed library."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from math import atan, degrees, radians, tan

from rationlp.book.column import in_book_units
from rationlp.book.columns import SHEETS
from rationlp.book.reading.crew.lots import check_lots
from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.finder import Finder, Name, plain

STEEPEST_DEG = 45.0
"""Grain runs down from a steeper heap: it lies at 16 (peas) to 37 degrees (memory: farm grain storage tables)."""
SORT_TOLERANCE = 0.02
"""How far the sorted masses may miss the mass that was sorted: dust and scale steps, 2 % of it (common practice)."""
ROUNDING_PCT = 1e-6
"""Sums of percentages typed by people are exact but for the last bits of a float."""
USUAL_MOISTURE_PCT = (3.0, 35.0)
"""Outside these a moisture is more likely a slip (0.13 for 13 %) than grain."""
LEAST_ASSAY_PCT = {"dry_matter": 40.0, "crude_protein": 2.0}
"""Below these a figure of a grain sample is more likely a share typed as 0.14 than a percentage."""


def check_consistency(reading: BookReading, nutrients: Mapping[str, str]) -> None:
    """Put everything that does not agree on the reading's list of problems."""
    _something_to_feed(reading)
    for sheet in SHEETS.values():
        if sheet.unique:
            _no_repeats(reading, sheet.name, sheet.unique)
    _references(reading, ("samples", "sown"), "bin", "bins")
    _references(reading, ("sorted", "assays"), "sample", "samples")
    _references(reading, ("assays",), "lot", "lots")
    _offers_are_no_bins(reading)
    _bounds(reading)
    _shares_can_make_a_ration(reading)
    _no_plus(reading)
    _bins(reading)
    _samples(reading)
    _assays(reading)
    check_lots(reading)
    if nutrients:
        _own_nutrients(reading, nutrients)
    _mixer(reading)
    _margin(reading)


# Names ----------------------------------------------------------------------------------------------------------


def _unread(reading: BookReading) -> set[str]:
    """Sheets that are there and could not be read at all, which is said: they are not missing."""
    return {problem.sheet for problem in reading.problems if problem.severity == "error" and not problem.cell}


def _something_to_feed(reading: BookReading) -> None:
    if not (reading["bins"] or reading["supplements"] or _unread(reading) & {"bins", "supplements"}):
        sheet = "supplements" if "supplements" in reading.present else "bins"
        reading.sheet_problem(
            "error",
            sheet,
            "no bins and no offers",
            "at least one bin or one offer",
            "Fill in bins, or supplements, or both.",
        )
    elif not reading["supplements"]:
        reading.sheet_problem(
            "warning",
            "supplements",
            "no offers",
            "at least premix, salt and limestone for most rations",
            "Without offers a ration is bin grain alone.",
        )


def _no_repeats(reading: BookReading, sheet: str, unique: tuple[str, ...]) -> None:
    first: dict[tuple[str, ...], SheetRow] = {}
    column = unique[-1] if len(unique) > 1 else unique[0]
    for row in reading[sheet]:
        if not row.sound(*unique):
            continue
        key = tuple(plain(row[name]) for name in unique)
        if key in first:
            what = ", ".join(f"{name} {row[name]!r}" for name in unique)
            reading.error(
                row,
                column,
                f"a second row for {what}",
                f"one row (the first is {first[key].place.cell(column)})",
                "Give one of them another name." if len(unique) == 1 else "Make one row of the two.",
            )
        first.setdefault(key, row)


def _references(reading: BookReading, sheets: tuple[str, ...], column: str, to_sheet: str) -> None:
    """Every name, or the label beside it, must be declared on `to_sheet`; it is put into the spelling used there."""
    finder = Finder(
        Name(row[column], (row["label"],) if row["label"] else ()) for row in reading[to_sheet] if row[column]
    )
    rows = [row for sheet in sheets for row in reading[sheet] if row.sound(column)]
    if rows and not reading[to_sheet]:
        if to_sheet in _unread(reading):
            return
        found = f"no {to_sheet}, though {rows[0].place.sheet} speaks of the {column} {rows[0][column]!r}"
        expected, do = f"a row for every {column} the book speaks of", f"Add the sheet {to_sheet}, or fill it in."
        reading.sheet_problem("error", to_sheet, found, expected, do)
        return
    for row in rows:
        meant = finder.meant(row[column])
        if len(meant) == 1:
            row.values[column] = meant[0]
        else:
            expected = f"a {column} of the sheet {to_sheet}: {_few(finder.names)}"
            do = finder.suggestion(row[column], f"Add it to {to_sheet}, or correct the name.")
            reading.error(row, column, f"the {column} {row[column]!r}", expected, do)


def _few(names: Iterable[str]) -> str:
    names = list(names)
    return ", ".join(names[:12]) + (f" and {len(names) - 12} more" if len(names) > 12 else "")


def _offers_are_no_bins(reading: BookReading) -> None:
    bins = {plain(row["bin"]): row for row in reading["bins"] if row["bin"]}
    for row in reading["supplements"]:
        other = bins.get(plain(row["offer"])) if row.sound("offer") else None
        if other is not None:
            reading.error(
                row,
                "offer",
                f"an offer named like the bin {other['bin']!r} (bins!{other.place.cell('bin')})",
                "a name that no bin has",
                "Rename the offer.",
            )


# Bounds and sums ------------------------------------------------------------------------------------------------


def _bounds(reading: BookReading) -> None:
    _low_and_high(reading, "supplements", "min_pct", "max_pct", one_needed=False)
    _low_and_high(reading, "supplements", "price_low", "price", one_needed=False)
    _low_and_high(reading, "supplements", "price", "price_high", one_needed=False)
    _low_and_high(reading, "own_limits", "min_pct", "max_pct", one_needed=True)
    _low_and_high(reading, "own_stages", "minimum", "maximum", one_needed=True)
    for row in reading["groups"]:
        if row.sound("from", "to") and row["from"] > row["to"]:
            day = reading.farm.day
            found = f"to {day(row['to'])} before from {day(row['from'])} ({row.place.cell('from')})"
            reading.error(row, "to", found, "a last day on or after the first", "Correct one of the two dates.")


def _low_and_high(reading: BookReading, sheet: str, low: str, high: str, one_needed: bool) -> None:
    for row in reading[sheet]:
        if row.sound(low, high) and row[low] > row[high]:
            found = f"{low} {row[low]:g} above {high} {row[high]:g} ({row.place.cell(high)})"
            reading.error(row, low, found, f"{low} not above {high}", "Correct one of the two.")
        if one_needed and row[low] is None and row[high] is None and not {low, high} & row.bad:
            found, do = f"neither {low} nor {high}", "Fill one in, or delete the row."
            reading.error(row, _present(row, low, high), found, "one of them, or both", do)


def _present(row: SheetRow, *columns: str) -> str:
    """The first of the columns that the sheet has."""
    return next((column for column in columns if column in row.place.columns), columns[0])


def _shares_can_make_a_ration(reading: BookReading) -> None:
    offers = [row for row in reading["supplements"] if not {"min_pct", "max_pct"} & row.bad]
    least = sum(row["min_pct"] or 0.0 for row in offers)
    if least > 100 + ROUNDING_PCT:
        last = [row for row in offers if row["min_pct"]][-1]
        reading.error(
            last,
            "min_pct",
            f"min_pct of all offers adds up to {least:g} %",
            "at most 100 % together",
            "Lower some of them.",
        )
    if offers and not reading["bins"] and len(offers) == len(reading["supplements"]):
        most = sum(100.0 if row["max_pct"] is None else row["max_pct"] for row in offers)
        if most < 100 - ROUNDING_PCT:
            reading.error(
                offers[-1],
                "max_pct",
                f"max_pct of all offers adds up to {most:g} %, and there is no bin",
                "at least 100 % together",
                "Raise some of them, or add an offer.",
            )


# Bins and samples -----------------------------------------------------------------------------------------------


def _no_plus(reading: BookReading) -> None:
    """Rations of several bins are named `north+south`, so that a bin by itself has no + in its name."""
    for row in reading["bins"]:
        if row.sound("bin") and "+" in row["bin"]:
            do = f"Rename it everywhere, for instance {row['bin'].replace('+', '_')}."
            reading.error(row, "bin", f"the name {row['bin']!r} with a +", "a name without +", do)


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
            place = _present(row, "sale_price", "bin")
            reading.warning(row, place, "no sale_price: the grain counts as free", "a price, or 0", do)
        if row.sound("moisture_pct") and not low <= row["moisture_pct"] <= high:
            found, expected = f"a moisture of {row['moisture_pct']:g} %", f"{low:g} to {high:g} % in stored grain"
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
            reading.warning(sample, _present(sample, "taken_on", "sample"), found, "the day it was taken", do)


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
            _present(row, "mass", "bin"),
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
    if height > half * tan(radians(STEEPEST_DEG)) * (1 + ROUNDING_PCT / 100):
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
            f"{stated:g} g, but the sorted masses add up to {total:g} g ({cells})",
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
            check = f"Write {100 * value:g} if that is meant" if is_share else "Check it"
            do = f"{check}; 14 with the unit % means 14 %."
            report(row, "value", f"{value:g} % {row['nutrient']}", f"more than {least:g} % in a grain sample", do)


def _own_nutrients(reading: BookReading, nutrients: Mapping[str, str]) -> None:
    """A nutrient the library does not know: one unit in all its rows, one basis on own_feeds."""
    rows = [*reading["own_feeds"], *reading["own_stages"], *reading["assays"]]
    for column in ("unit", "basis"):
        first: dict[str, SheetRow] = {}
        for row in rows:
            if row["nutrient"] in nutrients or not row.sound("nutrient", column) or row["per"] == "day":
                continue
            other = first.setdefault(row["nutrient"], row)
            if other[column] != row[column]:
                reading.error(
                    row,
                    column,
                    f"{column} {row[column]} for {row['nutrient']}, which has {other[column]} at "
                    f"{other.place.sheet}!{other.place.cell(column)}",
                    f"one {column} in all rows of a nutrient the library does not know",
                    f"Turn all of them into one {column}.",
                )


# Machines -------------------------------------------------------------------------------------------------------


def _mixer(reading: BookReading) -> None:
    farm = reading.farm
    if any(problem.sheet == "farm" and problem.severity == "error" for problem in reading.problems):
        return  # a setting that could not be read would be judged by its usual value

    def mass(kg: float) -> str:
        return in_book_units("mass", kg, farm.units)

    if farm.mixer_capacity_kg is not None and farm.batch_kg > farm.mixer_capacity_kg:
        reading.sheet_problem(
            "warning",
            "farm",
            f"batch_mass {mass(farm.batch_kg)} above mixer_capacity {mass(farm.mixer_capacity_kg)}",
            "a batch that fits into the mixer",
            "Lower batch_mass, or correct mixer_capacity.",
        )
    if farm.scale_step_kg > farm.batch_kg / 10:
        reading.sheet_problem(
            "warning",
            "farm",
            f"scale_step {mass(farm.scale_step_kg)} for a batch of {mass(farm.batch_kg)}",
            "a scale step far smaller than the batch",
            "Check the units of both.",
        )


def _margin(reading: BookReading) -> None:
    """0.05 typed for 5 %: a margin of less than a percent is next to none."""
    margin = reading.farm.requirement_margin_pct
    if 0 < margin < 1:
        do = f"Write {100 * margin:g} if that is meant; {margin:g} % counts as it stands."
        reading.sheet_problem("warning", "farm", f"requirement_margin_pct {margin:g}", "a percentage, or 0", do)
