"""The calculated analysis of the rations as weighed, for the nutritionist: what each needs, and what it gives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, log10

from openpyxl.utils import get_column_letter

from rationlp.library.read import Library
from rationlp.pages.cells import Page
from rationlp.pages.style import Styles, height_of, set_up_page
from rationlp.rations.answer.model import Ration, RequirementLine
from rationlp.sheets.model import MixSheet, Pack
from rationlp.stages.model import ADDED, NeedKind

PER_PAGE = 3  # rations side by side; more would be too small to read
DIGITS = 4
PROXIMATES = ("dry_matter", "crude_protein", "ether_extract", "crude_fibre", "ash", "starch", "ndf")


def write_analysis(page: Page, sheets: Sequence[MixSheet], library: Library, pack: Pack, styles: Styles) -> None:
    """One page: up to three rations beside each other, least, gives and most of each nutrient, as fed."""
    last = get_column_letter(2 + 3 * len(sheets))
    page.widths({"A": 37, "B": 9} | {get_column_letter(3 + i): 10 for i in range(3 * len(sheets))})
    page.merged(f"A1:{last}1", "Calculated analysis of the rations as weighed, as fed", styles["title"])
    page.height(1, 28)
    page.merged(f"A2:{last}2", pack.review, styles["warn"])
    page.height(2, height_of(pack.review, 46 + 30 * len(sheets), 12))
    _heads(page, sheets, styles)
    row = 5
    for row, asked in enumerate(analysis_rows(sheets, library), 6):
        page.text(f"A{row}", asked.words, styles["cell"])
        page.text(f"B{row}", asked.unit, styles["cell"])
        for i, sheet in enumerate(sheets):
            _cells(page, row, 3 + 3 * i, asked, sheet.ration, styles)
    row += 1
    words = (
        "Minimum and maximum follow the energy of the mix where the table says so. * by the premix at its stated "
        "inclusion. SHORT: too little; OVER: too much."
    )
    page.merged(f"A{row}:{last}{row}", words, styles["note"])
    page.sheet.freeze_panes = "C6"
    set_up_page(page.sheet, pack.unit, f"A1:{last}{row}", f"book {pack.book_version}")


def _heads(page: Page, sheets: Sequence[MixSheet], styles: Styles) -> None:
    page.text("A5", "Nutrient", styles["head left"])
    page.text("B5", "Unit", styles["head"])
    for i, sheet in enumerate(sheets):
        letters = [get_column_letter(3 + 3 * i + k) for k in range(3)]
        page.merged(f"{letters[0]}3:{letters[2]}3", sheet.stage_label, styles["head"])
        page.merged(f"{letters[0]}4:{letters[2]}4", f"{sheet.name}\n{sheet.id}", styles["head"])
        for letter, head in zip(letters, ("least", "gives", "most"), strict=True):
            page.text(f"{letter}5", head, styles["head"])
    page.height(3, 46)
    page.height(4, 46)


def _cells(page: Page, row: int, column: int, asked: AnalysisRow, ration: Ration, styles: Styles) -> None:
    """Least, gives and most of one nutrient in one ration."""
    line = asked.requirement(ration)
    values = (line.minimum if line else None, asked.gives(ration), line.maximum if line else None)
    for k, value in enumerate(values):
        cell = f"{get_column_letter(column + k)}{row}"
        if k == 1 and value is None and line is not None:
            page.text(cell, "not known", styles["cell right"])
            continue
        made = page.number(cell, value, styles["cell bold" if k == 1 else "cell right"], number_form(value))
        if k == 1 and line is not None and value is not None:
            missed = " OVER" if line.maximum is not None and value > line.maximum else " SHORT"
            mark = missed if line.meets is False else "*" if line.met_by == "premix" else ""
            made.number_format += f'"{mark}"' if mark else ""


def number_form(value: float | None) -> str:
    """A format with four digits that count."""
    if not value:
        return "0"
    decimals = max(DIGITS - 1 - floor(log10(abs(value))), 0)
    return "#,##0" + ("." + "0" * decimals if decimals else "")


@dataclass(frozen=True, slots=True)
class AnalysisRow:
    """One row of the analysis: a nutrient, what is added of it, or what the trade uses of it at most (`usual`)."""

    nutrient: str
    label: str
    unit: str
    usual: bool = False
    is_added: bool = False

    @property
    def words(self) -> str:
        """The label as it stands on the page."""
        return f"{self.label} (usual in the trade)" if self.usual else self.label

    def gives(self, ration: Ration) -> float | None:
        """What the ration holds, as far as this row speaks of it."""
        line = self.requirement(ration)
        if line is not None:
            return line.gives
        return None if self.usual or self.is_added else ration.analysis.get(self.nutrient)

    def requirement(self, ration: Ration) -> RequirementLine | None:
        """The ration's line of this row."""
        of = (line for line in ration.requirements if line.nutrient == self.nutrient)
        return next((line for line in of if row_of(line) == self), None)


def row_of(line: RequirementLine) -> AnalysisRow:
    """The row that a requirement stands in."""
    return AnalysisRow(line.nutrient, line.label, line.unit, line.kind == NeedKind.USUAL, line.label.endswith(ADDED))


def analysis_rows(sheets: Sequence[MixSheet], library: Library) -> list[AnalysisRow]:
    """Every row: all requirements of these rations and the proximates, in library order."""
    found = dict.fromkeys(row_of(line) for sheet in sheets for line in sheet.ration.requirements)
    asked = {row.nutrient for row in found if not row.usual}
    for nutrient in PROXIMATES:
        held = any(nutrient in sheet.ration.analysis for sheet in sheets)
        if nutrient in library.nutrients and nutrient not in asked and held:
            row = library.nutrients[nutrient]
            found[AnalysisRow(nutrient, row.label, row.unit)] = None
    order = {nutrient: place for place, nutrient in enumerate(library.nutrients)}
    return sorted(found, key=lambda row: (order.get(row.nutrient, len(order)), row.usual, row.is_added))
