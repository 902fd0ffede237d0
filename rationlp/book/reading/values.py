"""What a cell says, in SI units: one function per kind of column, each refusing with found, expected and what to do."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from unicodedata import category

from rationlp.book.column import Column
from rationlp.book.reading.cells import Cell, nearest, plain
from rationlp.units import (
    BOOK_DENSITY_UNIT,
    BOOK_LENGTH_UNIT,
    BOOK_MASS_UNIT,
    DENSITY_KG_M3,
    LENGTH_M,
    MASS_KG,
    WHICH_TON,
    parse_quantity,
    unclear_ton,
)

_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_LOOKS_LIKE_THOUSANDS = re.compile(r"[-+]?[1-9]\d{0,2}\.\d{3}")
_QUANTITY = re.compile(r"(?P<number>[-+]?[\d.,]+(?:[eE][-+]?\d+)?)\s*(?P<unit>[A-Za-z/%][A-Za-z0-9/%]*)?")
_DATE_TOKENS = (("YYYY", "%Y"), ("YY", "%y"), ("MM", "%m"), ("DD", "%d"))
_ISO_DATE = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]00:00(?::00)?)?")
SI_UNIT = {"mass": "kg", "length": "m", "density": "kg/m3"}
"""The unit that the bounds of a kind are in."""
_EXAMPLE = date(2025, 9, 30)
_YES_NO = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}


class CellFault(ValueError):
    """A cell that cannot be read: what was found, what was expected, what to do."""

    def __init__(self, found: str, expected: str, do: str):
        self.found, self.expected, self.do = found, expected, do
        super().__init__(f"found {found}; expected {expected}. {do}")


@dataclass(frozen=True, slots=True)
class Notation:
    """How the book, or one file of it, writes things down."""

    units: str = "metric"
    date_format: str = "%Y-%m-%d"
    text_numbers: bool = False  # CSV: a number is text
    decimal_comma: bool = False  # CSV with semicolons: 12,5


def read_cell(cell: Cell, column: Column, notation: Notation) -> object:
    """The value of a cell, in SI units where it has a unit; blank is None. Raises CellFault."""
    if cell.fault == "uncalculated":
        raise CellFault(
            "a formula that was never calculated",
            expected_words(column, notation),
            "Open the book in the spreadsheet program, let it calculate, and save it.",
        )
    if cell.fault:
        raise CellFault(
            f"the error {cell.value}", expected_words(column, notation), "Mend the formula, or type the value."
        )
    if cell.value is None:
        return None
    return _READERS[column.kind](cell, column, notation)


def shown(value: object) -> str:
    """A value as it is told to a person."""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, (datetime, date)):
        return f"the date {value:%Y-%m-%d}"
    return repr(value) if isinstance(value, str) else f"{value:.10g}"


def expected_words(column: Column, notation: Notation) -> str:
    """What a cell of the column should hold, in the units of the book."""
    unit = column.unit_words(notation.units)
    words = {
        "text": "text",
        "id": "a name",
        "number": "a number",
        "money": "a price as a plain number",
        "mass": f"a mass in {unit}, or with its own unit such as 1.5 t or 50 lb",
        "length": f"a length in {unit}, or with its own unit such as 6 m or 20 ft",
        "density": f"a test weight in {unit}, or with its own unit such as 72 kg/hl or 56 lb/bu",
        "percent": "a percentage",
        "integer": "a whole number",
        "date": "a date",
        "yes_no": "yes or no",
        "choice": f"one of {', '.join(column.choices)}",
    }[column.kind]
    range_words = column.range_words()
    if range_words and column.kind in SI_UNIT:
        range_words += f" {SI_UNIT[column.kind]}"
    return f"{words} ({range_words})" if range_words else words


# Numbers --------------------------------------------------------------------------------------------------------


def _number(cell: Cell, column: Column, notation: Notation) -> float:
    return _checked(_bare_number(cell, column, notation), cell, column, notation)


def _bare_number(cell: Cell, column: Column, notation: Notation) -> float:
    value = cell.value
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return value
    if isinstance(value, str):
        number = _text_number(value, column, notation)
        if notation.text_numbers:
            return number
        raise CellFault(
            f"the text {value!r}",
            expected_words(column, notation),
            "Type it again as a number, in a cell not formatted as text.",
        )
    raise CellFault(shown(value), expected_words(column, notation), "Type the number; check how the cell is formatted.")


def _text_number(text: str, column: Column, notation: Notation) -> float:
    """A number written as text. Raises CellFault if it is none, or could be read in two ways."""
    number = text
    if notation.decimal_comma:
        if _LOOKS_LIKE_THOUSANDS.fullmatch(text):
            raise CellFault(
                f"{text!r}, which in a file with semicolons can be read in two ways",
                expected_words(column, notation),
                "Write a decimal comma, and no point for thousands.",
            )
        number = text.replace(",", ".", 1) if "." not in text else text
    elif "," in text and _NUMBER.fullmatch(text.replace(",", "")):
        raise CellFault(
            f"{text!r}, which can be read in two ways",
            expected_words(column, notation),
            "Write a decimal point, and nothing between thousands.",
        )
    if not _NUMBER.fullmatch(number):
        raise CellFault(repr(text), expected_words(column, notation), "Write the number alone, with a decimal point.")
    return float(number)


def _checked(value: float, cell: Cell, column: Column, notation: Notation) -> float:
    """The value if it lies in the column's range. `value` is in the unit the kind is kept in."""
    if value != value or value in (float("inf"), float("-inf")) or not column.in_range(value):
        unit, si = _book_unit(column.kind, notation)
        said = "" if not unit or _same_number(cell.value, value / si) else f" (that is {value / si:.7g} {unit})"
        limits = f"{column.range_words(1 / si)} {unit}".rstrip()
        do = "Correct it." if value < 0 else "Correct it, or check its unit."
        raise CellFault(f"{shown(cell.value)}{said}", f"{column.name} {limits}", do)
    return value


