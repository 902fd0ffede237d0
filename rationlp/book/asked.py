"""A question typed beside a command, `soy48=365` or `soy_bags=8.50:25kg`, read as the book's own cells are."""

from __future__ import annotations

import re
from datetime import date

from rationlp.book.columns import SUPPLEMENTS
from rationlp.book.reading.cells import Cell
from rationlp.book.reading.notation import CellFault, Notation
from rationlp.book.reading.typed_dates import EXAMPLE, typed_date
from rationlp.book.reading.unit_words import PRICE_PER
from rationlp.book.reading.values import read_cell
from rationlp.book.records import Settings
from rationlp.errors import Problem, RequestError
from rationlp.units import BOOK_PRICE_MASS_KG, KG_PER_TONNE

FAR = 4.0
"""A price this many times today's, or as many times below it, is asked about: it may be that of a bag."""


PERCENT_MORE = re.compile(r"([+-]\d{1,2}(?:[.,]\d+)?)\s*%")
"""So much more or less than today: `+20%`, `-7.5 %`."""


def read_asked_price(text: str, settings: Settings, today_per_tonne: float | None) -> float:
    """Money per tonne that `365`, `$365/ton`, `8.50:25kg` or `+20%` (of today's) means in a book with these settings.

    `today_per_tonne` is what the book says; a price far from it is taken only with its mass. Raises RequestError.
    """
    percent = PERCENT_MORE.fullmatch(text.strip())
    if percent and today_per_tonne is not None:
        return today_per_tonne * (1 + float(percent[1].replace(",", ".")) / 100)
    money, colon, mass = text.partition(":")
    if not colon and (told := PRICE_PER.fullmatch(text.strip())):
        money, colon, mass = told["price"], "/", told["per"]
    usual_kg = BOOK_PRICE_MASS_KG[settings.units]
    price = _read(money, "price", text, settings)
    per_kg = _read(mass, "per_mass", text, settings) if colon else usual_kg
    per_tonne = price * KG_PER_TONNE / per_kg
    if not colon and today_per_tonne and price and not 1 / FAR < per_tonne / today_per_tonne < FAR:
        unit = "t" if settings.units == "metric" else "ton"
        today = today_per_tonne * usual_kg / KG_PER_TONNE
        bag = "25kg" if settings.units == "metric" else "50lb"
        raise RequestError(
            [
                Problem(
                    "error",
                    "price",
                    "",
                    f"{text} per {unit} where the book has {today:,.2f}",
                    "a price nearer to it, or a price with the mass it is for",
                    f"Write {text}:{bag} for the price of a bag, {text}:1{unit} if it is meant as it stands.",
                )
            ]
        )
    return per_tonne


def _read(text: str, column: str, whole: str, settings: Settings) -> float:
    cell = Cell(text.strip() or None, "")
    notation = Notation(settings.units, settings.date_format, currency=settings.currency)
    try:
        value = read_cell(cell, SUPPLEMENTS.column(column), notation)
    except CellFault as fault:
        raise RequestError([Problem("error", "price", "", fault.found, fault.expected, fault.do)]) from None
    if not isinstance(value, float | int):
        raise RequestError(
            [Problem("error", "price", "", repr(whole), "a price such as 365 or 8.50:25kg", "Write the price.")]
        )
    return float(value)


def read_asked_day(name: str, text: str, farm: Settings) -> date:
    """The day that `text` of the option `name` means: as days are written in the book, or year first.

    Raises RequestError.
    """
    try:
        return typed_date(text, farm.date_format)
    except ValueError:
        expected, do = f"a date such as {farm.day(EXAMPLE)}", "Write day, month and year as the book does."
        raise RequestError([Problem("error", name, "", repr(text), expected, do)]) from None
