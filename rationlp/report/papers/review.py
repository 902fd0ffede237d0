"""The review copy as a page: a sheet to sign for each ration, then everything they rest on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from rationlp.book.records import Settings
from rationlp.ledger.shape import Signature
from rationlp.ledger.signatures import VOIDS, signature_words
from rationlp.numbers import figure
from rationlp.pages.review.tables import tables_of
from rationlp.pages.review.words import counted_by_how
from rationlp.rations.studies.review import ReviewCopy
from rationlp.reasons import Severity
from rationlp.report.memory import BOXES, rows_to_sign
from rationlp.report.render import rendered

DIGITS = 6


def review_page(
    review: ReviewCopy, settings: Settings, signed: Sequence[Signature] = (), on: date | None = None
) -> str:
    """The page; `on` is the day by which a signature is still valid (today)."""
    day_of = on or date.today()
    return rendered(
        "review.html",
        settings,
        look="paper.css",
        title=f"Rations for review: {review.farm} {review.season}".strip(),
        review=review,
        on=day_of,
        signed=lambda ration: signature_words(ration, day_of, signed, settings.date_format),
        to_sign=rows_to_sign,
        voids=VOIDS,
        boxes=BOXES,
        severity=Severity,
        tables=tables_of(review),
        by_how=counted_by_how,
        cell=_cell,
        is_number=_is_number,
    )


def _is_number(value: object) -> bool:
    return isinstance(value, float | int) and not isinstance(value, bool)


def _cell(value: object, form: str) -> str:
    """A cell of a table in words; `form` is the number format it has in the workbook."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | int):
        return f"{value:,.{len(form.partition('.')[2])}f}" if form.startswith("0") else figure(value, DIGITS)
    return str(value)