def _book_unit(kind: str, notation: Notation) -> tuple[str, float]:
    """The unit in which a book writes what is of this kind, and how much of the unit it is kept in that is."""
    if kind == "percent":
        return "%", 1.0
    book, table = {
        "mass": (BOOK_MASS_UNIT, MASS_KG),
        "length": (BOOK_LENGTH_UNIT, LENGTH_M),
        "density": (BOOK_DENSITY_UNIT, DENSITY_KG_M3),
    }.get(kind, ({}, {}))
    unit = book.get(notation.units, "")
    return unit, table.get(unit, 1.0)


def _same_number(typed: object, value: float) -> bool:
    """Whether what is typed is the bare number `value` already."""
    if not isinstance(typed, str | int | float):
        return False
    try:
        return float(typed) == value
    except ValueError:
        return False


def _percent(cell: Cell, column: Column, notation: Notation) -> float:
    """Percent, 0 to 100; a cell formatted in percent holds 0.14 and shows 14 %."""
    if isinstance(cell.value, str) and cell.value.endswith("%"):
        return _checked(_text_number(cell.value[:-1].strip(), column, notation), cell, column, notation)
    number = _bare_number(cell, column, notation)
    return _checked(round(number * 100, 9) if cell.percent else number, cell, column, notation)


def _integer(cell: Cell, column: Column, notation: Notation) -> int:
    number = _number(cell, column, notation)
    if number != int(number):
        raise CellFault(shown(cell.value), "a whole number", "Correct it.")
    return int(number)


def _quantity(table: dict[str, float], book_unit: dict[str, str]) -> Callable[[Cell, Column, Notation], float]:
    """A reader for a number in the book's unit or with its own unit, into SI."""

    def read(cell: Cell, column: Column, notation: Notation) -> float:
        unit = book_unit[notation.units]
        match = _QUANTITY.fullmatch(cell.value) if isinstance(cell.value, str) else None
        if match and match["unit"]:
            number, unit = _text_number(match["number"], column, notation), match["unit"]
        elif column.name == "per_mass" and isinstance(cell.value, str) and cell.value.casefold() in table:
            number, unit = 1.0, cell.value  # a price per `t`
        else:
            number = _bare_number(cell, column, notation)
        if unclear_ton(unit, notation.units):
            raise CellFault(shown(cell.value), *WHICH_TON)
        try:
            value = parse_quantity(f"{number!r} {unit}", table, unit)
        except ValueError:
            raise CellFault(
                shown(cell.value), expected_words(column, notation), f"Use one of the units {', '.join(table)}."
            ) from None
        return _checked(value, cell, column, notation)

    return read


