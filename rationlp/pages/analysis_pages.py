"""The calculated analysis of the rations as weighed, for the nutritionist: what each needs, and what it gives."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import floor, log10

from openpyxl.utils import get_column_letter

from rationlp.library.read import Library
from rationlp.pages.cells import Page
from rationlp.pages.style import Styles, height_of, set_up_page
from rationlp.rations.answer.model import Ration, RequirementLine
from rationlp.sheets.model import MixSheet, Pack

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
    for row, (nutrient, label, unit) in enumerate(analysis_rows(sheets, library), 6):
        page.text(f"A{row}", label, styles["cell"])
        page.text(f"B{row}", unit, styles["cell"])
        for i, sheet in enumerate(sheets):
            _cells(page, row, 3 + 3 * i, nutrient, sheet.ration, styles)
    row += 1
    words = (
        "Least and most follow the energy of the mix where the table says so. * by the premix at its stated inclusion. "
        "SHORT: too little; OVER: too much."
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


def _cells(page: Page, row: int, column: int, nutrient: str, ration: Ration, styles: Styles) -> None:
    """Least, gives and most of one nutrient in one ration."""
    line = requirement_of(nutrient, ration)
    gives = line.gives if line else ration.analysis.get(nutrient)
    values = (line.minimum if line else None, gives, line.maximum if line else None)
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


def analysis_rows(sheets: Sequence[MixSheet], library: Library) -> list[tuple[str, str, str]]:
    """Nutrient, label and unit of every row: all requirements of these rations and the proximates, in library order."""
    known = {line.nutrient: (line.label, line.unit) for sheet in sheets for line in sheet.ration.requirements}
    for nutrient in PROXIMATES:
        if nutrient in library.nutrients and any(nutrient in sheet.ration.analysis for sheet in sheets):
            row = library.nutrients[nutrient]
            known.setdefault(nutrient, (row.label, row.unit))
    order = [nutrient for nutrient in library.nutrients if nutrient in known]
    order += [nutrient for nutrient in known if nutrient not in library.nutrients]
    return [(nutrient, *known[nutrient]) for nutrient in order]


def requirement_of(nutrient: str, ration: Ration) -> RequirementLine | None:
    """The ration's line for a nutrient."""
    lines: Mapping[str, RequirementLine] = {line.nutrient: line for line in ration.requirements}
    return lines.get(nutrient)
