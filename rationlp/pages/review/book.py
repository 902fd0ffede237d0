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
from rationlp.numbers import figure, largest_first
from rationlp.pages.cells import Page, Values
from rationlp.pages.review.sign import write_sign_pages
from rationlp.pages.review.tables import MATRIX, Heading, tables_of
from rationlp.pages.review.words import counted_by_how, how_words, told_source
from rationlp.pages.style import PALE, WARN, Look, write_footer
from rationlp.rations.studies.review import ReviewCopy
from rationlp.rations.studies.weak_bounds import Weak
from rationlp.reasons import Severity

Looks = Mapping[str, NamedStyle]
PAPER = {"us": 1, "metric": 9}  # Letter, A4
WIDTH = {"A": 30, "B": 11, "C": 12, "D": 27, "E": 10, "F": 11, "G": 13, "H": 10}
LAST = "H"
SPANS = (("A", "B"), ("C", "C"), ("D", "D"), ("E", LAST))
SPAN_CHARACTERS = (44, 12, 29, 46)
"""How much goes on a line of each of the four columns of a short table."""
OVERRIDE_HEADS = ("What", "Where", "Says", "Why, and who answers for it")
MOST_WEAK, MOST_LISTED = 8, 15
LEAST_MONEY = 0.005
LEAST_TOLD = 0.005
BY_WEIGHT = {"Figures": "for 10 % off", "Memory and assumed": "for 10 % off", "Duals": "Dual"}
"""Sheets whose rows come the heaviest first, and the heading of the weight."""


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
        _print_what_weighs(page.sheet, title, columns, rows)
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
    title = f"Rations for review: {review.farm} {review.season}".strip()
    row = _line(page, 1, title, look["title"], 26 * (1 + len(title) // 62))
    row = _line(page, row, review.review, look["warn"], 30)
    for words in _settings(review):
        row = _line(page, row, words, look["words"], 14 * (1 + len(words) // 118))
    words = "What is signed for: each ration on its own page, which names what makes it void."
    row = _line(page, row + 1, words, look["bold"], 16)
    row = _rations(page, row, review, look)
    row = _warnings(page, row + 1, review, look)
    weak = sorted((*review.from_memory, *review.assumed), key=lambda each: -each.weight)
    bounds = [each for each in weak if each.what == "bound"]
    row = _listed(page, row, "What the farm put in place of the library", OVERRIDE_HEADS, _overrides(review), look)
    row = _listed(
        page,
        row,
        "The weakest first: recalled figures by what an error costs",
        _weak_heads(review),
        _weakest(review.weakest, review),
        look,
    )
    row = _listed(
        page,
        row,
        "Bounds that bind and that nobody read on a page",
        _weak_heads(review),
        _weakest(bounds, review),
        look,
    )
    row = _line(page, row, _behind(review), look["words"], 42)
    page.sheet.print_area = f"A1:{LAST}{row}"


def _line(page: Page, row: int, text: str, style: NamedStyle, height: float) -> int:
    page.merged(f"A{row}:{LAST}{row}", text, style)
    page.height(row, height)
    return row + 1


def _settings(review: ReviewCopy) -> list[str]:
    counted = [f"{what}: {counted_by_how(counts)}" for what, counts in review.how_counts.items()]
    margin = f"{review.requirement_margin_pct:g} %" if review.requirement_margin_pct else "none"
    return [
        f"Book {review.book}, version {review.book_version}; made by {review.program}.",
        f"Certification: {review.certification}. Jurisdiction: {review.jurisdiction}. "
        f"Confidence: {review.confidence_pct:g} %. Margin on amino acid minima: {margin}.",
        f"Evidence: {_evidence(review)}",
        f"How many there are. {'. '.join(counted)}.",
    ]


def _evidence(review: ReviewCopy) -> str:
    """How sure the figures are, by what they weigh in these rations."""
    if not review.evidence:
        return "nothing of the library weighs in these rations."
    shares = sorted(review.evidence.items(), key=lambda pair: largest_first(pair[1]))
    told = ", ".join(f"{how_words(how)} {100 * share:.0f} %" for how, share in shares if share >= LEAST_TOLD)
    return f"of all that the library's figures weigh in these rations: {told}."


def _behind(review: ReviewCopy) -> str:
    """What the sheets behind hold, and what of them is printed."""
    nobody = len(review.from_memory) + len(review.assumed)
    return (
        "Behind the pages to sign stand the ten recalled figures that move each ration most, then mixes, requirements, "
        f"ratios, caps, prices of the rows, and every figure with its source, the heaviest first ({nobody} figures and "
        "bounds that nobody saw on a page). What weighs nothing in these rations is in the file and is not printed."
    )


def _overrides(review: ReviewCopy) -> list[tuple[str, ...]]:
    return [(each.what, each.where, each.says, each.why) for each in review.overrides]


def _weakest(rows: Iterable[Weak], review: ReviewCopy) -> Sequence[tuple[str, ...]]:
    """What of figures or bounds that nobody saw on a page would cost most."""
    money = units_in(review.units, review.currency).price_value
    return [
        (
            row.where,
            f"{money(row.weight):.2f}",
            row.value,
            f"{how_words(row.how)}: {told_source(row.source, review.sources_by_id) or row.note}",
        )
        for row in rows
        if money(row.weight) >= LEAST_MONEY
    ][:MOST_WEAK]


def _weak_heads(review: ReviewCopy) -> tuple[str, ...]:
    """The headings of the weakest figures and bounds."""
    return ("What", f"{units_in(review.units, review.currency).per_mass} for 10 %", "Says", "How obtained, source")


def _listed(page: Page, row: int, title: str, heads: Sequence[str], rows: Sequence[Sequence[str]], look: Looks) -> int:
    """A short table of four columns under its title; only a line where there is nothing."""
    row = _line(page, row + 1, title if rows else f"{title}: nothing.", look["bold"], 16)
    for cells, style in ((heads, "head"), *((cells, "cell") for cells in rows[:MOST_LISTED])) if rows else ():
        for (first, last), text in zip(SPANS, cells, strict=True):
            page.merged(f"{first}{row}:{last}{row}", text, look[style])
        wide = max(len(text) / room for text, room in zip(cells, SPAN_CHARACTERS, strict=True))
        page.height(row, 14 * (1 + int(wide)))
        row += 1
    if len(rows) > MOST_LISTED:
        row = _line(page, row, f"And {len(rows) - MOST_LISTED} more of the book.", look["words"], 14)
    return row


def _print_what_weighs(
    sheet: Worksheet, title: str, columns: Sequence[Heading], rows: Sequence[Sequence[object]]
) -> None:
    """Print of a long sheet that is sorted by weight only the rows that weigh something."""
    if title in BY_WEIGHT:
        place = next(i for i, column in enumerate(columns) if column.heading.endswith(BY_WEIGHT[title]))
        last = max((number for number, cells in enumerate(rows, 2) if cells[place]), default=1)
        sheet.print_area = f"A1:{get_column_letter(len(columns))}{last}"


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
        page.height(row, 14 * (1 + max(len(r.stage_label) // 30, len(r.verdict.headline) // 36)))
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
