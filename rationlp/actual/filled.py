"""Whether a workbook holds what people wrote by hand, which no command writes over."""

from __future__ import annotations

from pathlib import Path

from openpyxl.utils import column_index_from_string

from rationlp.actual.printed import NOT_A_WORKBOOK, Printed, Sheets, filled_sheets, printed_sheets

BOOK_SHEETS = frozenset({"supplements", "samples"})
"""A workbook with one of these is a farm book."""


def work_in(path: Path) -> str:
    """What the workbook at `path` holds that a person wrote: weights, or a farm book; empty where it is neither."""
    if path.suffix.casefold() not in (".xlsx", ".xlsm"):
        return ""
    try:
        sheets = filled_sheets(path)
    except (*NOT_A_WORKBOOK, OSError):
        return ""
    if BOOK_SHEETS & set(sheets):
        return "a farm book"
    return "a mix sheet with weights written on it" if _weights_in(sheets) else ""


def _weights_in(sheets: Sheets) -> bool:
    return any(sheet.tab in sheets and _filled(sheets, sheet) for sheet in printed_sheets(sheets)[0])


def _filled(sheets: Sheets, printed: Printed) -> bool:
    first = column_index_from_string(printed.first_box)
    return any(
        sheets[printed.tab].at(row.row, first + box) is not None for row in printed.rows for box in range(printed.boxes)
    )
