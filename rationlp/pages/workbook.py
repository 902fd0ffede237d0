"""The pack as an .xlsx workbook: live formulas that carry their values, for viewers that do not calculate."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping
from pathlib import Path
from xml.sax.saxutils import escape

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.workbook.properties import CalcProperties
from openpyxl.worksheet.worksheet import Worksheet

from rationlp.files import saved, write_whole_bytes
from rationlp.library.read import Library
from rationlp.pages.analysis_pages import PER_PAGE, write_analysis
from rationlp.pages.cells import Page, Values, title_of
from rationlp.pages.live import BATCH, DATE
from rationlp.pages.mix_page import FIRST_BOX, LOT, Layout, MixPage
from rationlp.pages.other_pages import (
    GLANCE,
    GLANCE_HEAD,
    Tab,
    write_cautions,
    write_glance,
    write_mixer_test,
    write_purchases,
    write_unmade,
)
from rationlp.pages.style import Styles
from rationlp.sheets.model import MixSheet, NoSheet, Pack
from rationlp.sheets.record import CAUTIONS, LATER_COLUMNS, MIXER_TEST, OF_A_LINE, PURCHASES, RECORD, RECORD_COLUMNS


def write_workbook(pack: Pack, library: Library, path: Path) -> None:
    """Write the pack to `path`. Raises InputError if it cannot be written there."""
    book, values = build_workbook(pack, library)
    write_whole_bytes(path, lambda: with_values(saved(book.save), book, values))


def build_workbook(pack: Pack, library: Library) -> tuple[Workbook, Values]:
    """The workbook and what its formulas come to."""
    book, values = Workbook(), Values()
    book.calculation = CalcProperties(fullCalcOnLoad=True)
    book.properties.creator = "rationlp"
    styles = Styles(book)
    taken = [GLANCE, PURCHASES, MIXER_TEST, CAUTIONS, RECORD]
    tabs, unmade = _titles(pack, taken)
    del book[book.sheetnames[0]]
    glance: Worksheet = book.create_sheet(GLANCE)
    layouts: list[tuple[Tab, Layout]] = []
    for tab in tabs:
        layouts.append((tab, MixPage(Page(book.create_sheet(tab.title), values), tab.sheet, styles).write()))
    for title, absent in unmade.items():
        write_unmade(Page(book.create_sheet(title), values), absent, pack.unit, styles)
    for number, start in enumerate(range(0, len(pack.sheets), PER_PAGE), 1):
        title = f"Analysis {number}"
        write_analysis(
            Page(book.create_sheet(title), values), pack.sheets[start : start + PER_PAGE], library, pack, styles
        )
    if tabs:
        write_purchases(Page(book.create_sheet(PURCHASES), values), pack, tabs, styles)
        write_mixer_test(Page(book.create_sheet(MIXER_TEST), values), pack, styles)
    write_cautions(Page(book.create_sheet(CAUTIONS), values), pack, styles)
    write_glance(Page(glance, values), pack, tabs, unmade, styles)
    _write_record(book.create_sheet(RECORD), layouts, values)
    return book, values


def _titles(pack: Pack, taken: list[str]) -> tuple[list[Tab], Mapping[str, NoSheet]]:
    """A tab for every sheet; `taken` is added to."""
    taken += [f"Analysis {number}" for number in range(1, len(pack.sheets) // PER_PAGE + 2)]
    tabs: list[Tab] = []
    unmade: dict[str, NoSheet] = {}
    for sheet in pack.pages:
        title = title_of(sheet.name, taken)
        taken.append(title)
        if isinstance(sheet, MixSheet):
            tabs.append(Tab(sheet, title, GLANCE_HEAD + 1 + len(tabs)))
        else:
            unmade[title] = sheet
    return tabs, unmade


def _write_record(sheet: Worksheet, layouts: list[tuple[Tab, Layout]], values: Values) -> None:
    page = Page(sheet, values)
    columns = (*RECORD_COLUMNS, *LATER_COLUMNS)
    for column, name in enumerate(columns, 1):
        page.text(f"{get_column_letter(column)}1", name)
    row = 1
    for tab, layout in layouts:
        made, first_line = tab.sheet, row + 1
        for weighing in layout.weighings:
            line = weighing.line
            if not line.offer:
                continue
            row += 1
            in_bucket = bool(layout.bucket and layout.bucket[0] <= weighing.row <= layout.bucket[1])
            cells: tuple[str | float, ...] = (
                tab.title,
                made.name,
                made.id,
                made.book_version,
                made.stage,
                made.bin,
                made.unit,
                float(made.batch),
                made.first_batch,
                made.boxes,
                BATCH,
                DATE,
                weighing.row,
                get_column_letter(FIRST_BOX),
                line.offer,
                line.part,
                line.name,
                float(line.mass),
                in_bucket,
                made.ration_id,
                LOT,
                float(line.holds),
                float(made.scale.step),
            )
            for column, (name, value) in enumerate(zip(columns, cells, strict=True), 1):
                cell = f"{get_column_letter(column)}{row}"
                if row > first_line and name not in OF_A_LINE:
                    continue
                if isinstance(value, str):
                    page.text(cell, value)
                else:
                    page.number(cell, value)
    sheet.sheet_state = "hidden"
    sheet.protection.sheet = True


_FORMULA_CELL = re.compile(r'<c r="([A-Z]+\d+)"([^>]*)><f>(.*?)</f><v ?(?:/>|></v>)</c>', re.DOTALL)


def with_values(data: bytes, book: Workbook, values: Values) -> bytes:
    """The saved workbook with the value of every formula beside it, as a spreadsheet program would have left it."""
    titles = {f"xl/worksheets/sheet{number}.xml": sheet.title for number, sheet in enumerate(book.worksheets, 1)}
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for item in old.infolist():
            content = old.read(item.filename)
            if title := titles.get(item.filename):
                content = _filled(content.decode(), title, values).encode()
            new.writestr(item.filename, content)
    return out.getvalue()


def _filled(xml: str, title: str, values: Values) -> str:
    def fill(match: re.Match[str]) -> str:
        cell, attributes, formula = match.groups()
        value = values.found[title, cell]
        attributes = re.sub(r' t="\w+"', "", attributes)
        if isinstance(value, str):
            return f'<c r="{cell}"{attributes} t="str"><f>{formula}</f><v>{escape(value)}</v></c>'
        return f'<c r="{cell}"{attributes}><f>{formula}</f><v>{value!r}</v></c>'

    return _FORMULA_CELL.sub(fill, xml)
