"""What people do on paper between two commands: the crew fills in a mix sheet, the nutritionist signs a review copy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

from openpyxl import load_workbook
from openpyxl.utils import column_index_from_string

from rationlp.actual.printed import filled_sheets, printed_sheets
from rationlp.ledger.signatures import APPROVED, DAY, LICENCE, NAME, SIGN_SHEET


def fill_in(
    path: Path,
    days: Sequence[date],
    off: Mapping[str, float] | None = None,
    lots: Mapping[str, str] | None = None,
    stage: str = "",
) -> None:
    """Write a batch into the first boxes of a sheet, one for each of `days`: each weight as asked for.

    The first sheet, or that of `stage`. `off` is how much more of an offer went in, in the unit of the sheet;
    `lots` the lot by offer.
    """
    workbook = load_workbook(path)
    sheets, _ = printed_sheets(filled_sheets(path))
    sheet = next(each for each in sheets if stage in ("", each.stage))
    tab, last = workbook[sheet.tab], max(line.row for line in sheet.rows)
    day_row = next(row for row in range(last, last + 9) if str(tab.cell(row, 1).value).startswith("Date and time"))
    first_box = column_index_from_string(sheet.first_box)
    largest = {line.offer: line for line in sorted(sheet.rows, key=lambda line: line.mass)}
    for box, day in enumerate(days, first_box):
        tab.cell(day_row, box, day)
        for line in sheet.rows:
            more = (off or {}).get(line.offer, 0.0) if line is largest[line.offer] else 0.0
            tab.cell(line.row, box, line.mass + more)
    for line in sheet.rows:
        if line.offer in (lots or {}):
            tab[f"{sheet.lot_column}{line.row}"] = (lots or {})[line.offer]
    workbook.save(path)


def sign(path: Path, name: str = "R. Halvorsen (invented)", day: date = date(2025, 11, 17)) -> None:
    """Sign the first ration of a review copy."""
    workbook = load_workbook(path)
    page = next(sheet for sheet in workbook if sheet.title.startswith(f"{SIGN_SHEET} "))
    boxes = {NAME: name, LICENCE: "PN-0417 (invented)", DAY: day, APPROVED: "yes"}
    for label, value in page.iter_rows(max_col=2):
        if label.value in boxes:
            value.value = boxes[label.value]
    workbook.save(path)
