"""Opens a book: an .xlsx workbook or a folder of CSV files, as grids of cells."""

from __future__ import annotations

import csv
import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rationlp.book.columns import SHEETS
from rationlp.book.reading.cells import Cell, Grid
from rationlp.book.reading.typed_numbers import CURRENCY_SIGNS
from rationlp.book.reading.unseen import filled_rows, text_of, unseen_in
from rationlp.errors import BookError, Problem, column_letter
from rationlp.incoming import MOST_ROWS, UnfitError, bytes_of, workbook_of

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook

WORKBOOKS = (".xlsx", ".xlsm")
_NOT_A_WORKBOOK = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    LookupError,
    ValueError,
    TypeError,
    SyntaxError,
    AttributeError,
    RuntimeError,
)
MOST_COLUMNS = 16_384  # of a sheet, as in spreadsheet programs
GROWN = "Delete the empty rows under the last one, whose formats make a workbook grow; or give another file."
_WRITTEN = re.compile(r'"([^"]*)"|\\(.)')
_CURRENCY = re.compile(r"\[\$([^\]-]+)(?:-[^\]]*)?\]")
_UNSHOWN = re.compile(r'"[^"]*"|\\.|\[[^\]]*\]|_.|\*.')
"""Parts of a format that are no digits, signs or percent: text, colours, blanks as wide as a letter."""
_FORMULA_TAG = re.compile(rb"<(?:\w+:)?f[\s/>]")


def open_grids(path: Path, problems: list[Problem]) -> list[Grid]:
    """Every sheet of the book at `path`. Raises BookError if there is no book to read."""
    check_is_book(path)
    return _csv_grids(path, problems) if path.is_dir() else _workbook_grids(path, problems)


def check_is_book(path: Path) -> None:
    """Raise BookError unless a folder or a file of the right kind stands at `path`; nothing is read."""
    if path.is_dir():
        return
    if not path.exists():
        raise _no_book(path, "no such file or folder", "Check the spelling; `rationlp new` writes a new book.")
    if path.suffix.casefold() == ".csv":
        raise _no_book(path, "a single CSV file", f"Give the folder instead: {path.parent}.")
    if path.suffix.casefold() not in WORKBOOKS:
        raise _no_book(
            path,
            f"a file of the kind {path.suffix or 'without ending'}",
            "Save it as an Excel workbook (.xlsx) from the spreadsheet program.",
        )
    if not path.is_file():
        raise _no_book(path, "no regular file", "Give the workbook itself.")


def _no_book(path: Path, found: str, do: str) -> BookError:
    expected = "an .xlsx workbook or a folder of CSV files"
    return BookError([Problem("error", path.name or str(path), "", found, expected, do)])


# CSV ------------------------------------------------------------------------------------------------------------


def _csv_grids(folder: Path, problems: list[Problem]) -> list[Grid]:
    files = sorted(
        file for file in folder.iterdir() if file.suffix.casefold() == ".csv" and not file.name.startswith(".")
    )
    if not files:
        raise _no_book(
            folder,
            "a folder without CSV files",
            f"It needs one CSV file per sheet: {', '.join(f'{name}.csv' for name in SHEETS)}.",
        )
    return [grid for file in files if (grid := _csv_grid(file, problems)) is not None]


def _csv_grid(file: Path, problems: list[Problem]) -> Grid | None:
    def wrong(found: str, expected: str, do: str) -> None:
        problems.append(Problem("error", file.stem, "", found, expected, do))

    try:
        text = bytes_of(file).decode("utf-8-sig")
        delimiter = _delimiter(text)
        rows = list(_csv_rows(text, delimiter))
    except UnicodeDecodeError as error:
        wrong(
            f"a character that is not UTF-8 (byte {error.start})",
            "a CSV file in UTF-8",
            "Save it again as 'CSV UTF-8'.",
        )
    except UnfitError as error:
        wrong(str(error), "a CSV file of a farm", "Put the file itself there, with the rows of this farm alone.")
    except OSError as error:
        wrong(
            f"a file that cannot be opened ({error.strerror})", "a CSV file", "Check that it is there and may be read."
        )
    except csv.Error as error:
        if len(text) > csv.field_size_limit() and "field limit" in str(error):
            found = f"a cell of more than {csv.field_size_limit():,} characters"
            do = "Shorten it; perhaps a quotation mark opens a cell that is never closed."
            wrong(found, "cells of a name, a number or a note", do)
        else:
            found, expected = f"a CSV file that breaks off ({error})", "rows of cells, each opening quote closed"
            wrong(found, expected, "Open it and save it again.")
    else:
        return Grid(file.stem, rows, decimal_comma=delimiter == ";")
    return None


def _csv_rows(text: str, delimiter: str) -> Iterator[tuple[int, list[Cell]]]:
    """The rows in which something stands, by their numbers. Raises csv.Error, and UnfitError for too many."""
    filled = 0
    for number, line in enumerate(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True), start=1):
        values = [_text(value) for value in line]
        if not any(values):
            continue
        filled += 1
        if filled > MOST_ROWS or len(values) > MOST_COLUMNS:
            raise UnfitError(f"more than {MOST_ROWS:,} rows or {MOST_COLUMNS:,} columns")
        yield number, [Cell(value, f"{column_letter(i)}{number}") for i, value in enumerate(values)]


def _delimiter(text: str) -> str:
    """Comma, semicolon or tab: whichever the header row has most of; a comma if it has none."""
    header = next((line for line in text.splitlines() if line.strip(" ,;\t")), "")
    return max(",;\t", key=header.count)


