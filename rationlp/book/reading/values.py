"""What a cell says, in SI units: one function per kind of column, each refusing with found, expected and what to do."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from unicodedata import category

from rationlp.book.column import Column, book_unit
from rationlp.book.reading.cells import Cell
from rationlp.book.reading.notation import CellFault, Notation, Pending
from rationlp.book.reading.typed.beside_numbers import shares_meant, what_to_write
from rationlp.book.reading.typed_dates import EXAMPLE, TwoDates, spelt, typed_date
from rationlp.book.reading.typed_numbers import (
    Quantity,
    TwoReadings,
    feet_and_inches,
    hundredths,
    quantity,
    tidy,
    typed_number,
    without_currency,
)
from rationlp.book.reading.unit_words import BAG, BUSHEL, HEADS, TYPED, density_unit, length_unit, mass_unit, priced_for
from rationlp.book.words import BLANK, CHOICE_WORDS, NO, NO_BOUND, NOUGHT, SAYS_NO, SAYS_YES, YES
from rationlp.finder import names_of, plain
from rationlp.numbers import as_typed
from rationlp.units import (
    BOOK_DENSITY_UNIT,
    BOOK_LENGTH_UNIT,
    BOOK_MASS_UNIT,
    DENSITY_KG_M3,
    LENGTH_M,
    M_PER_FT,
    MASS_KG,
    unclear_mass,
)

_FIRST_DAY = date(1899, 12, 30)
"""Day 0 of the dates of spreadsheet programs."""
_SERIAL_DATES = range(32874, 73415)
"""Numbers that a spreadsheet program shows as dates of 1990 to 2100."""
_ACROSS = re.compile(r"\s*\b(?:dia|diam|diameter|across|wide|deep|high|tall)\.?\s*$", re.IGNORECASE)
"""Which way a length goes, as people write behind it."""
JOINERS = "\u200c\u200d"
"""Invisible characters that some scripts need inside words."""
LONGEST_NAME, LONGEST_NOTE = 250, 5000
"""Characters of a name or label, and of a note."""
GRAM_COLUMNS = "_g"
"""Ending of columns whose bare number is in grams."""


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
    if cell.value is None or (not column.required and _is_blank(cell.value, column)):
        return None
    return _READERS[column.kind](cell, column, notation)


def shown(value: object, notation: Notation) -> str:
    """A value as it is told to a person; a day as the book writes days."""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, (datetime, date)):
        return f"the date {value.strftime(notation.date_format)}"
    if isinstance(value, time):
        return f"the time {value:%H:%M}"
    return repr(value) if isinstance(value, str) else f"{value:.10g}"


def expected_words(column: Column, notation: Notation) -> str:
    """What a cell of the column should hold, in the units of the book."""
    unit, typed = column.unit_words(notation.units), TYPED[notation.units]
    words = {
        "text": "text",
        "id": "a name",
        "number": "a number",
        "money": "a price as a plain number",
        "mass": f"a mass in {unit}, or with its own unit such as {typed['mass']}",
        "length": f"a length in {unit}, or with its own unit such as {typed['length']}",
        "density": f"a test weight in {unit}, or with its own unit such as {typed['density']}",
        "percent": "a percentage",
        "integer": "a whole number",
        "date": "a date",
        "yes_no": "yes or no",
        "choice": f"one of {', '.join(column.choices)}",
    }[column.kind]
    _, si = book_unit(column.kind, notation.units)
    range_words = f"{column.range_words(1 / si)} {unit}".rstrip(" %") if column.range_words() else ""
    return f"{words} ({range_words})" if range_words else words


def _is_blank(value: object, column: Column) -> bool:
    """Whether a cell that may be left blank says that there is nothing to say: `-`, `n/a`."""
    if not isinstance(value, str) or column.kind in ("text", "id"):
        return False
    return tidy(value).casefold() in (BLANK | NO_BOUND if column.kind == "percent" else BLANK)


# Numbers --------------------------------------------------------------------------------------------------------


def _number(cell: Cell, column: Column, notation: Notation) -> float:
    if isinstance(cell.value, str) and column.name.endswith(GRAM_COLUMNS):
        return checked(_grams(cell.value, column, notation), cell, column, notation)
    return checked(_bare_number(cell, column, notation), cell, column, notation)


def _grams(text: str, column: Column, notation: Notation) -> float:
    """A mass in grams, or with its own unit."""
    if tidy(text).casefold() in NOUGHT:
        return 0.0
    with _asking(text, column, notation):
        found = quantity(text, notation.decimal)
        unit = mass_unit(found.unit) if found.unit else "g"
        return round(found.number * MASS_KG[unit] / MASS_KG["g"], 9)


def _money(cell: Cell, column: Column, notation: Notation) -> float:
    if cell.unit:
        _in_currency(_with_unit(cell), notation)
    if not isinstance(cell.value, str):
        return _number(cell, column, notation)
    cents = hundredths(cell.value)
    if cents is not None:
        return checked(_text_number(cents, column, notation) / 100, cell, column, notation)
    text = _in_currency(cell.value, notation)
    return checked(_text_number(text, column, notation), cell, column, notation)


def _in_currency(text: str, notation: Notation) -> str:
    """A price without its currency. Raises CellFault if that is not the one of the book."""
    try:
        return without_currency(text, notation.currency)
    except ValueError as error:
        expected = f"a price in {notation.currency}, the currency of the book"
        raise CellFault(f"{text!r}, in {error}", expected, "Turn it into the currency of the book.") from None


def _bare_number(cell: Cell, column: Column, notation: Notation) -> float:
    value = cell.value
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return value
    if isinstance(value, str):
        return _text_number(value, column, notation)
    raise CellFault(
        shown(value, notation), expected_words(column, notation), "Type the number; check how the cell is formatted."
    )


def _text_number(text: str, column: Column, notation: Notation) -> float:
    """A number written as text. Raises CellFault if it is none, or could be read in two ways."""
    with _asking(text, column, notation):
        return typed_number(text, notation.decimal)


@contextmanager
def _asking(text: str, column: Column, notation: Notation) -> Iterator[None]:
    """Turns what a number or a unit cannot be read for into what to ask. Raises CellFault."""
    try:
        yield
    except TwoReadings as two:
        found = f"{text!r}, which can be read in two ways: {two}"
        raise CellFault(
            found, expected_words(column, notation), "Write it with a decimal point, and nothing between thousands."
        ) from None
    except (KeyError, ValueError):
        do = what_to_write(text, column, measured=column.kind in _TABLES)
        raise CellFault(repr(text), expected_words(column, notation), do) from None


def checked(value: float, cell: Cell, column: Column, notation: Notation) -> float:
    """The value if it lies in the column's range. `value` is in the unit the kind is kept in."""
    if value != value or value in (float("inf"), float("-inf")) or not column.in_range(value):
        unit, si = book_unit(column.kind, notation.units)
        said = "" if not unit or _same_number(cell.value, value / si) else f" (that is {value / si:.7g} {unit})"
        limits = f"{column.range_words(1 / si)} {unit}".rstrip()
        do = "Correct it." if value < 0 else (not value and column.if_nought) or "Correct it, or check its unit."
        raise CellFault(f"{shown(cell.value, notation)}{said}", f"{column.name} {limits}", do)
    return value


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
    if isinstance(cell.value, str):
        text = re.sub(r"^[%％]\s*|\s*(%|％|percent|per cent|pct)\.?$", "", tidy(cell.value), flags=re.IGNORECASE)
        if text == tidy(cell.value) and (shares := shares_meant(text)):
            found = " or ".join(f"{as_typed(share)} %" for share in shares)
            do = f"Write {as_typed(shares[1])} if that is meant, or a number with the percent sign."
            raise CellFault(f"{cell.value!r}, which can be read in two ways: {found}", "a percentage", do)
        return checked(_text_number(text, column, notation), cell, column, notation)
    number = _bare_number(cell, column, notation)
    return checked(round(number * 100, 9) if cell.percent else number, cell, column, notation)


