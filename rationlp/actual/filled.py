"""Whether a workbook holds what people wrote by hand, which no command writes over."""

from __future__ import annotations

from pathlib import Path

from openpyxl import load_workbook
from openpyxl.utils import column_index_from_string
from openpyxl.workbook import Workbook

from rationlp.actual.printed import NOT_A_WORKBOOK, Printed, printed_sheets
from rationlp.incoming import workbook_of

BOOK_SHEETS = frozenset({"supplements", "samples"})
"""A workbook with one of these is a farm book."""


def work_in(path: Path) -> str:
    """What the workbook at `path` holds that a person wrote: weights, or a farm book; empty where it is neither."""
    if path.suffix.casefold() not in (".xlsx", ".xlsm"):
        return ""
    try:
        workbook = load_workbook(workbook_of(path), data_only=True)
    except (*NOT_A_WORKBOOK, OSError):
        return ""
    try:
        if BOOK_SHEETS & set(workbook.sheetnames):
            return "a farm book"
        return "a mix sheet with weights written on it" if _weights_in(workbook) else ""
    finally:
        workbook.close()


def _weights_in(workbook: Workbook) -> bool:
    return any(sheet.tab in workbook.sheetnames and _filled(workbook, sheet) for sheet in printed_sheets(workbook)[0])


def _filled(workbook: Workbook, printed: Printed) -> bool:
    first = column_index_from_string(printed.first_box)
    return any(
        workbook[printed.tab].cell(row.row, first + box).value is not None
        for row in printed.rows
        for box in range(printed.boxes)
    )
