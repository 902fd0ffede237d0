"""How the pages look: large figures, black on white, so that they read the same from a cheap printer.

Meaning is never in colour alone: cells to fill in have a heavy frame, warnings are in words.
"""

from __future__ import annotations

from functools import cache
from math import ceil

from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Protection, Side
from openpyxl.workbook import Workbook
from openpyxl.worksheet.page import PageMargins
from openpyxl.worksheet.worksheet import Worksheet

FONT = "Arial"
INK, PALE, WARN = "FF000000", "FFEDEDED", "FF9C0006"
PAPER = {"kg": 9, "lb": 1}  # A4 for metric books, Letter for US ones; every page fits on both
MARGIN_IN = 0.4


def _style(
    name: str, size: float, *, bold: bool = False, italic: bool = False, side: str = "left", box: str = "",
    fill: str = "", colour: str = INK, open_: bool = False, wrap: bool = False, up: str = "center", form: str = "",
) -> NamedStyle:  # fmt: skip
    style = NamedStyle(name)
    style.font = Font(name=FONT, size=size, bold=bold, italic=italic, color=colour)
    style.alignment = Alignment(horizontal=side, vertical=up, wrap_text=wrap)
    if box:
        edge = Side(style=box, color=INK)
        style.border = Border(left=edge, right=edge, top=edge, bottom=edge)
    if fill:
        style.fill = PatternFill("solid", fgColor=fill)
    style.protection = Protection(locked=not open_)
    if form:
        style.number_format = form
    return style


@cache
def _wanted() -> dict[str, dict]:
    thin = {"box": "thin"}
    return {
        "title": {"size": 20, "bold": True},
        "title right": {"size": 20, "bold": True, "side": "right"},
        "words": {"size": 11},
        "words wrap": {"size": 11, "wrap": True, "up": "top"},
        "words right": {"size": 11, "side": "right"},
        "strong": {"size": 12, "bold": True, "wrap": True},
        "warn": {"size": 12, "bold": True, "colour": WARN, "wrap": True},
        "field": {"size": 13, "bold": True, "side": "right"},
        "input": {"size": 18, "bold": True, "side": "center", "box": "thick", "open_": True},
        "input small": {"size": 11, "side": "center", "box": "medium", "open_": True},
        "head": {"size": 11, "bold": True, "side": "center", "fill": PALE, "wrap": True, **thin},
        "head left": {"size": 11, "bold": True, "fill": PALE, "wrap": True, **thin},
        "section": {"size": 13, "bold": True, "fill": PALE, **thin},
        "note": {"size": 10, "wrap": True, "up": "top"},
        "count": {"size": 14, "bold": True, "side": "center", **thin},
        "name": {"size": 15, "bold": True, "wrap": True, **thin},
        "name small": {"size": 12, "wrap": True, **thin},
        "weight": {"size": 20, "bold": True, "side": "right", **thin},
        "weight small": {"size": 14, "bold": True, "side": "right", **thin},
        "reads": {"size": 18, "side": "right", **thin},
        "reads small": {"size": 12, "side": "right", **thin},
        "plain": {"size": 11, "side": "right", **thin},
        "how": {"size": 11, "wrap": True, **thin},
        "check": {"size": 11, "bold": True, "colour": WARN, "wrap": True, **thin},
        "box": {"size": 12, "side": "center", "box": "medium", "open_": True},
        "cell": {"size": 10, **thin},
        "cell wrap": {"size": 10, "wrap": True, **thin},
        "cell bold": {"size": 10, "bold": True, **thin},
        "cell right": {"size": 10, "side": "right", **thin},
        "cell warn": {"size": 10, "bold": True, "colour": WARN, "wrap": True, **thin},
        "fine": {"size": 8.5, "wrap": True, "up": "top"},
    }


class Styles:
    """The styles of one workbook, each made when it is first asked for."""

    def __init__(self, book: Workbook):
        self._book = book
        self._made: dict[str, NamedStyle] = {}

    def __getitem__(self, name: str) -> NamedStyle:
        if name not in self._made:
            self._made[name] = _style(f"mix {name}", **_wanted()[name])
            self._book.add_named_style(self._made[name])
        return self._made[name]


def set_up_page(sheet: Worksheet, unit: str, area: str, footer: str, landscape: bool = False) -> None:
    """One printed page, on A4 and on Letter; protected without a password."""
    sheet.page_setup.orientation = "landscape" if landscape else "portrait"
    sheet.page_setup.paperSize = PAPER[unit]
    sheet.page_setup.fitToWidth = sheet.page_setup.fitToHeight = 1
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.page_margins = PageMargins(MARGIN_IN, MARGIN_IN, MARGIN_IN, 0.6, 0.2, 0.25)
    sheet.print_options.horizontalCentered = True
    sheet.print_area = area
    sheet.oddFooter.left.text = footer.replace("&", "&&")
    sheet.oddFooter.right.text = "&A"
    sheet.oddFooter.left.size = sheet.oddFooter.right.size = 8
    sheet.sheet_view.showGridLines = False
    sheet.protection.sheet = True
    sheet.protection.formatColumns = sheet.protection.formatRows = False


def lines_needed(text: str, width: float, size: float) -> int:
    """Lines that `text` takes in a column of `width` characters of 11 points, with room for words that do not break."""
    per_line = max(width * 11 / size * 0.92, 1)
    return sum(max(1, ceil(len(part) / per_line)) for part in text.split("\n"))


def height_of(text: str, width: float, size: float) -> float:
    """The height in points of a row that holds `text`."""
    return lines_needed(text, width, size) * size * 1.32 + 3