def _integer(cell: Cell, column: Column, notation: Notation) -> int:
    value = cell.value
    if isinstance(value, str) and column.name == "head":
        value = HEADS.sub("", tidy(value))
    if isinstance(value, str) and (thousands := re.fullmatch(r"([1-9]\d{0,2})\.(\d{3})", tidy(value))):
        do = f"Write {thousands[1]}{thousands[2]}, with nothing between thousands, or the whole number that is meant."
        raise CellFault(f"{value!r}, perhaps {thousands[1]},{thousands[2]}", "a whole number", do)
    number = _number(Cell(value, cell.address, cell.percent, cell.fault), column, notation)
    if number != int(number):
        raise CellFault(shown(cell.value, notation), "a whole number", "Correct it.")
    return int(number)


# Masses, lengths, test weights ----------------------------------------------------------------------------------


def _quantity(cell: Cell, column: Column, notation: Notation) -> Quantity:
    """A number with the unit that stands beside it, in its cell, its format or its heading. Raises CellFault."""
    if not isinstance(cell.value, str):
        return Quantity(_bare_number(cell, column, notation), cell.unit)
    text = priced_for(tidy(cell.value)) if column.name == "per_mass" else tidy(cell.value)
    with _asking(cell.value, column, notation):
        found = quantity(text, notation.decimal)
    return found if found.unit else Quantity(found.number, cell.unit)


