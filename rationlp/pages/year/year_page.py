"""The feed year as a workbook: first page, mixes, use, purchases and cash, stocks with plots, animals."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING

from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.cautions import REVIEW
from rationlp.files import write_whole
from rationlp.numbers import largest_first
from rationlp.pages.cells import Page, Values, day_form
from rationlp.show.data.year import animal_rows
from rationlp.show.text.verdict import MARKS
from rationlp.show.year.decisions import decisions
from rationlp.show.year.lines import few_lines, left_over_lines, money_line, on_farm_lines, unfed_lines, way_lines
from rationlp.units import KG_PER_TONNE
from rationlp.year.model import Year

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook

LINE = 88
"""So many letters of the first page stand in a line."""
MASS, WEIGHT, MONEY, PERCENT = "#,##0.000", "#,##0.0", "#,##0.00", "0.00"
Cells = Sequence[object]


def write_year(year: Year, book: Book, path: Path) -> None:
    """Write the workbook, whole or not at all. Raises InputError."""
    from openpyxl import Workbook

    made = Workbook()
    del made[made.sheetnames[0]]
    made.properties.creator = "rationlp"
    values, units = Values(), units_of(book.farm)
    _first_page(_page(made, "Year", values), year, book, units)
    _table(_page(made, "Mixes", values), *_mixes(year, units, day_form(book.farm.date_format)))
    _table(_page(made, "Use", values), *_uses(year, units))
    _table(_page(made, "Purchases", values), *_purchases(year, units, day_form(book.farm.date_format)))
    _stocks(_page(made, "Stocks", values), year, units)
    _cash(_page(made, "Cash", values), year, units)
    _feed(_page(made, "Animals", values), year, units)
    write_whole(path, made.save)


def _page(made: Workbook, title: str, values: Values) -> Page:
    from openpyxl.worksheet.properties import PageSetupProperties

    sheet = made.create_sheet(title)
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    return Page(sheet, values)


def _first_page(page: Page, year: Year, book: Book, units: BookUnits) -> None:
    from openpyxl.styles import Alignment, Font

    lines: list[tuple[str, bool]] = [
        (book.farm.name or "The feed year", True),
        (f"{year.season.first:{book.farm.date_format}} to {year.season.last:{book.farm.date_format}}", False),
        (year.verdict.headline, True),
        (money_line(year, units), False),
        *((f"{place}. {text}", True) for place, text in enumerate(decisions(year, book), start=1)),
        *((text, False) for text in few_lines(year, units)),
        *((note, False) for note in year.notes),
        *((line, True) for line in unfed_lines(year, book)),
        *((f"- {line}", False) for line in way_lines(year, units)),
        *((line, False) for line in (*on_farm_lines(year, units), *left_over_lines(year, units))),
        (REVIEW, True),
        *((f"{MARKS[reason.severity]} {reason.text}", False) for reason in year.verdict.reasons),
    ]
    page.widths({"A": 100})
    for row, (text, strong) in enumerate(lines, start=1):
        cell = page.text(f"A{row}", text)
        page.height(row, (22 if row == 1 else 15) * ceil(len(text) / LINE))
        cell.font, cell.alignment = Font(bold=strong, size=16 if row == 1 else 11), Alignment(wrap_text=True)


def _table(page: Page, heads: Sequence[str], rows: Iterable[Cells], forms: Sequence[str]) -> int:
    """A heading row and the rows under it; the number of the last row."""
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    letters = [get_column_letter(place) for place in range(1, len(heads) + 1)]
    for letter, head in zip(letters, heads, strict=True):
        page.text(f"{letter}1", head).font = Font(bold=True)
        page.widths({letter: max(len(head) + 3, 12)})
    last = 1
    for last, cells in enumerate(rows, start=2):
        for letter, value, form in zip(letters, cells, forms, strict=True):
            if isinstance(value, (int, float, date)):
                page.number(f"{letter}{last}", value, form=form)
            else:
                page.text(f"{letter}{last}", "" if value is None else value)
                width = page.sheet.column_dimensions[letter].width
                page.widths({letter: min(max(width, len(str(value or "")) + 2), 60)})
    page.sheet.freeze_panes = "A2"
    page.sheet.print_title_rows = "1:1"
    return last


def _bulk(tonnes: float, units: BookUnits) -> float:
    return tonnes * KG_PER_TONNE / units.price_kg


def _mixes(year: Year, units: BookUnits, day: str) -> tuple[Sequence[str], list[Cells], Sequence[str]]:
    heads = (
        "Mix",
        "For",
        "From",
        "Verdict",
        units.short,
        units.per_mass,
        "Part",
        "% of the mix",
        f"{units.short} of it",
    )
    rows: list[Cells] = [
        (
            mix.mix,
            ", ".join(mix.groups),
            mix.first_fed,
            mix.verdict.severity.value,
            _bulk(mix.tonnes, units),
            units.price_value(mix.cost_per_tonne),
            name,
            100 * share,
            _bulk(share * mix.tonnes, units),
        )
        for mix in year.mixes
        for name, share in sorted(mix.found.shares, key=lambda part: largest_first(part[1]))
    ]
    return heads, rows, ("", "", day, "", MASS, MONEY, "", PERCENT, MASS)


def _uses(year: Year, units: BookUnits) -> tuple[Sequence[str], list[Cells], Sequence[str]]:
    heads = ("Month", "Bin", "Group", "Mix", f"Grain, {units.short}", f"Mix, {units.short}")
    rows: list[Cells] = [
        (u.month, u.bin or "", u.group, u.mix, _bulk(u.tonnes, units), _bulk(u.mix_tonnes, units)) for u in year.uses
    ]
    return heads, rows, ("", "", "", "", MASS, MASS)


def _purchases(year: Year, units: BookUnits, day: str) -> tuple[Sequence[str], list[Cells], Sequence[str]]:
    paid = f"Paid, {units.currency}"
    heads = (
        "Month",
        "Offer",
        "Feed",
        "Order by",
        units.short,
        units.mass,
        "Packages",
        f"Eaten, {units.currency}",
        paid,
    )
    rows: list[Cells] = [
        (
            p.month,
            p.offer,
            p.label,
            p.order_by,
            _bulk(p.tonnes, units),
            p.tonnes * KG_PER_TONNE / units.mass_kg,
            p.packages or None,
            p.cost,
            p.paid,
        )
        for p in sorted(year.purchases, key=lambda p: (p.month, -p.cost))
    ]
    return heads, rows, ("", "", "", day, MASS, WEIGHT, "0", MONEY, MONEY)


def _stocks(page: Page, year: Year, units: BookUnits) -> None:
    from openpyxl.chart import LineChart, Reference

    bins = [row.bin for row in year.runs_out]
    held = {(row.month, row.bin): row.tonnes for row in year.stocks}
    rows = [(month.label, *(_bulk(held[month.label, name], units) for name in bins)) for month in year.season.months]
    last = _table(page, ("End of", *bins), rows, ("", *[MASS] * len(bins)))
    if bins:
        chart = LineChart()
        chart.title, chart.y_axis.title = "Grain in the bins", units.short
        chart.add_data(
            Reference(page.sheet, min_col=2, max_col=len(bins) + 1, min_row=1, max_row=last), titles_from_data=True
        )
        chart.set_categories(Reference(page.sheet, min_col=1, min_row=2, max_row=last))
        _place(page, chart, len(bins) + 3)


def _cash(page: Page, year: Year, units: BookUnits) -> None:
    from openpyxl.chart import BarChart, Reference

    months = [month.label for month in year.season.months]
    bought = {label: [row for row in year.purchases if row.month == label] for label in months}
    rows = [(label, sum(p.paid for p in held), sum(p.cost for p in held)) for label, held in bought.items()]
    heads = ("Month", f"Paid for feed, {units.currency}", f"Of that eaten, {units.currency}")
    last = _table(page, heads, rows, ("", MONEY, MONEY))
    chart = BarChart()
    chart.title, chart.y_axis.title = "Money for bought feed", units.currency
    chart.add_data(Reference(page.sheet, min_col=2, min_row=1, max_row=last), titles_from_data=True)
    chart.set_categories(Reference(page.sheet, min_col=1, min_row=2, max_row=last))
    _place(page, chart, 5)


def _feed(page: Page, year: Year, units: BookUnits) -> None:
    """Head and feed of every group by month, and a picture of the feed."""
    from openpyxl.chart import BarChart, Reference

    _table(page, *_animals(year, units))
    groups = [fed.group for fed in year.animals]
    eaten = {(row["month"], row["group"]): row["tonnes"] for row in animal_rows(year)}
    first = 8
    page.text(page.sheet.cell(1, first).coordinate, f"Feed, {units.short}")
    for column, group in enumerate(groups, start=first + 1):
        page.text(page.sheet.cell(1, column).coordinate, group)
    last = 1
    for last, month in enumerate(year.season.months, start=2):
        page.text(page.sheet.cell(last, first).coordinate, month.label)
        for column, group in enumerate(groups, start=first + 1):
            tonnes = _bulk(eaten.get((month.label, group), 0.0), units)
            page.number(page.sheet.cell(last, column).coordinate, tonnes, form=MASS)
    chart = BarChart()
    chart.type, chart.grouping, chart.overlap = "col", "stacked", 100
    chart.title, chart.y_axis.title = "Feed of the animals by month", units.short
    end = first + len(groups)
    data = Reference(page.sheet, min_col=first + 1, max_col=end, min_row=1, max_row=last)
    chart.add_data(data, titles_from_data=True)
    chart.set_categories(Reference(page.sheet, min_col=first, min_row=2, max_row=last))
    _place(page, chart, first, last + 2)


def _place(page: Page, chart: object, column: int, row: int = 2) -> None:
    """Put a chart beside the table, its axes drawn."""
    from openpyxl.utils import get_column_letter

    chart.x_axis.delete = chart.y_axis.delete = False  # type: ignore[attr-defined]  # the kinds of chart have no common name
    chart.width, chart.height = 24, 11  # type: ignore[attr-defined]
    page.sheet.add_chart(chart, f"{get_column_letter(column)}{row}")  # type: ignore[arg-type]


def _animals(year: Year, units: BookUnits) -> tuple[Sequence[str], list[Cells], Sequence[str]]:
    heads = ("Month", "Group", "Stage", "Head on average", f"Feed, {units.short}")
    rows: list[Cells] = [
        (row["month"], row["group"], row["stage"], row["head"], _bulk(row["tonnes"], units))
        for row in animal_rows(year)
    ]
    return heads, rows, ("", "", "", "0.0", MASS)