# Dates, words and names -----------------------------------------------------------------------------------------


def strptime_format(text: str) -> str:
    """`DD.MM.YYYY` or `%d.%m.%Y` as the latter. Raises ValueError unless it names day, month and year once each."""
    pattern = text.strip()
    if "%" not in pattern:
        pattern = pattern.upper()
        for token, directive in _DATE_TOKENS:
            pattern = pattern.replace(token, directive, 1)
    told = _EXAMPLE.strftime(pattern)
    if datetime.strptime(told, pattern).date() != _EXAMPLE or re.search("[A-Z]", re.sub("%.", "", pattern)):
        raise ValueError(f"{text!r} does not say where day, month and year stand")
    return pattern


def _date(cell: Cell, column: Column, notation: Notation) -> date:
    value = cell.value
    day = value.date() if isinstance(value, datetime) else value
    expected = f"a date such as {_EXAMPLE:%Y-%m-%d}"
    if notation.date_format != "%Y-%m-%d":
        expected += f" or {_EXAMPLE.strftime(notation.date_format)}"
    if isinstance(day, str):
        day = _text_date(day, notation)
        if day is None:
            raise CellFault(repr(value), expected, "Correct it; the setting date_format says how dates are written.")
    elif not isinstance(day, date):
        raise CellFault(shown(value), expected, "Type the date, or format the cell as a date.")
    if not 1990 <= day.year <= 2100:
        raise CellFault(shown(day), f"{expected}, of the years 1990 to 2100", "Correct the year.")
    return day


def _text_date(text: str, notation: Notation) -> date | None:
    try:
        if match := _ISO_DATE.fullmatch(text):
            return date(*(int(part) for part in match.groups()))
        if notation.date_format != "%Y-%m-%d":
            return datetime.strptime(text, notation.date_format).date()
    except ValueError:
        pass  # no such day, or written otherwise: the caller says what was expected
    return None


def _yes_no(cell: Cell, column: Column, notation: Notation) -> bool:
    if isinstance(cell.value, bool):
        return cell.value
    answer = _YES_NO.get(plain(cell.value))
    if answer is None:
        raise CellFault(shown(cell.value), "yes or no", "Write yes or no, or leave it blank.")
    return answer


def _choice(cell: Cell, column: Column, notation: Notation) -> str:
    value = plain(cell.value)
    if value not in column.choices:
        near = nearest(value, column.choices)
        raise CellFault(
            shown(cell.value),
            f"one of {', '.join(column.choices)}",
            f"Did you mean {near}?" if near else "Choose one of them.",
        )
    return value


def _text(cell: Cell, column: Column, notation: Notation) -> str:
    value = cell.value
    if isinstance(value, (datetime, date)):
        return f"{value:%Y-%m-%d}"
    if isinstance(value, bool):
        return shown(value)
    return _printable(value, column) if isinstance(value, str) else f"{value:.15g}"


def _printable(text: str, column: Column) -> str:
    """The text, if it holds no control character; a note may have line breaks. Raises CellFault."""
    allowed = "\n\r\t" if column.kind == "text" and column.name not in ("label", "name") else ""
    odd = next((letter for letter in text if category(letter) in ("Cc", "Cs") and letter not in allowed), None)
    if odd is not None:
        raise CellFault(
            f"{shown(text[:40])} with a control character (code {ord(odd)})",
            "letters, digits and signs that can be printed",
            "Type the text again.",
        )
    return text


def _id(cell: Cell, column: Column, notation: Notation) -> str:
    """A name of the farm as written; an id of the library or of the book's own feeds and stages in lower case."""
    text = _text(cell, column, notation)
    of_the_farm = ("", "bins", "samples", "supplements", "lots", "weighed")
    return text if column.refers_to in of_the_farm else plain(text)


_READERS: dict[str, Callable[[Cell, Column, Notation], object]] = {
    "text": _text,
    "id": _id,
    "mass": _quantity(MASS_KG, BOOK_MASS_UNIT),
    "length": _quantity(LENGTH_M, BOOK_LENGTH_UNIT),
    "density": _quantity(DENSITY_KG_M3, BOOK_DENSITY_UNIT),
    "percent": _percent,
    "number": _number,
    "money": _number,
    "date": _date,
    "yes_no": _yes_no,
    "choice": _choice,
    "integer": _integer,
}