def _mass(cell: Cell, column: Column, notation: Notation) -> float | Pending:
    """Kilograms, or bushels and bags, which the row has to say the mass of."""
    found = _quantity(cell, column, notation)
    with _asking(_with_unit(cell), column, notation):
        unit = mass_unit(found.unit) if found.unit else BOOK_MASS_UNIT[notation.units]
    if which := unclear_mass(found.unit if found.unit == "T" else unit, notation.units):
        raise CellFault(repr(_with_unit(cell)), *which)
    if unit in (BUSHEL, BAG):
        return Pending(found.number, unit, _with_unit(cell))
    return checked(found.number * MASS_KG[unit], cell, column, notation)


def _length(cell: Cell, column: Column, notation: Notation) -> float:
    if isinstance(cell.value, str):
        with _asking(cell.value, column, notation):
            feet = feet_and_inches(_ACROSS.sub("", cell.value), notation.decimal)
        if feet is not None:
            return checked(feet * M_PER_FT, cell, column, notation)
        cell = replace(cell, value=_ACROSS.sub("", cell.value))
    return _measured(cell, column, notation)


_TABLES: dict[str, tuple[dict[str, float], dict[str, str], Callable[[str], str]]] = {
    "mass": (MASS_KG, BOOK_MASS_UNIT, mass_unit),
    "length": (LENGTH_M, BOOK_LENGTH_UNIT, length_unit),
    "density": (DENSITY_KG_M3, BOOK_DENSITY_UNIT, density_unit),
}
"""SI per unit, the unit of a bare number, and what people call the units."""


def _measured(cell: Cell, column: Column, notation: Notation) -> float:
    """A number in the book's unit or with its own unit, into SI."""
    table, unit_of_book, canonical = _TABLES[column.kind]
    found = _quantity(cell, column, notation)
    with _asking(_with_unit(cell), column, notation):
        value = found.number * table[canonical(found.unit) if found.unit else unit_of_book[notation.units]]
    return checked(value, cell, column, notation)


def _with_unit(cell: Cell) -> str:
    """What a cell shows, with the unit of its format or heading."""
    return cell.value if isinstance(cell.value, str) else f"{cell.value} {cell.unit}".rstrip()


# Dates, words and names -----------------------------------------------------------------------------------------


def _date(cell: Cell, column: Column, notation: Notation) -> date:
    value = cell.value
    day = value.date() if isinstance(value, datetime) else value
    expected = f"a date such as {EXAMPLE:%Y-%m-%d}"
    if notation.date_format != "%Y-%m-%d":
        expected += f" or {EXAMPLE.strftime(notation.date_format)}"
    if isinstance(day, str):
        day = _text_date(day, notation, expected)
    elif not isinstance(day, date):
        do = "Type the date, or format the cell as a date."
        if isinstance(day, int) and not isinstance(day, bool) and day in _SERIAL_DATES:
            do = f"If {spelt(_FIRST_DAY + timedelta(day))} is meant, format the cell as a date."
        raise CellFault(shown(value, notation), expected, do)
    if not 1990 <= day.year <= 2100:
        raise CellFault(shown(day, notation), f"{expected}, of the years 1990 to 2100", "Correct the year.")
    return day


