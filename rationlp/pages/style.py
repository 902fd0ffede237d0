"""How the pages look: large figures, black on white, so that they read the same from a cheap printer.

Meaning is never in colour alone: cells to fill in have a heavy frame, warnings are in words.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from math import ceil

from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Protection, Side
from openpyxl.workbook import Workbook
from openpyxl.worksheet.page import PageMargins
from openpyxl.worksheet.worksheet import Worksheet

from rationlp.sheets.scale import places

FONT = "Arial"
BIG, SMALL = 22, 16  # points of a weight for the mixer and for the bucket
INK, PALE, WARN = "FF000000", "FFEDEDED", "FF9C0006"
PAPER = {"kg": 9, "lb": 1}  # A4 for metric books, Letter for US ones; every page fits on both
MARGIN_IN = 0.4


def _style(
    name: str,
    size: float,
    *,
    bold: bool = False,
    italic: bool = False,
    side: str = "left",
    box: str = "",
    fill: str = "",
    colour: str = INK,
    open_: bool = False,
    wrap: bool = False,
    up: str = "center",
    indent: bool = False,
) -> NamedStyle:
    style = NamedStyle(name)
    style.font = Font(name=FONT, size=size, bold=bold, italic=italic, color=colour)
    style.alignment = Alignment(horizontal=side, vertical=up, wrap_text=wrap, indent=int(indent))
    if box:
        edge = Side(style=box, color=INK)
        style.border = Border(left=edge, right=edge, top=edge, bottom=edge)
    if fill:
        style.fill = PatternFill("solid", fgColor=fill)
    style.protection = Protection(locked=not open_)
    return style


@cache
def _wanted() -> dict[str, dict]:
    thin = {"box": "thin", "indent": True}
    right = {"side": "right", **thin}
    middle = {"side": "center", "box": "thin"}
    return {
        "title": {"size": 20, "bold": True, "wrap": True},
        "title right": {"size": 20, "bold": True, "side": "right"},
        "words": {"size": 11, "wrap": True},
        "words wrap": {"size": 11, "wrap": True, "up": "top"},
        "words right": {"size": 11, "side": "right"},
        "words in": {"size": 11, "indent": True},
        "strong": {"size": 12, "bold": True, "wrap": True},
        "warn": {"size": 12, "bold": True, "colour": WARN, "wrap": True},
        "field": {"size": 13, "bold": True, "side": "right", "indent": True},
        "input": {"size": 20, "bold": True, "side": "center", "box": "thick", "open_": True},
        "input small": {"size": 12, "side": "center", "box": "medium", "open_": True},
        "head": {"size": 11, "bold": True, "fill": PALE, "wrap": True, **middle},
        "head left": {"size": 11, "bold": True, "fill": PALE, "wrap": True, **thin},
        "section": {"size": 13, "bold": True, "fill": PALE, **thin},
        "section plain": {"size": 11, "fill": PALE, **thin},
        "note": {"size": 10, "wrap": True, "up": "top"},
        "count": {"size": 14, "bold": True, **middle},
        "name": {"size": 15, "bold": True, "wrap": True, **thin},
        "name small": {"size": 13, "wrap": True, **thin},
        "weight": {"size": BIG, "bold": True, **right},
        "weight small": {"size": SMALL, "bold": True, **right},
        "reads": {"size": BIG - 3, **right},
        "reads small": {"size": SMALL - 2, **right},
        "plain": {"size": 11, **right},
        "how": {"size": 12, "wrap": True, **thin},
        "check": {"size": 10, "bold": True, "colour": WARN, "wrap": True, **thin},
        "box": {"size": 12, "open_": True, **middle},
        "cell": {"size": 11, "wrap": True, **thin},
        "cell bold": {"size": 11, "bold": True, **right},
        "cell right": {"size": 11, **right},
        "cell warn": {"size": 11, "bold": True, "colour": WARN, "wrap": True, **thin},
        "fine": {"size": 8.5, "wrap": True, "up": "top"},
    }


class Styles:
    """The styles of one workbook, each made when it is first asked for."""

    def __init__(self, book: Workbook):
        """Also makes FONT the font that column widths are counted in."""
        self._book = book
        book._named_styles["Normal"].font = Font(name=FONT, size=11)
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
    per_line = max(width * 11 / size * 1.08, 1)
    return sum(max(1, ceil(len(part) / per_line)) for part in text.split("\n"))


def height_of(text: str, width: float, size: float) -> float:
    """The height in points of a row that holds `text`."""
    return lines_needed(text, width, size) * size * 1.32 + 3


def mass_form(step: Fraction) -> str:
    """A number format that shows every step of a scale."""
    decimals = places(step)
    return "#,##0" + ("." + "0" * decimals if decimals else "")
