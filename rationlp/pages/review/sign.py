"""One page for each ration of the review copy: what is asked of the nutritionist, and a box of its own to sign in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from openpyxl.styles import NamedStyle
from openpyxl.utils import get_column_letter
from openpyxl.workbook import Workbook

from rationlp.ledger.shape import Signature
from rationlp.ledger.signatures import SIGN_ROWS, SIGN_SHEET, VOIDS, signature_words
from rationlp.numbers import figure
from rationlp.pages.cells import Page, Values
from rationlp.rations.answer.model import Ration
from rationlp.rations.studies.review import ReviewCopy, ReviewedRation
from rationlp.reasons import Severity
from rationlp.show.text.verdict import reason_line

Looks = Mapping[str, NamedStyle]
LAST = "F"
WIDTH = {"A": 34, "B": 14, "C": 12, "D": 12, "E": 12, "F": 16}
MOST_REASONS, MOST_ROWS = 8, 16
"""Named on the page, so that it stays one; the other sheets of the copy have all."""


def write_sign_pages(
    book: Workbook, review: ReviewCopy, signed: Sequence[Signature], look: Looks, values: Values
) -> list[Page]:
    """A page for each ration, after the first sheet."""
    pages = []
    for index, reviewed in enumerate(review.rations, 1):
        page = Page(book.create_sheet(f"{SIGN_SHEET} {reviewed.id}", index), values)
        _write(page, reviewed, review, signature_words(reviewed.id, date.today(), signed, review.date_format), look)
        pages.append(page)
    return pages


def _write(page: Page, reviewed: ReviewedRation, review: ReviewCopy, signed: str, look: Looks) -> None:
    ration = reviewed.ration
    page.widths(WIDTH)
    page.text("A1", "Ration", look["words"])
    page.merged(f"B1:{LAST}1", reviewed.id, look["title"])
    page.height(1, 26)
    words = f"{ration.stage_label} | {ration.bin or 'no bin'} | {review.farm} {review.season}"
    row = _line(page, 2, words, look["bold"])
    row = _line(page, row, f"{ration.verdict.headline}.", look["warn"])
    row = _line(page, row, signed, look["words"])
    asked = [reason for reason in ration.verdict.reasons if reason.severity is not Severity.FEED]
    for reason in asked[:MOST_REASONS]:
        row = _line(page, row, reason_line(reason, review.sources_by_id), look["words"])
    if len(asked) > MOST_REASONS:
        row = _line(page, row, f"And {len(asked) - MOST_REASONS} more: see the sheets behind.", look["words"])
    row = _table(page, row + 1, ("Mix", "% as fed"), _mix(ration), look)
    row = _table(page, row + 1, ("Requirement", "Unit", "Minimum", "Maximum", "Supplies", ""), _bounds(ration), look)
    row = _line(page, row + 1, VOIDS, look["words"])
    for label, height in SIGN_ROWS:
        page.text(f"A{row}", label, look["words"])
        page.merged(f"B{row}:{LAST}{row}", "", look["sign"])
        for column in range(2, 7):
            page.blank(f"{get_column_letter(column)}{row}", look["sign"])
        page.height(row, height)
        row += 1
    page.sheet.print_area = f"A1:{LAST}{row - 1}"


def _mix(ration: Ration) -> Iterable[tuple[str, ...]]:
    for line in ration.mix:
        if line.share:
            yield line.label, figure(100 * line.share, 4)


def _bounds(ration: Ration) -> Iterable[tuple[str, ...]]:
    """The rows that bind or are missed, and the first others."""
    lines = sorted(ration.requirements, key=lambda line: (line.meets is not False, not line.binding))
    for line in lines[:MOST_ROWS]:
        word = "MISSED" if line.meets is False else "binds" if line.binding else ""
        yield line.label, line.unit, figure(line.minimum), figure(line.maximum), figure(line.gives), word


def _table(page: Page, row: int, heads: tuple[str, ...], rows: Iterable[tuple[str, ...]], look: Looks) -> int:
    for cells, style in ((heads, "head"), *((cells, "cell") for cells in rows)):
        for place, text in enumerate(cells, 1):
            page.text(f"{get_column_letter(place)}{row}", text, look[style])
        row += 1
    return row


def _line(page: Page, row: int, text: str, style: NamedStyle) -> int:
    page.merged(f"A{row}:{LAST}{row}", text, style)
    page.height(row, 15 * (1 + len(text) // 95))
    return row + 1