def _text(value: str) -> str | None:
    return value.replace("\xa0", " ").strip() or None


# Workbook -------------------------------------------------------------------------------------------------------


def _workbook_grids(path: Path, problems: list[Problem]) -> list[Grid]:
    """Values in one pass; formulas are looked for only if the file holds any."""
    from openpyxl import load_workbook

    try:
        data = workbook_of(path).getvalue()
    except UnfitError as error:
        raise _no_book(path, str(error), GROWN) from None
    except OSError as error:
        raise _no_book(
            path,
            f"a file that cannot be opened ({error.strerror})",
            "Close it in other programs and check that you may read it.",
        ) from None
    try:
        with warnings.catch_warnings():  # openpyxl warns of drop-down lists and styles it passes over
            warnings.simplefilter("ignore", UserWarning)
            values = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            formulas = _formula_cells(data)
            grids, unseen = [], []
            with zipfile.ZipFile(io.BytesIO(data)) as parts:
                for sheet in values.worksheets:
                    text = text_of(sheet, parts)
                    grid = _sheet_grid(sheet, formulas.get(sheet.title, frozenset()), text)
                    grids.append(grid)
                    unseen += unseen_in(sheet, grid, text)
            values.close()
    except UnfitError as error:
        raise _no_book(path, str(error), GROWN) from None
    except _NOT_A_WORKBOOK as error:
        if _has_chart_sheets(data):  # one without a chart in it is more than openpyxl can read
            found = "a workbook with a sheet that is a chart, and perhaps an empty one"
            raise _no_book(path, found, "Delete the chart sheets, or move them to a workbook of their own.") from None
        raise _not_a_workbook(path, error) from None
    problems.extend(unseen)
    return grids


def _not_a_workbook(path: Path, error: Exception) -> BookError:
    found = f"a file that is no workbook: damaged, encrypted or renamed ({error})"
    return _no_book(path, found, "Open it in the spreadsheet program and save it as .xlsx without a password.")


def _has_chart_sheets(data: bytes) -> bool:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as parts:
            return any(name.startswith("xl/chartsheets/") for name in parts.namelist())
    except zipfile.BadZipFile:
        return False


def _sheet_grid(sheet: Any, formulas: frozenset[str], text: bytes) -> Grid:
    rows, crossed_out = [], []
    strikes = {at for at, font in enumerate(sheet.parent._fonts) if font.strike}
    for number, cells in filled_rows(sheet, text):
        if strikes and any(cell.value is not None and _font_of(cell) in strikes for cell in cells):
            crossed_out.append(number)
        if formulas or any(cell.value is not None for cell in cells):  # thousands of rows may be styled and empty
            rows.append((number, [_cell(cell, index, number, formulas) for index, cell in enumerate(cells)]))
    return Grid(sheet.title, rows, crossed_out=tuple(crossed_out))


def _font_of(cell: Any) -> int:
    return int(cell.parent.parent._cell_styles[cell._style_id].fontId)


def _cell(cell: Any, index: int, number: int, formulas: frozenset[str]) -> Cell:
    value = cell.value
    address = f"{column_letter(index)}{number}"
    if value is None:
        # A formula calculated to empty text keeps the type `str`; one never calculated has no type at all.
        uncalculated = address in formulas and cell.data_type != "str"
        return Cell(None, address, fault="uncalculated" if uncalculated else "")
    if cell.data_type == "e":
        return Cell(value, address, fault="error value")
    if isinstance(value, str):
        return Cell(_text(value), address)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        unit = shown_unit(cell.number_format or "")
        return Cell(value, address, percent="%" in _UNSHOWN.sub("", cell.number_format or ""), unit=unit)
    if isinstance(value, (bool, datetime, date)):
        return Cell(value, address)
    return Cell(str(value), address)  # times and durations


@lru_cache(maxsize=256)
def shown_unit(number_format: str) -> str:
    """What a format writes beside the number, `kg` of `0.0 "kg"` and `$` of `"$"#,##0`; empty if nothing."""
    section = number_format.split(";")[0]
    currency = _CURRENCY.search(section)
    written = "".join(match[1] or match[2] or "" for match in _WRITTEN.finditer(section)).strip()
    sign = currency[1] if currency else next((sign for sign in CURRENCY_SIGNS if sign in _UNSHOWN.sub("", section)), "")
    told = written or sign
    return told if any(letter.isalpha() or letter in "#'\"" or letter in CURRENCY_SIGNS for letter in told) else ""


def _formula_cells(data: bytes) -> dict[str, frozenset[str]]:
    """Addresses of the cells that hold a formula, by sheet."""
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        sheets = [name for name in parts.namelist() if name.startswith("xl/worksheets/") and name.endswith(".xml")]
        if not any(_FORMULA_TAG.search(parts.read(name)) for name in sheets):
            return {}
        from openpyxl import load_workbook

        book: Workbook = load_workbook(io.BytesIO(data), read_only=True)
        found = {sheet.title: frozenset(_formulas_of(sheet, parts)) for sheet in book.worksheets}
        book.close()
        return found


def _formulas_of(sheet: Any, parts: zipfile.ZipFile) -> Iterator[str]:
    for number, cells in filled_rows(sheet, text_of(sheet, parts)):
        for index, cell in enumerate(cells):
            if cell.data_type == "f":
                yield f"{column_letter(index)}{number}"