def _text_date(text: str, notation: Notation, expected: str) -> date:
    try:
        return typed_date(text, notation.date_format)
    except TwoDates as two:
        which = f"{two}, by which number is the month" if len(two.readings) > 1 else f"perhaps {two}"
        do = "Write the month by name, such as 15 Sep 2026, or say in date_format on 'farm' how dates are written."
        raise CellFault(f"{text!r}: {which}", expected, do) from None
    except ValueError:
        do = "Correct it; the setting date_format says how dates are written."
        raise CellFault(repr(text), expected, do) from None


def _yes_no(cell: Cell, column: Column, notation: Notation) -> bool:
    if isinstance(cell.value, bool):
        return cell.value
    answer = plain(cell.value).rstrip(".!")
    yes = YES | SAYS_YES.get(column.name, frozenset())
    if answer not in yes | NO | SAYS_NO.get(column.name, frozenset()):
        raise CellFault(shown(cell.value, notation), "yes or no", "Write yes or no, or leave it blank.")
    return answer in yes


def _choice(cell: Cell, column: Column, notation: Notation) -> str | None:
    value = plain(cell.value)
    meant = [choice for choice in CHOICE_WORDS.get(value, ()) if choice in column.choices]
    if value not in column.choices and len(meant) != 1:
        if value == "none" and not column.required:
            return None
        do = names_of(column.choices).suggestion(value, "Choose one of them.")
        raise CellFault(shown(cell.value, notation), f"one of {', '.join(column.choices)}", do)
    return value if value in column.choices else meant[0]


def _text(cell: Cell, column: Column, notation: Notation) -> str:
    value = cell.value
    if isinstance(value, (datetime, date)):
        return f"{value:%Y-%m-%d}"
    if isinstance(value, bool):
        return shown(value, notation)
    return _printable(value, column) if isinstance(value, str) else f"{value:.15g}"


def _printable(text: str, column: Column) -> str:
    """The text, if it holds no control character and nothing invisible; a note may have line breaks.

    Raises CellFault.
    """
    is_note = column.kind == "text" and column.name not in ("label", "name")
    allowed = "\n\r\t" + JOINERS if is_note else ""
    odd = next((letter for letter in text if category(letter) in ("Cc", "Cs", "Cf") and letter not in allowed), None)
    longest = LONGEST_NOTE if is_note else LONGEST_NAME
    if odd is not None:
        kind = "an invisible" if category(odd) == "Cf" else "a control"
        raise CellFault(
            f"{text[:40]!r} with {kind} character (code {ord(odd)})",
            "letters, digits and signs that can be printed",
            "Type the text again.",
        )
    if len(text) > longest:
        raise CellFault(f"{len(text):,} characters", f"at most {longest:,}", "Shorten it.")
    return text


def _id(cell: Cell, column: Column, notation: Notation) -> str | None:
    """A name of the farm as written; an id of the library or of the book's own feeds and stages in lower case.

    Dashes alone (`--`) are no name: nothing is said where a name may be left out. Raises CellFault where it may not.
    """
    text = _text(cell, column, notation)
    if column.refers_to in ("", "bins", "samples", "supplements", "lots", "weighed"):
        return text
    if not plain(text) and column.required:
        raise CellFault(repr(text), expected_words(column, notation), "Type the name.")
    return plain(text) or None


_READERS: dict[str, Callable[[Cell, Column, Notation], object]] = {
    "text": _text,
    "id": _id,
    "mass": _mass,
    "length": _length,
    "density": _measured,
    "percent": _percent,
    "number": _number,
    "money": _money,
    "date": _date,
    "yes_no": _yes_no,
    "choice": _choice,
    "integer": _integer,
}
