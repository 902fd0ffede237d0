"""Dates that cannot be: still to come, or of grain that was not in the bin yet."""

from __future__ import annotations

from datetime import date

from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.finder import plain

OF_THE_PAST = (
    ("bins", "filled_on"),
    ("bins", "opened_on"),
    ("samples", "taken_on"),
    ("supplements", "quoted_on"),
    ("lots", "delivered_on"),
    ("actual", "made_on"),
)


def check_dates(reading: BookReading, today: date | None = None) -> None:
    """Report days still to come, and samples taken or bins opened before the bin was filled."""
    today, day = today or date.today(), reading.farm.day
    for sheet, column in OF_THE_PAST:
        for row in reading[sheet]:
            if row.sound(column) and row[column] > today:
                found, expected = f"{day(row[column])}, which is still to come", f"a day up to {day(today)}"
                reading.warning(row, column, found, expected, "Check the year, and which number is the month.")
    filled = {
        plain(row["bin"]): row for row in reading["bins"] if row.sound("bin", "filled_on") and row["filled_on"] <= today
    }
    for row in filled.values():
        _after(reading, row, "opened_on", row)
    for row in reading["samples"]:
        if row.sound("bin") and plain(row["bin"]) in filled:
            _after(reading, row, "taken_on", filled[plain(row["bin"])])


def _after(reading: BookReading, row: SheetRow, column: str, grain: SheetRow) -> None:
    if row.sound(column) and row[column] < grain["filled_on"]:
        place, day = f"bins!{grain.place.cell('filled_on')}", reading.farm.day
        filled = f"the bin {grain['bin']!r} was filled on {day(grain['filled_on'])} ({place})"
        found = f"{column} {day(row[column])}, before {filled}"
        do = "Correct one of the dates; a sample of last year's grain belongs to a bin of its own."
        reading.warning(row, column, found, "a day on or after that", do)
