"""The review copy as a workbook: a page to sign, then everything it rests on, one table to a sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from functools import partial

from openpyxl import Workbook
from openpyxl.styles import NamedStyle
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.page import PageMargins
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from rationlp.book_units import units_in
from rationlp.files import saved
from rationlp.ledger.shape import Signature
from rationlp.numbers import figure
from rationlp.pages.cells import Page, Values
from rationlp.pages.review.sign import write_sign_pages
from rationlp.pages.review.tables import MATRIX, Heading, tables_of
from rationlp.pages.style import PALE, WARN, Look, write_footer
from rationlp.rations.studies.review import ReviewCopy
from rationlp.reasons import Severity

Looks = Mapping[str, NamedStyle]
PAPER = {"us": 1, "metric": 9}  # Letter, A4
WIDTH = {"A": 30, "B": 11, "C": 12, "D": 27, "E": 10, "F": 11, "G": 13, "H": 10}
LAST = "H"


def review_workbook(review: ReviewCopy, signed: Sequence[Signature] = ()) -> bytes:
    """The workbook as it is written to a file."""
    book, values = Workbook(), Values()
    look = _look(book)
    del book[book.sheetnames[0]]
    first: Worksheet = book.create_sheet("Sign-off")
    _sign_off(Page(first, values), review, look)
    _set_up(first, review, landscape=False)
    for page in write_sign_pages(book, review, signed, look, values):
        _set_up(page.sheet, review, landscape=False)
        page.sheet.page_setup.fitToHeight = 1
    for title, columns, rows in tables_of(review):
        page = Page(book.create_sheet(title), values)
        _table(page, title, columns, rows, look)
        _set_up(page.sheet, review, landscape=True)
        if title == MATRIX:  # as many pages wide as it takes, the nutrients on each
            page.sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=False)
            page.sheet.page_setup.scale, page.sheet.print_title_cols = 65, "A:B"
    return saved(book.save)


def _look(book: Workbook) -> Looks:
    """The styles of the workbook by name."""
    words = partial(Look, wrap=True, up="top")
    wanted = {
        "title": words(size=18, bold=True),
        "words": words(size=10),
        "bold": words(size=10, bold=True),
        "warn": words(size=11, bold=True, colour=WARN),
        "head": words(size=10, bold=True, fill=PALE, box="thin"),
        "cell": Look(size=9, box="thin", wrap=True),
        "number": Look(size=9, box="thin", side="right", wrap=True),
        "sign": words(size=12, box="medium", open=True),
    }
    made = {name: look.named(f"review {name}") for name, look in wanted.items()}
    for style in made.values():
        book.add_named_style(style)
    return made


# The page to sign -----------------------------------------------------------------------------------------------


def _sign_off(page: Page, review: ReviewCopy, look: Looks) -> None:
    page.widths(WIDTH)
    row = _line(page, 1, f"Rations for review: {review.farm} {review.season}".strip(), look["title"], 26)
    row = _line(page, row, review.review, look["warn"], 30)
    for words in _settings(review):
        row = _line(page, row, words, look["words"], 14 * (1 + len(words) // 118))
    row = _rations(page, row + 1, review, look)
    row = _warnings(page, row + 1, review, look)
    row = _line(
        page, row + 1, "Each ration is signed on its own page, which names what makes it void.", look["bold"], 16
    )
    page.sheet.print_area = f"A1:{LAST}{row}"


def _line(page: Page, row: int, text: str, style: NamedStyle, height: float) -> int:
    page.merged(f"A{row}:{LAST}{row}", text, style)
    page.height(row, height)
    return row + 1


def _settings(review: ReviewCopy) -> list[str]:
    counted = [
        f"{what}: {', '.join(f'{count} {how}' for how, count in counts.items())}"
        for what, counts in review.how_counts.items()
    ]
    margin = f"{review.requirement_margin_pct:g} %" if review.requirement_margin_pct else "none"
    return [
        f"Book {review.book}, version {review.book_version}; made by {review.program}.",
        f"Certification: {review.certification}. Jurisdiction: {review.jurisdiction}. "
        f"Confidence: {review.confidence_pct:g} %. Margin on amino acid minima: {margin}.",
        f"How the figures were obtained. {'. '.join(counted)}. The sheet 'Memory and assumed' lists what nobody saw on "
        f"a page: {len(review.from_memory)} from memory, {len(review.assumed)} by analogy or common practice; "
        "'Recalled that move most' names the ten of each ration whose error would cost most.",
    ]


def _rations(page: Page, row: int, review: ReviewCopy, look: Looks) -> int:
    currency, units = review.currency, units_in(review.units, review.currency)
    heads = ("Stage", "Bin", "Ration", "Verdict", units.per_mass, f"{currency}/Gcal", "Home-grown %", "kcal/kg")
    for place, head in enumerate(heads, 1):
        page.text(f"{get_column_letter(place)}{row}", head, look["head"])
    for reviewed in review.rations:
        row += 1
        r = reviewed.ration
        for column, text in zip("ABCD", (r.stage_label, r.bin, reviewed.id, r.verdict.headline), strict=True):
            page.text(f"{column}{row}", text, look["cell"])
        grown = None if r.home_grown_share is None else 100 * r.home_grown_share
        price = None if r.cost_per_tonne is None else units.price_value(r.cost_per_tonne)
        numbers = (
            (price, "0.00"),
            (r.cost_per_gcal, "0.00"),
            (grown, "0.0"),
            (r.energy_kcal_kg, "0"),
        )
        for column, (value, form) in zip("EFGH", numbers, strict=True):
            page.number(f"{column}{row}", value, look["number"], form)
        page.height(row, 14 * (1 + max(len(r.stage_label) // 30, len(r.verdict.headline) // 28)))
    return row + 1


def _warnings(page: Page, row: int, review: ReviewCopy, look: Looks) -> int:
    by_text: dict[str, list[str]] = {}
    for reviewed in review.rations:
        ration = reviewed.ration
        reasons = [r.text for r in ration.verdict.reasons if r.severity is not Severity.FEED]
        for text in (*reasons, *ration.warnings):
            by_text.setdefault(text, []).append(ration.stage)
    for text, stages in by_text.items():
        told = f"! {text} [{', '.join(dict.fromkeys(stages))}]"
        row = _line(page, row, told, look["bold"], 14 * (1 + len(told) // 112))
    return row


# A table to a sheet ---------------------------------------------------------------------------------------------


def _table(page: Page, title: str, columns: Sequence[Heading], rows: Iterable[Sequence[object]], look: Looks) -> None:
    letters = [get_column_letter(i + 1) for i in range(len(columns))]
    page.widths({letter: column.width for letter, column in zip(letters, columns, strict=True)})
    for letter, column in zip(letters, columns, strict=True):
        page.text(f"{letter}1", column.heading, look["head"])
    page.height(1, 13.5 * max(1 + int(len(column.heading) / (column.width * 0.85)) for column in columns))
    row = 1
    for row, cells in enumerate(rows, 2):
        lines = 1
        for letter, column, value in zip(letters, columns, cells, strict=True):
            if isinstance(value, int | float) and not isinstance(value, bool):
                page.number(f"{letter}{row}", _rounded(value), look["number"], column.form)
            elif isinstance(value, date):
                page.number(f"{letter}{row}", value, look["cell"])
            else:
                text = _words(value)
                page.text(f"{letter}{row}", text, look["cell"])
                lines = max(lines, 1 + int(len(text) / (column.width * 1.05)))
        page.height(row, min(13.5 * lines, 400))
    page.sheet.freeze_panes = (
        "A2" if not columns or not columns[0].stays else f"{get_column_letter(columns[0].stays + 1)}2"
    )
    page.sheet.auto_filter.ref = f"A1:{letters[-1]}{max(row, 1)}"
    page.sheet.print_title_rows = "1:1"


def _words(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(value)


def _rounded(value: float) -> float:
    """Five digits that count: a matrix is read, not computed with."""
    return float(figure(value, 5).replace(",", "") or 0)


def _set_up(sheet: Worksheet, review: ReviewCopy, landscape: bool) -> None:
    sheet.page_setup.orientation = "landscape" if landscape else "portrait"
    sheet.page_setup.paperSize = PAPER.get(review.units, 9)
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_margins = PageMargins(0.4, 0.4, 0.4, 0.6, 0.2, 0.25)
    write_footer(sheet, f"book {review.book_version}", "&A, page &P of &N")
