"""Holds of bins: a date or a name without a hold, a date that releases nothing, bins that are in no mix today."""

from __future__ import annotations

from datetime import date

from rationlp.book.columns import HOLDS
from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.book.somebody import names_somebody

ENDS_BY_DATE = "fumigated"
NAMES_THEM = "the reason in the column hold: " + ", ".join(HOLDS)


def check_holds(reading: BookReading, today: date | None = None) -> None:
    """Report, at its cell, a hold that cannot mean what is written, and each one that keeps a bin out of the mixes."""
    for row in reading["bins"]:
        if not row.bad & {"hold", "hold_until", "released_by"}:
            _check(reading, row, today or date.today())


def _check(reading: BookReading, row: SheetRow, today: date) -> None:
    hold, until, by = row["hold"], row["hold_until"], (row["released_by"] or "").strip()
    to_come, last = until is not None and until >= today, reading.farm.day(until)
    nobody = "" if not by or names_somebody(by) else f", and {by!r} in released_by names nobody"
    if nobody:
        by = ""
    if not hold:
        if until is not None:
            found = f"hold_until {last} of bin {row['bin']} without a hold"
            reading.error(row, "hold_until", found, NAMES_THEM, "Fill in hold, or take the date away.")
        elif by:
            found = f"bin {row['bin']} released by {by!r}, which is on no hold"
            reading.warning(row, "released_by", found, NAMES_THEM, "Fill in hold, so that it is known what was found.")
    elif by and to_come:
        found = f"bin {row['bin']} released by {by!r} before {last}, the last day of its hold"
        do = "It stays on hold until then; move the date if it was released for good."
        reading.warning(row, "hold_until", found, "a day that is past", do)
    elif by:
        return
    elif until is not None and not to_come and hold != ENDS_BY_DATE:
        found = f"bin {row['bin']} on hold ({hold}) with hold_until {last}, which is past, and nobody in released_by"
        do = "A date alone releases a fumigated bin only. It stays on hold: fill in released_by once it may be fed."
        reading.warning(row, "released_by", found, "who released it", do)
    elif not (hold == ENDS_BY_DATE and until is not None and not to_come):
        found = f"bin {row['bin']} on hold: {hold}{nobody}"
        do = "It is in no mix until released_by is filled in" + (f" or {last} is past." if to_come else ".")
        if to_come and hold != ENDS_BY_DATE:
            do = f"It is in no mix until {last} is past and released_by is filled in."
        reading.warning(row, "hold", found, "a bin that may be fed", do)
