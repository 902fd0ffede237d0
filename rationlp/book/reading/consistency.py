"""Whether a book agrees with itself: names, sums, bounds and dates. Needs nothing of the feed library."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rationlp.book.column import in_book_units
from rationlp.book.columns import SHEETS
from rationlp.book.reading.bins_and_samples import check_bins_and_samples
from rationlp.book.reading.crew.lots import check_lots
from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.finder import Finder, Name, plain
from rationlp.numbers import as_typed

ROUNDING_PCT = 1e-6
"""Sums of percentages typed by people are exact but for the last bits of a float."""


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
    check_bins_and_samples(reading)
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
            found = f"{low} {as_typed(row[low])} above {high} {as_typed(row[high])} ({row.place.cell(high)})"
            reading.error(row, low, found, f"{low} not above {high}", "Correct one of the two.")
        if one_needed and row[low] is None and row[high] is None and not {low, high} & row.bad:
            found, do = f"neither {low} nor {high}", "Fill one in, or delete the row."
            reading.error(row, row.present(low, high), found, "one of them, or both", do)


def _shares_can_make_a_ration(reading: BookReading) -> None:
    offers = [row for row in reading["supplements"] if not {"min_pct", "max_pct"} & row.bad]
    least = sum(row["min_pct"] or 0.0 for row in offers)
    if least > 100 + ROUNDING_PCT:
        last = [row for row in offers if row["min_pct"]][-1]
        reading.error(
            last,
            "min_pct",
            f"min_pct of all offers adds up to {as_typed(least)} %",
            "at most 100 % together",
            "Lower some of them.",
        )
    if offers and not reading["bins"] and len(offers) == len(reading["supplements"]):
        most = sum(100.0 if row["max_pct"] is None else row["max_pct"] for row in offers)
        if most < 100 - ROUNDING_PCT:
            reading.error(
                offers[-1],
                "max_pct",
                f"max_pct of all offers adds up to {as_typed(most)} %, and there is no bin",
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
        do = f"Write {as_typed(100 * margin)} if that is meant; {as_typed(margin)} % counts as it stands."
        reading.sheet_problem("warning", "farm", f"requirement_margin_pct {as_typed(margin)}", "a percentage, or 0", do)
