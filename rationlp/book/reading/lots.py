"""Whether the deliveries of bought feed, and what was analysed of them, agree with the rest of the book."""

from __future__ import annotations

from rationlp.book.reading.rows import BookReading, SheetRow


def check_lots(reading: BookReading) -> None:
    """Report lots of nothing on offer or to be used before they came, and laboratory results that are not of one sample or one lot."""
    offers = {row["offer"] for row in reading["supplements"]}
    for row in reading["lots"]:
        if row.sound("offer") and row["offer"] not in offers:
            found = f"a lot of {row['offer']!r}, which is not on offer"
            do = "Correct the name; if it is no longer quoted, leave it: its results count for nothing on offer."
            reading.warning(row, "offer", found, "an offer of the sheet supplements", do)
        if row.sound("delivered_on", "use_by") and row["use_by"] < row["delivered_on"]:
            found = f"use_by {row['use_by']} before delivered_on {row['delivered_on']}"
            reading.warning(row, "use_by", found, "a day on or after the delivery", "Correct one of the two dates.")
    for row in reading["assays"]:
        _sample_or_lot(reading, row)


def _sample_or_lot(reading: BookReading, row: SheetRow) -> None:
    """A laboratory result is of a sample of a bin or of a bought lot: exactly one of the two."""
    expected = "a sample of a bin, or the lot of a bought feed"
    if row["sample"] is not None and row["lot"] is not None:
        found = f"the sample {row['sample']!r} beside the lot {row['lot']!r}"
        reading.error(row, "lot", found, f"{expected}, one of the two", "Delete the one it was not.")
    elif row["sample"] is None and row["lot"] is None and not row.bad & {"sample", "lot"}:
        place = next((column for column in ("sample", "lot") if column in row.place.columns), "nutrient")
        do = "Fill in which sample, or which lot, went to the laboratory."
        reading.error(row, place, "neither a sample nor a lot", expected, do)
