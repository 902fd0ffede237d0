"""The workbook a person fills in: header rows with notes, drop-down lists, formats and widths."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from rationlp.book.column import Column, Sheet
from rationlp.book.columns import FOREIGN_MATTER, SHEETS
from rationlp.book.settings import SETTING_BY_NAME
from rationlp.book.words import LISTS_SHEET, START_SHEET
from rationlp.book.writing.start import write_start
from rationlp.book.writing.tables import FILLED_FIRST, Tables, column_note, explanation
from rationlp.errors import column_letter, given
from rationlp.files import saved
from rationlp.units import COMPOSITION_UNITS, DAILY_UNITS

if TYPE_CHECKING:
    from rationlp.library.read import Library

LAST_ROW = 1000
"""Drop-down lists and formats reach down to this row."""
WIDTH = {
    "date": 12,
    "mass": 13,
    "length": 13,
    "density": 13,
    "percent": 12,
    "number": 11,
    "money": 11,
    "integer": 9,
    "yes_no": 13,
    "choice": 14,
    "id": 16,
    "text": 22,
}
"""Least width of a column by kind, in characters."""
WIDEST = 62
WIDEST_NOTE = 110
"""Of what is said of a setting, which stands in one line."""
PAGE_WIDTH = 150
"""Characters on a printed page across, small but to be read; wider sheets take several pages."""
NUMBER_KINDS = ("mass", "length", "density", "percent", "number", "money", "integer")
FORMATS = {"date": "yyyy-mm-dd", "money": "#,##0.00"}

EXPLAINED_FONT = Font(name="Calibri", size=9, italic=True, color="595959")
EXPLAINED_WIDTH = 18
"""Least width of a column with an explanation, in characters."""
SELDOM = "BFBFBF"
"""Tab colour of the sheets that only some farms need."""
HEADER_FONT = Font(name="Calibri", size=11, bold=True)
REQUIRED = PatternFill("solid", fgColor="D9D2BF")
OPTIONAL = PatternFill("solid", fgColor="EFECE4")
RIGHT = Alignment(horizontal="right", vertical="top")
LEFT = Alignment(horizontal="left", vertical="top", indent=1, wrap_text=True)


def write_workbook(path: Path, tables: Tables, library: Library, explained: bool = False) -> None:
    """Write the tables, all text, as a workbook whose drop-down lists offer the ids of `library`.

    With `explained` a first sheet says where to begin, and a row under each heading what belongs there.
    """
    book = Workbook()
    del book[book.sheetnames[0]]
    book.properties.creator = "rationlp"
    lists = _Lists(library)
    if explained:
        write_start(book.create_sheet(START_SHEET))
    for name, rows in tables.items():
        sheet = book.create_sheet(name)
        has_row = explained and name != "farm"
        _write_rows(sheet, SHEETS[name], rows, 3 if has_row else 2)
        if has_row:
            _explain(sheet, [SHEETS[name].column(column) for column in rows[0]])
        _format(sheet, rows, 2 if has_row else 1)
        if explained and name not in FILLED_FIRST:
            sheet.sheet_properties.tabColor = SELDOM
        if name == "farm":
            _settings(sheet, rows)
        else:
            for index, column_name in enumerate(rows[0]):
                _drop_down(sheet, column_letter(index), SHEETS[name].column(column_name), lists, 3 if has_row else 2)
    lists.write(book.create_sheet(LISTS_SHEET))
    path.write_bytes(saved(book.save))


def _write_rows(sheet: Worksheet, kind: Sheet, rows: list[list[str]], first: int) -> None:
    columns = [kind.column(name) for name in rows[0]]
    for index, column in enumerate(columns, start=1):
        cell = sheet.cell(1, index, column.name)
        cell.font, cell.fill = HEADER_FONT, REQUIRED if column.required else OPTIONAL
        cell.comment, cell.alignment = _note(column), _alignment(column)
        width = max([WIDTH[column.kind], len(column.name) + 4, *(len(row[index - 1]) + 4 for row in rows[1:])])
        dimension = sheet.column_dimensions[column_letter(index - 1)]
        dimension.width = min(width, WIDEST_NOTE if kind.name == "farm" and column.name == "note" else WIDEST)
        dimension.number_format = FORMATS.get(column.kind, "General")
    for number, row in enumerate(rows[1:], start=first):
        for index, (column, text) in enumerate(zip(columns, row, strict=True), start=1):
            setting = SETTING_BY_NAME.get(row[0]) if kind.name == "farm" and column.name == "value" else None
            value = typed(text, (setting or column).kind)
            if value is not None:
                cell = sheet.cell(number, index, value)
                cell.number_format = FORMATS.get((setting or column).kind, "General")
                cell.alignment = _alignment(column)


def _alignment(column: Column) -> Alignment:
    """Numbers, dates and masses, `42 t` among them, stand at the right; words at the left."""
    return RIGHT if column.kind in (*NUMBER_KINDS, "date") else LEFT


def typed(text: str, kind: str) -> date | float | str | None:
    """The text of a CSV cell as the workbook holds it: a number, a date, or text such as `42 t`."""
    if not text:
        return None
    if kind == "date":
        return date.fromisoformat(text)
    if kind in NUMBER_KINDS:
        try:
            return float(text) if "." in text else int(text)
        except ValueError:
            return text  # a mass with its own unit
    return text


def _note(column: Column) -> Comment:
    text = column_note(column) + ("\nMust be filled in." if column.required else "")
    lines = 1 + sum(1 + len(line) // 38 for line in text.splitlines())
    return Comment(text, "rationlp", width=280, height=18 * lines)


def _explain(sheet: Worksheet, columns: Sequence[Column]) -> None:
    """The row under the headings that says what belongs there."""
    tallest = 1
    for index, column in enumerate(columns, start=1):
        cell = sheet.cell(2, index, explanation(column))
        cell.font, cell.alignment = EXPLAINED_FONT, Alignment(vertical="top", wrap_text=True)
        dimension = sheet.column_dimensions[column_letter(index - 1)]
        dimension.width = max(dimension.width, EXPLAINED_WIDTH)
        tallest = max(tallest, -(-len(str(cell.value)) * 11 // int(dimension.width * 10)) + 1)
    sheet.row_dimensions[2].height = 12 * tallest


def _format(sheet: Worksheet, rows: list[list[str]], heading_rows: int) -> None:
    sheet.freeze_panes = f"{'B' if len(rows[0]) > 4 else 'A'}{heading_rows + 1}"
    sheet.page_setup.orientation = "landscape"
    across = sum(sheet.column_dimensions[column_letter(index)].width for index in range(len(rows[0])))
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = max(1, round(across / PAGE_WIDTH)), 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.print_title_rows = f"1:{heading_rows}"
    given(sheet.oddFooter, "the footer of a sheet").center.text = "&A, page &P of &N"


def _settings(sheet: Worksheet, rows: list[list[str]]) -> None:
    """Notes and drop-down lists of the settings."""
    for number, row in enumerate(rows[1:], start=2):
        setting = SETTING_BY_NAME[row[0]]
        sheet.cell(number, 1).comment = _note(setting)
        if setting.choices:
            _validate(sheet, f"B{number}", f'"{",".join(setting.choices)}"', strict=True)


# Drop-down lists ------------------------------------------------------------------------------------------------


def _drop_down(sheet: Worksheet, letter: str, column: Column, lists: _Lists, first: int) -> None:
    cells = f"{letter}{first}:{letter}{LAST_ROW}"
    if column.choices:
        _validate(sheet, cells, f'"{",".join(column.choices)}"', strict=True)
    elif column.refers_to in ("bins", "samples", "supplements", "lots"):
        _validate(sheet, cells, f"{column.refers_to}!$A${first}:$A${LAST_ROW}", strict=True)
    elif key := _list_of(sheet.title, column):
        _validate(sheet, cells, lists.range_of(key), strict=False)


def _list_of(sheet: str, column: Column) -> str:
    """The list of `_Lists` that a column offers, or empty."""
    if column.name == "unit":
        return "unit_or_daily" if sheet == "own_stages" else "unit"
    if column.refers_to == "stage" and sheet == "own_limits":
        return "limit_stage"
    return "" if column.refers_to == "weighed" else column.refers_to


def _validate(sheet: Worksheet, cells: str, formula: str, strict: bool) -> None:
    """Offer a list; `strict` refuses anything else, otherwise a name of one's own may be typed."""
    rule = DataValidation(type="list", formula1=formula, allow_blank=True, showErrorMessage=strict)
    rule.error, rule.errorTitle = "Choose one of the list.", "Not in the list"
    rule.add(cells)
    sheet.add_data_validation(rule)


class _Lists:
    """What the drop-down lists offer, one column each of a hidden sheet."""

    def __init__(self, library: Library):
        crops = [row.feed for row in library.feeds.values() if row.origin == "crop"]
        stages = list(library.stages)
        self.columns: dict[str, Sequence[str]] = {
            "feed": [*crops, *(feed for feed in library.feeds if feed not in crops)],
            "crop": [FOREIGN_MATTER, *crops],
            "stage": stages,
            "limit_stage": ["all", *stages],
            "nutrient": list(library.nutrients),
            "unit": list(COMPOSITION_UNITS),
            "unit_or_daily": [*COMPOSITION_UNITS, *DAILY_UNITS],
        }

    def range_of(self, key: str) -> str:
        letter = column_letter(list(self.columns).index(key))
        return f"{LISTS_SHEET}!${letter}$2:${letter}${len(self.columns[key]) + 1}"

    def write(self, sheet: Worksheet) -> None:
        for index, (key, ids) in enumerate(self.columns.items(), start=1):
            for number, text in enumerate((key, *ids), start=1):
                sheet.cell(number, index, text)
        sheet.sheet_state = "hidden"
