"""How the pages look: large figures, black on white, so that they read the same from a cheap printer.

Meaning is never in colour alone: cells to fill in have a heavy frame, warnings are in words.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache, partial
from math import ceil
from typing import Literal

from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Protection, Side
from openpyxl.workbook import Workbook
from openpyxl.worksheet.page import PageMargins
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from rationlp.errors import given
from rationlp.sheets.weights.scale import places

FONT = "Arial"
BIG, SMALL = 22, 16  # points of a weight for the mixer and for the bucket
INK, PALE, WARN = "FF000000", "FFEDEDED", "FF9C0006"
PAPER = {"kg": 9, "lb": 1}  # A4 for metric books, Letter for US ones; every page fits on both
MARGIN_IN = 0.4
Frame = Literal["thin", "medium", "thick"]


@dataclass(frozen=True, slots=True)
class Look:
    """What a style looks like; `open` cells can be written in on a protected sheet."""

    size: float
    bold: bool = False
    side: str = "left"
    box: Frame | None = None
    fill: str = ""
    colour: str = INK
    open: bool = False
    wrap: bool = False
    up: str = "center"
    indent: bool = False

    def named(self, name: str) -> NamedStyle:
        """The style of that name."""
        style = NamedStyle(name)
        style.font = Font(name=FONT, size=self.size, bold=self.bold, color=self.colour)
        style.alignment = Alignment(
            horizontal=self.side, vertical=self.up, wrap_text=self.wrap, indent=int(self.indent)
        )
        if self.box:
            edge = Side(style=self.box, color=INK)
            style.border = Border(left=edge, right=edge, top=edge, bottom=edge)
        if self.fill:
            style.fill = PatternFill("solid", fgColor=self.fill)
        style.protection = Protection(locked=not self.open)
        return style


@cache
def _wanted() -> dict[str, Look]:
    thin = partial(Look, box="thin", indent=True)
    right = partial(thin, side="right")
    middle = partial(Look, side="center", box="thin")
    return {
        "title": Look(size=20, bold=True, wrap=True),
        "title right": Look(size=20, bold=True, side="right"),
        "words": Look(size=11, wrap=True),
        "words wrap": Look(size=11, wrap=True, up="top"),
        "words right": Look(size=11, side="right"),
        "words in": Look(size=11, indent=True),
        "strong": Look(size=12, bold=True, wrap=True),
        "warn": Look(size=12, bold=True, colour=WARN, wrap=True),
        "field": Look(size=13, bold=True, side="right", indent=True),
        "input": Look(size=20, bold=True, side="center", box="thick", open=True),
        "input small": Look(size=12, side="center", box="medium", open=True),
        "head": middle(size=11, bold=True, fill=PALE, wrap=True),
        "head left": thin(size=11, bold=True, fill=PALE, wrap=True),
        "section": thin(size=13, bold=True, fill=PALE),
        "section plain": thin(size=11, fill=PALE),
        "note": Look(size=10, wrap=True, up="top"),
        "count": middle(size=14, bold=True),
        "name": thin(size=15, bold=True, wrap=True),
        "name small": thin(size=13, wrap=True),
        "weight": right(size=BIG, bold=True),
        "weight small": right(size=SMALL, bold=True),
        "reads": right(size=BIG - 3),
        "reads small": right(size=SMALL - 2),
        "plain": right(size=11),
        "how": thin(size=12, wrap=True),
        "check": thin(size=10, bold=True, colour=WARN, wrap=True),
        "box": Look(size=14, side="center", box="medium", open=True),
        "cell": thin(size=11, wrap=True),
        "cell bold": right(size=11, bold=True),
        "cell right": right(size=11),
        "cell warn": thin(size=11, bold=True, colour=WARN, wrap=True),
        "fine": Look(size=14, wrap=True, up="top"),
        "only for": Look(size=26, bold=True, side="center", box="thick", wrap=True),
        "lot": middle(size=11, open=True),
    }


class Styles:
    """The styles of one workbook, each made when it is first asked for."""

    def __init__(self, book: Workbook):
        """Also makes FONT the font that column widths are counted in."""
        self._book = book
        normal: NamedStyle = book._named_styles["Normal"]  # type: ignore[attr-defined]  # the stubs leave it out
        normal.font = Font(name=FONT, size=11)
        self._made: dict[str, NamedStyle] = {}

    def __getitem__(self, name: str) -> NamedStyle:
        if name not in self._made:
            self._made[name] = _wanted()[name].named(f"mix {name}")
            self._book.add_named_style(self._made[name])
        return self._made[name]


def set_up_page(sheet: Worksheet, unit: str, area: str, footer: str, landscape: bool = False) -> None:
    """One printed page, on A4 and on Letter; protected without a password."""
    sheet.page_setup.orientation = "landscape" if landscape else "portrait"
    sheet.page_setup.paperSize = PAPER[unit]
    sheet.page_setup.fitToWidth = sheet.page_setup.fitToHeight = 1
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_margins = PageMargins(MARGIN_IN, MARGIN_IN, MARGIN_IN, 0.6, 0.2, 0.25)
    sheet.print_options.horizontalCentered = True
    sheet.print_area = area
    write_footer(sheet, footer.replace("&", "&&"), "&A")
    sheet.sheet_view.showGridLines = False
    sheet.protection.sheet = True
    sheet.protection.formatColumns = sheet.protection.formatRows = False


def write_footer(sheet: Worksheet, left: str, right: str) -> None:
    """Small words at the foot of every printed page."""
    footer = given(sheet.oddFooter, "the footer of a sheet")
    footer.left.text, footer.right.text = left, right
    footer.left.size = footer.right.size = 8


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
