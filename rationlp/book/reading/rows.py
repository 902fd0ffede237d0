"""From named cells to values: the settings first, because they say in which units the rest is written."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from rationlp.book.column import UNIT, Column, Sheet
from rationlp.book.reading.cells import Cell, RawSheet, arrange
from rationlp.book.reading.files import open_grids
from rationlp.book.reading.notation import CellFault, Notation, Pending
from rationlp.book.reading.typed.figures import units_apart
from rationlp.book.reading.typed_dates import strptime_format
from rationlp.book.reading.unit_words import BAG, BUSHEL, PRICE_PER
from rationlp.book.reading.values import checked, expected_words, read_cell
from rationlp.book.records import Place, Settings, usual_settings
from rationlp.book.settings import SETTING_BY_NAME
from rationlp.book.words import CURRENCY_WORDS, DITTO
from rationlp.errors import Problem, RequestError, column_letter
from rationlp.finder import names_of, plain
from rationlp.units import M3_PER_US_BUSHEL

FARM_FIELDS = {
    "batch_mass": "batch_kg",
    "mixer_capacity": "mixer_capacity_kg",
    "scale_step": "scale_step_kg",
    "hand_scale_step": "hand_scale_step_kg",
    "hand_weigh_below": "hand_weigh_below_kg",
    "hand_least": "hand_least_kg",
}
"""Settings whose field in the record carries the unit in its name; the others have the same name."""
WRITTEN_BY = ("units", "date_format", "currency")
"""Settings that say how the rest of the book is written."""
IN_THESE = ("units", "currency")
"""Settings that every mass and price of a book is written in."""
DATE_FORMATS = ("%Y-%m-%d", "%m/%d/%Y", "%d/%m/%Y", "%d.%m.%Y")
"""How dates are mostly written."""
PRICES = ("price", "sale_price")
OFFERS = "supplements"
_BARE = re.compile(r"[-+\d.,eE\s]*")
_THOUSANDS = re.compile(r"\s*[1-9]\d{0,2}\.\d{3}(?!\d)")
"""Read as a decimal point; where that is hardly anything, `42.000 kg` was 42,000, whatever stands beside it."""
_FOR = re.compile(r"(?P<sign>[^/]*?)\s*(?:/|\bper\b)\s*(?P<per>.+)", re.IGNORECASE)


@dataclass(slots=True)
class SheetRow:
    """A row with its values in SI units. A blank column has None; a column that could not be read is in `bad`."""

    place: Place
    values: dict[str, Any]
    bad: set[str] = field(default_factory=set)
    unit_typed: str = ""  # of a figure, as the tables of units spell it, before it was turned into the library's

    def __getitem__(self, column: str) -> Any:
        return self.values.get(column)

    def sound(self, *columns: str) -> bool:
        """Whether every one of the columns was read and is filled."""
        return all(self.values.get(column) is not None and column not in self.bad for column in columns)

    def present(self, *columns: str) -> str:
        """The first of the columns that the sheet has: where a problem can be pointed at."""
        return next((column for column in columns if column in self.place.columns), columns[0])


@dataclass(slots=True)
class BookReading:
    """A book as far as it could be read, and everything that was found wrong with it."""

    path: Path
    farm: Settings
    rows: dict[str, list[SheetRow]]
    present: frozenset[str]  # sheets the book has
    problems: list[Problem]
    percent_cells: set[tuple[str, str]]  # (sheet, cell) of numbers shown in percent
    unit_written: set[tuple[str, str]] = field(default_factory=set)  # of numbers with their own unit beside them

    def __getitem__(self, sheet: str) -> list[SheetRow]:
        return self.rows.get(sheet, [])

    def error(self, row: SheetRow, column: str, found: str, expected: str, do: str) -> None:
        """Put an error of a cell on the list and mark the cell as unusable."""
        row.bad.add(column)
        self._add("error", row, column, found, expected, do)

    def warning(self, row: SheetRow, column: str, found: str, expected: str, do: str) -> None:
        """Put a warning of a cell on the list."""
        self._add("warning", row, column, found, expected, do)

    def _add(self, severity: str, row: SheetRow, column: str, found: str, expected: str, do: str) -> None:
        self.problems.append(Problem(severity, row.place.sheet, row.place.cell(column), found, expected, do))

    def sheet_problem(self, severity: str, sheet: str, found: str, expected: str, do: str) -> None:
        """Put a problem of a whole sheet on the list."""
        self.problems.append(Problem(severity, sheet, "", found, expected, do))

    def names(self, sheet: str, column: str) -> dict[str, str]:
        """The names a sheet declares, by the form in which names are compared."""
        return {plain(row[column]): row[column] for row in self[sheet] if row[column]}


def read_rows(path: Path) -> BookReading:
    """Read every sheet of the book. Raises BookError only if there is no book to read at all."""
    problems: list[Problem] = []
    raw = arrange(open_grids(path, problems), problems)
    farm, doubtful = _read_farm(raw["farm"], problems) if "farm" in raw else (Settings(), {*WRITTEN_BY})
    if "farm" not in raw and not any(problem.sheet == "farm" for problem in problems):
        expected, do = "the settings of the farm: units, currency, batch_mass", "with the columns setting and value."
        problems.append(Problem("error", "farm", "", "no such sheet", expected, f"Add a sheet farm {do}"))
    readings = [_read_all(path, raw, guess) for guess in _guesses(farm, doubtful)]
    reading = min(readings, key=lambda each: len(each.problems))
    reading.problems[:0] = problems
    return reading


def _guesses(farm: Settings, doubtful: set[str]) -> list[Settings]:
    """How the book may be written where the settings that say it could not be read: what leaves the fewest faults
    elsewhere is taken, so that none of them comes of the missing setting alone."""
    units = ("metric", "us") if "units" in doubtful else (farm.units,)
    formats = DATE_FORMATS if "date_format" in doubtful else (farm.date_format,)
    return [replace(farm, units=unit, date_format=each) for unit in units for each in formats]


def _read_all(path: Path, raw: dict[str, RawSheet], farm: Settings) -> BookReading:
    reading = BookReading(path, farm, {}, frozenset(raw), [], set())
    for name in sorted(raw, key=lambda name: name != OFFERS):  # bags of a lot are weighed by the package of its offer
        if name != "farm":
            reading.rows[name] = list(_read_sheet(raw[name], reading))
    return reading


# The settings ---------------------------------------------------------------------------------------------------


def _read_farm(raw: RawSheet, problems: list[Problem]) -> tuple[Settings, set[str]]:
    """The settings, and those of them that say how the book is written and could not be read."""
    cells = _setting_cells(raw, problems)
    notation = Notation(decimal_comma=raw.decimal_comma)
    settings: dict[str, Any] = {}
    doubtful = {*WRITTEN_BY} if {"setting", "value"} - set(raw.letters) else set()
    first = [name for name in WRITTEN_BY if name in cells]
    for name in first + [name for name in cells if name not in first]:
        try:
            value = _setting(SETTING_BY_NAME[name], cells[name], notation)
        except CellFault as fault:
            problems.append(
                Problem("error", "farm", cells[name].address, f"{name} = {fault.found}", fault.expected, fault.do)
            )
            doubtful.add(name)
            continue
        if value is None:
            continue  # a dash for nothing: its usual value, as where it is left blank
        settings[FARM_FIELDS.get(name, name)] = value
        if name in WRITTEN_BY:
            notation = replace(notation, **{name: value})
    return replace(usual_settings(settings.get("units", "metric")), **settings), doubtful


def read_setting(name: str, value: str | float, settings: Settings) -> Settings:
    """`settings` with one of them written anew, as a person would type it on the sheet `farm`.

    Raises RequestError for a setting there is none of, or a value it cannot have. Units and currency cannot be
    changed alone: every mass and price of the book is written in them.
    """
    if name not in SETTING_BY_NAME or name in IN_THESE:
        names = ", ".join(known for known in SETTING_BY_NAME if known not in IN_THESE)
        do = names_of(SETTING_BY_NAME).suggestion(name, "Choose one.")
        if name in IN_THESE:
            do = f"Every mass and price of the book is written in it: change {name} there."
        raise RequestError([Problem("error", "setting", "", repr(name), f"one of {names}", do)])
    notation = Notation(settings.units, settings.date_format, currency=settings.currency)
    try:
        found = _setting(SETTING_BY_NAME[name], Cell(value, ""), notation)
    except CellFault as fault:
        raise RequestError(
            [Problem("error", "setting", "", f"{name} {fault.found}", fault.expected, fault.do)]
        ) from None
    field = FARM_FIELDS.get(name, name)
    return replace(settings, **{field: getattr(usual_settings(settings.units), field) if found is None else found})


def _setting(setting: Column, cell: Cell, notation: Notation) -> Any:
    value = read_cell(cell, setting, notation)
    if isinstance(value, Pending):
        raise CellFault(repr(value.typed), expected_words(setting, notation), "Write the mass itself.")
    if setting.name == "currency":
        value = CURRENCY_WORDS.get(plain(value), str(value).upper())
        if len(value) != 3 or not value.isascii() or not value.isalpha():
            do = "Write whose dollars they are: USD, CAD, AUD or NZD." if value == "$" else "Write the letters."
            raise CellFault(repr(cell.value), "three letters such as USD, CAD or EUR", do)
    if setting.name == "date_format":
        try:
            return strptime_format(str(value))
        except ValueError:
            raise CellFault(
                repr(value), "day, month and year such as YYYY-MM-DD, DD.MM.YYYY or MM/DD/YYYY", "Write it in this way."
            ) from None
    return value


def _setting_cells(raw: RawSheet, problems: list[Problem]) -> dict[str, Cell]:
    """The value cell of each setting; settings left blank are left out and keep their usual value."""
    if "setting" not in raw.letters or "value" not in raw.letters:
        found = f"the columns {', '.join(raw.letters) or '(none)'}"
        do = "Name the two columns in the first row."
        problems.append(Problem("error", "farm", "A1", found, "the columns setting and value", do))
        return {}
    values: dict[str, Cell] = {}
    places: dict[str, str] = {}
    for row in raw.rows:
        cell = row.cells.get("setting") or Cell(None, f"{raw.letters['setting']}{row.number}")
        name = _setting_name(cell, places, problems)
        if name:
            places[name] = cell.address
            if "value" in row.cells:
                values[name] = row.cells["value"]
    return values


def _setting_name(cell: Cell, places: dict[str, str], problems: list[Problem]) -> str:
    """The setting a row is about; empty if it is none, or one that stands in `places` already."""
    expected = f"one of {', '.join(SETTING_BY_NAME)}"
    if cell.value is None or cell.fault:
        found = "a formula or an error" if cell.fault else "no setting beside a value"
        problems.append(Problem("error", "farm", cell.address, found, expected, "Name the setting, or delete the row."))
        return ""
    name = plain(cell.value)
    if name not in SETTING_BY_NAME:
        finder = names_of(SETTING_BY_NAME)
        near, do = next(iter(finder.near(name)), ""), finder.suggestion(name, "Delete the row.")
        problems.append(Problem("error", "farm", cell.address, f"the setting {str(cell.value)!r}", expected, do))
        return "" if near in places else near
    if name in places:
        expected = f"one row for {name} (the first is {places[name]})"
        problems.append(
            Problem("error", "farm", cell.address, f"a second row for {name}", expected, "Delete one of the two.")
        )
        return ""
    return name


# The other sheets -----------------------------------------------------------------------------------------------


def _read_sheet(raw: RawSheet, reading: BookReading) -> Iterator[SheetRow]:
    sheet = raw.sheet
    farm = reading.farm
    notation = Notation(farm.units, farm.date_format, raw.decimal_comma, farm.currency)
    absent = [column.name for column in sheet.columns if column.required and column.name not in raw.letters]
    for name in absent if raw.rows else ():
        reading.problems.append(
            Problem(
                "error",
                sheet.name,
                column_letter(len(raw.letters)) + "1",
                f"no column {name}",
                f"a column {name}: {sheet.column(name).note.rstrip('.')}",
                "Add the column.",
            )
        )
    columns = [column for column in sheet.columns if column.name in raw.letters]
    above: dict[str, str] = {}
    for raw_row in raw.rows:
        row = SheetRow(Place(sheet.name, raw_row.number, raw.letters), {}, set(absent))
        figures = units_apart(_with_price_words(raw_row.cells))
        cells = figures.cells
        for column in columns:
            cell = cells.get(column.name)
            if fault := figures.faults.get(column.name):
                reading.error(row, column.name, fault.found, fault.expected, fault.do)
                continue
            if column.required and column.refers_to and (cell is None or cell.value in DITTO):
                _as_above(row, column, above.get(column.name, ""), notation, reading)
                continue
            _read_column(row, column, cell, notation, reading)
            if row.sound(column.name):
                above[column.name] = str(row[column.name])
            if column.name in figures.with_unit:
                reading.unit_written.add((sheet.name, row.place.cell(column.name)))
        for name in ("per_mass", UNIT):
            if name in cells and name not in raw.letters:
                _read_column(row, sheet.column(name), cells[name], notation, reading)
        _weigh(row, sheet, notation, reading)
        yield row


def _with_price_words(cells: dict[str, Cell]) -> dict[str, Cell]:
    """`$365/ton` and `6.25 per 50 lb bag` as a price and the mass it is for, where that stands nowhere else."""
    for name in PRICES:
        cell = cells.get(name)
        beside = _FOR.fullmatch(cell.unit) if cell else None
        if cell and beside:  # of a heading or format `$/ton`
            of = {} if "per_mass" in cells else {"per_mass": Cell(beside["per"], cell.address)}
            return {**cells, name: replace(cell, unit=beside["sign"]), **of}
        match = PRICE_PER.fullmatch(cell.value.strip()) if cell and isinstance(cell.value, str) else None
        if cell and match and "per_mass" not in cells:
            per = Cell(match["per"], cell.address)
            return {**cells, name: replace(cell, value=match["price"].strip()), "per_mass": per}
    return cells


def _weigh(row: SheetRow, sheet: Sheet, notation: Notation, reading: BookReading) -> None:
    """Bushels and bags into kilograms, by the test weight or the package of the row."""
    for name, value in list(row.values.items()):
        if not isinstance(value, Pending):
            continue
        column, by, what = sheet.column(name), *BY_UNIT[value.of]
        each = row.values.get(by) if sheet.name in (OFFERS, "bins") else _of_offer(row, by, reading)
        row.values[name] = None
        if not isinstance(each, float | int):
            do = f"Fill in {by}, or write the mass itself."
            do = do if any(other.name == by for other in sheet.columns) else f"Write the mass, such as {what}."
            reading.error(row, name, repr(value.typed), expected_words(column, notation), do)
            continue
        try:
            kilograms = value.count * each * (M3_PER_US_BUSHEL if value.of == BUSHEL else 1.0)
            row.values[name] = checked(kilograms, Cell(value.typed, ""), column, notation)
        except CellFault as fault:
            reading.error(row, name, fault.found, fault.expected, fault.do)


def _of_offer(row: SheetRow, column: str, reading: BookReading) -> Any:
    """What the offer that a row speaks of (a lot, a feed weighed) has in a column; None where it is none."""
    named = plain(row["offer"] or row["feed"] or "")
    return next((offer[column] for offer in reading[OFFERS] if named and plain(offer["offer"] or "") == named), None)


BY_UNIT = {BUSHEL: ("test_weight", "56 lb for a bushel"), BAG: ("package_mass", "50 lb for a bag")}
"""By which column bushels and bags are weighed, and how their mass is written otherwise."""


def _as_above(row: SheetRow, column: Column, above: str, notation: Notation, reading: BookReading) -> None:
    """A name left out, or marked as that of the row above: people do so, but rows are sorted and moved."""
    do = f"Fill in {column.name}; the row above has {above!r}." if above else f"Fill in {column.name}. {column.note}"
    row.values[column.name] = None
    reading.error(row, column.name, f"no {column.name}", expected_words(column, notation), do)


def _read_column(row: SheetRow, column: Column, cell: Cell | None, notation: Notation, reading: BookReading) -> None:
    row.values[column.name] = None
    if cell is None:
        if column.required:
            do = f"Fill in {column.name}. {column.note}"
            reading.error(row, column.name, f"no {column.name}", expected_words(column, notation), do)
        return
    try:
        row.values[column.name] = read_cell(cell, column, notation)
    except CellFault as fault:
        row.bad.add(column.name)
        address = cell.address or row.place.cell(column.name)
        reading.problems.append(Problem("error", row.place.sheet, address, fault.found, fault.expected, fault.do))
    place = (row.place.sheet, row.place.cell(column.name))
    if cell.percent:
        reading.percent_cells.add(place)
    of_measure = bool(cell.unit) and column.kind in ("mass", "length", "density")
    typed = cell.value if isinstance(cell.value, str) else ""
    if cell.percent or of_measure or not (_BARE.fullmatch(typed) or _THOUSANDS.match(typed)):
        reading.unit_written.add(place)
