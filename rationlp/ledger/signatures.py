"""Whether a nutritionist signed a ration: by the book's sheet `signed`, or by a review copy that came back signed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from rationlp.book.records import Book
from rationlp.ledger.kept import record_for
from rationlp.ledger.shape import Signature, signatures_of

NOT_SIGNED = "NOT SIGNED by a nutritionist"
SIGN_SHEET = "Sign"
"""How the sheets of a review copy begin that are signed, with the id of the ration behind it."""
NAME, LICENCE, DAY, UNTIL = "Name", "Licence number", "Date", "Valid until"
APPROVED, REMARKS = "Approved as it stands: yes or no", "Remarks"
SIGN_ROWS = (
    (NAME, 24),
    (LICENCE, 24),
    ("Licensed in (state or country)", 24),
    (DAY, 24),
    (UNTIL, 24),
    (APPROVED, 24),
    (REMARKS, 60),
    ("Signature", 40),
)
"""The boxes to sign in, each with its height in points."""
VOIDS = (
    "The signature holds for this mix alone, under this id. Another mix, a new sample or assay of the bin, another lot "
    "of premix, other animals or another stage make it void, and so does the day under 'Valid until'."
)


def signatures(book: Book) -> list[Signature]:
    """Every signature of the book and of the farm's record. Raises InputError."""
    written = [
        Signature(
            row.ration,
            row.signed_by,
            row.licence,
            row.signed_on,
            row.valid_until,
            row.note,
            f"signed!{row.place.cell('ration')}",
        )
        for row in book.signed
    ]
    return [*written, *signatures_of(record_for(book))]


def signature_words(ration: str, on: date, signed: Iterable[Signature], date_format: str) -> str:
    """The line of a mix sheet: by whom its ration was signed and until when it holds on the day `on`, or NOT SIGNED.

    `ration` is the id of the ration: with another mix, bin or sample it is another one, and no signature holds for it.
    """
    mine = [
        each
        for each in signed
        if _plain(each.ration) == _plain(ration) and (each.signed_on is None or each.signed_on <= on)
    ]
    if not mine:
        return f"{NOT_SIGNED}."
    last = max(mine, key=lambda each: (each.valid_until or date.max, each.signed_on or date.min))
    licence = f", licence {last.licence}" if last.licence else ""
    day = f" on {last.signed_on:{date_format}}" if last.signed_on else ""
    if last.valid_until is not None and last.valid_until < on:
        held = f"held until {last.valid_until:{date_format}}"
        return f"{NOT_SIGNED} any more: {last.signed_by} signed{day}, and that {held}."
    until = (
        f"until {last.valid_until:{date_format}}" if last.valid_until else "until the mix, a bin or a sample changes"
    )
    note = f" Asked for with it: {last.note}" if last.note else ""
    return f"SIGNED by {last.signed_by}{licence}{day}, holds {until}.{note}"


def _plain(ration: str) -> str:
    return ration.replace("-", "").replace(" ", "").upper()
