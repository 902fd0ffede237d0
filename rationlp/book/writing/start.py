"""The first sheet of a new workbook: where to begin, in ten lines."""

from __future__ import annotations

from openpyxl.styles import Alignment, Font
from openpyxl.worksheet.hyperlink import Hyperlink
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

TITLE = "Where to begin"
LINES = (
    ("farm", "Choose the units (metric or us) and the currency; give the batch, the mixer and what your scales show."),
    ("bins", "One row a bin: its mass, or its measures and the test weight, and what the grain would bring if sold."),
    ("samples", "One row for each sample taken of a bin: the bin, the day, how many probes went into it."),
    ("sorted", "What you found when you sorted that sample by hand: one row for each crop, in grams."),
    ("assays", "What the laboratory found: value, unit, and whether it is as fed or on dry matter."),
    ("supplements", "Every offer you have for salt, limestone, premix, meals: the price, and the mass it is for."),
    ("groups", "Your animals: their stage and how many there are. The arrow in a cell opens a list."),
    ("", "Save, then type:  rationlp check FILE  - it says what is missing or looks wrong, each with its cell."),
    ("", "Then:  rationlp bin FILE   and   rationlp ration FILE.  A nutritionist should review what you feed."),
    ("", "Sheets with grey tabs are for later; leave them empty. The small grey lines under headings explain them."),
)
"""The sheet a line is about, and what to do there."""


def write_start(sheet: Worksheet) -> None:
    """Write the lines, those about a sheet with a link to it."""
    sheet["A1"] = TITLE
    sheet["A1"].font = Font(name="Calibri", size=14, bold=True)
    for number, (name, text) in enumerate(LINES, start=3):
        sheet.cell(number, 1, number - 2)
        sheet.cell(number, 2, name or None)
        sheet.cell(number, 3, text)
        if name:
            sheet.cell(number, 2).hyperlink = Hyperlink(ref=f"B{number}", location=f"{name}!A1")
            sheet.cell(number, 2).font = Font(name="Calibri", size=11, bold=True, underline="single")
        sheet.cell(number, 1).alignment = Alignment(horizontal="right")
    for letter, width in (("A", 4), ("B", 14), ("C", 108)):
        sheet.column_dimensions[letter].width = width
    sheet.sheet_view.showGridLines = False
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
