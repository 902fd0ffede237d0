"""Cells of a workbook: text that can never turn into a formula, formulas that bring their value along."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Mapping
from copy import copy
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from rationlp.files import FORMULA_STARTS, LONGEST_TITLE, clean

if TYPE_CHECKING:
    from openpyxl.cell import Cell, MergedCell
    from openpyxl.styles import NamedStyle
    from openpyxl.styles.cell_style import StyleArray
    from openpyxl.worksheet.worksheet import Worksheet

_NOT_IN_TITLE = re.compile(r"[\[\]:*?/\\]")
PIXELS_PER_POINT = 96 / 72
LONGEST_CONSTANT = 250  # spreadsheet programs take 255 characters


def number_words(value: float) -> str:
    """A number as a spreadsheet joins it to text: no more decimals than it has."""
    return f"{value:.6f}".rstrip("0").rstrip(".")


def day_form(date_format: str) -> str:
    """How a cell shows a day in a book of this `date_format` (`%d.%m.%Y`: `dd.mm.yyyy`)."""
    parts = {"%Y": "yyyy", "%y": "yy", "%m": "mm", "%d": "dd", "%B": "mmmm", "%b": "mmm"}
    found = re.findall(r"%.|[^%]", date_format)
    return "".join(parts.get(part, part if part in "- ." else f"\\{part}") for part in found)


def quoted(text: str) -> str:
    """Text as a constant inside a formula, in pieces that are not too long for one."""
    plain = clean(text)
    pieces = [plain[start : start + LONGEST_CONSTANT] for start in range(0, len(plain), LONGEST_CONSTANT)] or [""]
    return "&".join('"' + piece.replace('"', '""') + '"' for piece in pieces)


def title_of(name: str, taken: Iterable[str]) -> str:
    """A sheet's tab: allowed characters, at most 31 of them, unlike every tab in `taken`."""
    plain = _NOT_IN_TITLE.sub(" ", clean(name)).strip().strip("'") or "sheet"
    used = {title.casefold() for title in taken}
    title, number = plain[:LONGEST_TITLE].strip(), 2
    while title.casefold() in used or title.casefold() == "history":
        end = f" {number}"
        title, number = plain[: LONGEST_TITLE - len(end)].strip() + end, number + 1
    return title


def in_formula(title: str) -> str:
    """A tab's name as a formula refers to it."""
    return "'" + title.replace("'", "''") + "'!"


@dataclass(slots=True)
class Values:
    """What every formula of one workbook comes to, by tab and cell; and its looks, so that each is made up once."""

    found: dict[tuple[str, str], float | str] = field(default_factory=dict)
    looks: dict[tuple[str, str, bool], StyleArray] = field(default_factory=dict)

    def number(self, title: str, cell: str) -> float:
        """What a formula that is a number comes to."""
        value = self.found[title, cell]
        if isinstance(value, str):
            raise AssertionError(f"{title}!{cell} comes to words: {value!r}")
        return value


class Page:
    """One sheet being written. Every cell goes through `text`, `number` or `formula`."""

    def __init__(self, sheet: Worksheet, values: Values):
        self.sheet, self.values = sheet, values

    def cell(self, place: str) -> Cell:
        """The cell at a place (`B7`)."""
        found: Cell = self.sheet[place]
        return found

    def text(self, cell: str, text: object, style: NamedStyle | None = None) -> Cell:
        """Words, whatever they start with."""
        made = self.cell(cell)
        plain = clean(text)
        made.value = plain
        made.data_type = "s"
        self._styled(made, style, quote=plain.startswith(FORMULA_STARTS))
        return made

    def number(self, cell: str, value: float | date | None, style: NamedStyle | None = None, form: str = "") -> Cell:
        """A number, a date, or nothing."""
        made = self.cell(cell)
        made.value = value
        self._styled(made, style, form)
        return made

    def formula(
        self, cell: str, formula: str, value: float | str, style: NamedStyle | None = None, form: str = ""
    ) -> Cell:
        """A formula without its leading `=`, and what it comes to now."""
        made = self.cell(cell)
        made.value = f"={formula}"
        self.values.found[self.sheet.title, cell] = clean(value) if isinstance(value, str) else value
        self._styled(made, style, form)
        return made

    def blank(self, cell: str, style: NamedStyle) -> Cell:
        """An empty cell with a style."""
        made = self.cell(cell)
        self._styled(made, style)
        return made

    def merged(self, cells: str, text: object, style: NamedStyle | None = None) -> Cell:
        """Words across several cells."""
        first, last = cells.split(":")
        made = self.text(first, text, style)
        if first != last:
            self.merge(cells, style)
        return made

    def merge(self, cells: str, style: NamedStyle | None = None) -> None:
        """Make one cell of several, all with the style of the first, so that its frame goes around them."""
        self.sheet.merged_cells.add(cells)
        for cell in [cell for row in self.sheet[cells] for cell in row][1:]:
            self._styled(cell, style)

    def picture(self, cell: str, png: bytes, points: float) -> None:
        """A square picture over a cell, so many points high."""
        from openpyxl.drawing.image import Image

        made = Image(io.BytesIO(png))
        made.width = made.height = round(points * PIXELS_PER_POINT)
        self.sheet.add_image(made, cell)

    def height(self, row: int, points: float) -> None:
        """The height of a row."""
        self.sheet.row_dimensions[row].height = points

    def widths(self, widths: Mapping[str, float]) -> None:
        """Widths of columns in characters of the usual size."""
        for letter, width in widths.items():
            self.sheet.column_dimensions[letter].width = width

    def _styled(self, made: Cell | MergedCell, style: NamedStyle | None, form: str = "", quote: bool = False) -> None:
        """Give a cell its look; a look met before is copied, which is ten times quicker than making it up again."""
        key = (style.name if style else "", form, quote)
        if key in self.values.looks:
            made._style = copy(self.values.looks[key])  # type: ignore[union-attr]  # the stubs leave it out
            return
        if style is not None:
            made.style = style
        if form:
            made.number_format = form
        if quote:
            made.quotePrefix = True
        if style is not None:
            self.values.looks[key] = copy(made._style)  # type: ignore[union-attr]  # the stubs leave it out
