"""Whether the deliveries of bought feed, and what was analysed of them, agree with the rest of the book."""

from __future__ import annotations

from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.finder import plain, slip_of

SLIP = 0.85
"""So much alike two names are where one is a slip of the keys; names of one kind of offer are less (a judgement)."""


def check_lots(reading: BookReading) -> None:
    """Report lots that cannot be as written, and laboratory results that are not of one sample or one lot."""
    _offers(reading)
    for row in reading["lots"]:
        if row.sound("delivered_on", "use_by") and row["use_by"] < row["delivered_on"]:
            use_by, delivered_on = map(reading.farm.day, (row["use_by"], row["delivered_on"]))
            found = f"use_by {use_by} before delivered_on {delivered_on}"
            reading.warning(row, "use_by", found, "a day on or after the delivery", "Correct one of the two dates.")
    for row in reading["assays"]:
        _sample_or_lot(reading, row)


def _offers(reading: BookReading) -> None:
    """Put the offer of a lot into the spelling of its sheet; report one that is not there.

    An offer may be withdrawn after its lots came. It is an error where the name may be a slip, or where something was
    found in the lot: that would count for nothing.
    """
    offers = reading.names("supplements", "offer")
    assayed = {plain(row["lot"]) for row in reading["assays"] if row.sound("lot")}
    for row in reading["lots"]:
        if not row.sound("offer"):
            continue
        name = offers.get(plain(row["offer"]))
        if name is not None:
            row.values["offer"] = name
            continue
        near = offers.get(slip_of(row["offer"], offers, SLIP), "")
        found, expected = f"the offer {row['offer']!r}", "an offer of the sheet supplements"
        if near or plain(row["lot"] or "") in assayed:
            do = f"Did you mean {near}?" if near else "Put the offer back on supplements: the lot was analysed."
            reading.error(row, "offer", found, expected, do)
        else:
            reading.warning(row, "offer", found, expected, "Leave it if the offer was withdrawn; else correct it.")


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
