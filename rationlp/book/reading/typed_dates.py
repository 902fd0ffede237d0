"""Dates as people type them: in the order of the book, with a month by name, or so that only one order is possible."""

from __future__ import annotations

import re
from datetime import date, datetime

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
EXAMPLE = date(2025, 9, 30)
_DATE_TOKENS = (("YYYY", "%Y"), ("YY", "%y"), ("MM", "%m"), ("DD", "%d"))
ORDERS = ("ymd", "mdy", "dmy")
_NUMBERS = re.compile(r"(\d{1,4})\s*([-./ ])\s*(\d{1,2})\s*\2\s*(\d{1,4})\.?")
_TIME = re.compile(r"(?<=\d)[T ]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?Z?$")
_WEEKDAY = re.compile(r"^(?:mon|tues?|wed(?:nes)?|thu(?:rs?)?|fri|sat(?:ur)?|sun)(?:day)?\b[., ]*", re.IGNORECASE)
_ALL_DIGITS = re.compile(r"((?:19|20)\d\d)(\d\d)(\d\d)")
_NAMED = (
    re.compile(r"(?P<d>\d{1,2})(?:st|nd|rd|th)?(?: of |[-./ ]*)(?P<m>[a-z]{3,9})[-./, ]*'?(?P<y>\d{4}|\d{2})"),
    re.compile(r"(?P<m>[a-z]{3,9})[-./ ]*(?P<d>\d{1,2})(?:st|nd|rd|th)?[-./, ]+'?(?P<y>\d{4}|\d{2})"),
    re.compile(r"(?P<y>\d{4})[-./ ]*(?P<m>[a-z]{3,9})[-./ ]*(?P<d>\d{1,2})"),
)


class TwoDates(ValueError):
    """A date that can be read in several ways; `readings` are these."""

    def __init__(self, readings: list[date]):
        self.readings = readings
        super().__init__(" or ".join(spelt(reading) for reading in readings))


def typed_date(text: str, date_format: str) -> date:
    """The day that `text` writes in a book of this `date_format` (`%d.%m.%Y`).

    Year first (`20260915` too), a month by name, and dates in the book's order are read; in another order only where
    no other day is possible and the book has year first. Raises TwoDates, or ValueError if it is no date.
    """
    text = _WEEKDAY.sub("", _TIME.sub("", text.strip())).strip()
    if (digits := _ALL_DIGITS.fullmatch(text)) is not None:
        return _of(digits.groups(), "ymd")
    if (named := _named(text)) is not None:
        return named
    match = _NUMBERS.fullmatch(text)
    if match is None:
        raise ValueError(text)
    parts = match[1], match[3], match[4]
    if len(parts[0]) > 2:
        return _of(parts, "ymd")
    own = order_of(date_format)
    if own != "ymd":
        return _in_own_order(parts, own, dotted=match[2] == ".")
    orders = ORDERS if len(parts[2]) <= 2 else ORDERS[1:]
    days = list(dict.fromkeys(day for order in orders if (day := _try(parts, order)) is not None))
    if not days:
        raise ValueError(text)
    if len(days) > 1:
        raise TwoDates(days)
    return days[0]


def strptime_format(text: str) -> str:
    """`DD.MM.YYYY` or `%d.%m.%Y` as the latter. Raises ValueError unless it names day, month and year once each."""
    pattern = text.strip()
    if "%" not in pattern:
        pattern = pattern.upper()
        for token, directive in _DATE_TOKENS:
            pattern = pattern.replace(token, directive, 1)
    told = EXAMPLE.strftime(pattern)
    if datetime.strptime(told, pattern).date() != EXAMPLE or re.search("[A-Z]", re.sub("%.", "", pattern)):
        raise ValueError(f"{text!r} does not say where day, month and year stand")
    return pattern


def order_of(date_format: str) -> str:
    """`mdy` of `%m/%d/%Y`."""
    return "".join(letter.lower() for letter in re.findall(r"%([YymdB])", date_format)).replace("b", "m")


def spelt(day: date) -> str:
    """A day that cannot be misread: 15 September 2026."""
    return f"{day.day} {day:%B} {day.year}"


def _in_own_order(parts: tuple[str, ...], own: str, dotted: bool) -> date:
    """With points people write the day first: in a book of months first, 5.10.2025 may be either."""
    day = _try(parts, own)
    other = _try(parts, "dmy" if own == "mdy" else "mdy")
    if day is not None and dotted and own == "mdy" and other is not None and other != day:
        raise TwoDates([day, other])
    if day is not None:
        return day
    if other is None:
        raise ValueError("/".join(parts))
    raise TwoDates([other])


def _named(text: str) -> date | None:
    for pattern in _NAMED:
        match = pattern.fullmatch(text.casefold().replace("sept.", "sep").replace("sept ", "sep "))
        if match is None:
            continue
        month = next((n for n, name in enumerate(MONTHS, start=1) if _is_month(match["m"], n, name)), 0)
        if month:
            return _of((match["y"], str(month), match["d"]), "ymd")
    return None


def _is_month(word: str, number: int, short: str) -> bool:
    return word == short or (word == "sept" and number == 9) or word == f"{date(2000, number, 1):%B}".casefold()


def _try(parts: tuple[str, ...], order: str) -> date | None:
    try:
        return _of(parts, order)
    except ValueError:
        return None


def _of(parts: tuple[str, ...], order: str) -> date:
    """Raises ValueError for no such day."""
    said = dict(zip(order, parts, strict=True))
    if len(said["y"]) not in (2, 4):
        raise ValueError("/".join(parts))
    return date(int(said["y"]) + (2000 if len(said["y"]) == 2 else 0), int(said["m"]), int(said["d"]))
