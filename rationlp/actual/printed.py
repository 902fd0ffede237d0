"""A mix sheet as its workbook's hidden record tells of it, and whether people wrote on it."""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils import column_index_from_string
from openpyxl.utils.cell import coordinate_to_tuple

from rationlp.actual.readings import Place
from rationlp.book.reading.typed_dates import typed_date
from rationlp.book.reading.unseen import filled_rows, text_of
from rationlp.book.records import Settings
from rationlp.incoming import workbook_of
from rationlp.sheets.record import LATER_COLUMNS, MIXER_TEST, PURCHASES, RECORD, RECORD_COLUMNS

NOT_A_WORKBOOK = (
    zipfile.BadZipFile,
    zlib.error,
    LookupError,
    ValueError,
    EOFError,
    TypeError,
    SyntaxError,
    AttributeError,
    RuntimeError,
)

BOOK_SHEETS = frozenset({"supplements", "samples"})
"""A workbook with one of these is a farm book."""

HOUR = re.compile(r"\d{1,2}(:\d{2}){1,2}\s*([ap]\.?m\.?)?", re.IGNORECASE)


class Filled:
    """What stands in the cells of a sheet that was filled in. Rows and columns count from 1."""

    def __init__(self, rows: Iterable[Sequence[object]]) -> None:
        self._values = {
            (row, column): value
            for row, values in enumerate(rows, start=1)
            for column, value in enumerate(values, start=1)
            if value is not None
        }

    def __getitem__(self, address: str) -> Any:
        """The value of a cell, `B7`; None where it is empty."""
        return self._values.get(coordinate_to_tuple(address))

    def at(self, row: int, column: int) -> Any:
        """The value of a cell by its numbers; None where it is empty."""
        return self._values.get((row, column))

    def rows(self, columns: int, first: int = 1) -> Iterator[tuple[Any, ...]]:
        """The first `columns` values of each row from `first` to the last with anything in it."""
        for row in range(first, max((row for row, _ in self._values), default=0) + 1):
            yield tuple(self.at(row, column) for column in range(1, columns + 1))


Sheets = Mapping[str, Filled]


def filled_sheets(path: Path) -> Sheets:
    """Every sheet of the workbook at `path` by its name: values alone, styles and merged boxes take most of the time.
    Of a workbook with a record, pages that nobody fills in (analyses, cautions) are not read.

    Raises OSError and what stands in NOT_A_WORKBOOK, an UnfitError among it.
    """
    stored = workbook_of(path)
    workbook = load_workbook(stored, read_only=True, data_only=True)
    try:
        with zipfile.ZipFile(stored) as parts:

            def read(sheet: Any) -> Filled:
                return Filled(values for _, values in filled_rows(sheet, text_of(sheet, parts), values_only=True))

            if RECORD not in workbook.sheetnames:
                return {sheet.title: read(sheet) for sheet in workbook.worksheets}
            record = read(workbook[RECORD])
            asked = {PURCHASES, MIXER_TEST, *(sheet.tab for sheet in printed_sheets({RECORD: record})[0])}
            found = {sheet.title: read(sheet) if sheet.title in asked else Filled(()) for sheet in workbook.worksheets}
            return found | {RECORD: record}
    finally:
        workbook.close()


@dataclass(frozen=True, slots=True)
class PrintedRow:
    """A line of the hidden record: what stands in a row of a mix sheet, masses in the sheet's unit. `reads` is what the
    mixer scale (or the bucket's running sum) shows once it is in, None on sheets that do not say."""

    row: int
    offer: str
    part: str
    label: str
    mass: float
    in_bucket: bool = False
    reads: float | None = None
    scale_step: float = 0.0

    def place(self, factor: float) -> Place:
        """Where it is weighed in a batch `factor` times as large."""
        return Place(self.in_bucket, None if self.reads is None else self.reads * factor, self.scale_step)


@dataclass(slots=True)
class Printed:
    """A mix sheet as it was printed."""

    tab: str
    name: str
    id: str
    stage: str
    bin: str
    unit: str
    batch: float
    first_batch: int
    boxes: int
    batch_cell: str
    date_cell: str
    first_box: str
    ration: str = ""
    lot_column: str = ""
    rows: list[PrintedRow] = field(default_factory=list)

    @property
    def asked(self) -> Mapping[str, float]:
        """What the sheet asks for by offer, in its unit; grain of the farm under ""."""
        found: dict[str, float] = {}
        for row in self.rows:
            name = "" if row.offer in self.bin.split("+") else row.offer
            found[name] = found.get(name, 0.0) + row.mass
        return found


def printed_sheets(book: Sheets) -> tuple[list[Printed], str]:
    """The sheets the hidden record tells of, and the version of the book they came from; none without a record."""
    columns = (*RECORD_COLUMNS, *LATER_COLUMNS)
    rows = list(book[RECORD].rows(len(columns))) if RECORD in book else []
    if not rows or tuple(rows[0][: len(RECORD_COLUMNS)]) != RECORD_COLUMNS:
        return [], ""
    found: dict[str, Printed] = {}
    version = ""
    for values in rows[1:]:
        line: dict[str, Any] = dict(zip(columns, values, strict=True))
        if line["tab"] not in found:
            version = line["book_version"]
            found[line["tab"]] = _printed(line)
        found[line["tab"]].rows.append(
            PrintedRow(
                line["row"],
                line["offer"],
                line["part"] or "",
                line["label"],
                line["mass"],
                bool(line["in_bucket"]),
                line.get("reads"),
                0.0 if line["in_bucket"] else line.get("scale_step") or 0.0,
            )
        )
    return list(found.values()), version


def _printed(line: Mapping[str, Any]) -> Printed:
    """The mix sheet of a line of the hidden record, still without rows."""
    told: dict[str, Any] = {name: "" if value is None else value for name, value in line.items()}
    return Printed(
        tab=told["tab"],
        name=told["name"],
        id=told["id"],
        stage=told["stage"],
        bin=told["bin"],
        unit=told["unit"],
        batch=told["batch"],
        first_batch=told["first_batch"],
        boxes=told["boxes"],
        batch_cell=told["batch_cell"],
        date_cell=told["date_cell"],
        first_box=told["first_box"],
        ration=told.get("ration", ""),
        lot_column=told.get("lot_column", ""),
    )


def day_written(value: object, farm: Settings) -> date | None:
    """The day that somebody wrote in a cell, as a date or in the order of the book; None where it is no day."""
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    try:
        return typed_date(str(value), farm.date_format)
    except ValueError:
        return None


def is_hour(value: object) -> bool:
    """Whether somebody wrote the time of day alone."""
    return isinstance(value, time) or bool(HOUR.fullmatch(str(value).strip()))


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
