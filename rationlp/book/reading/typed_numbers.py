"""Numbers as people type them: `3,000`, `1.234,5`, `$365`, `50#`, `12' 6"`; what has two readings is asked."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

Decimal = Literal["point", "comma", "either", "unknown"]
"""How a book writes decimals: with a point (3,000 is three thousand); with a comma; with a point, but a comma may be
one too (`either`); or nothing is known, so that a single sign before three digits is always asked."""

CURRENCY_SIGNS = {"$": ("USD", "CAD", "AUD", "NZD", "MXN"), "€": ("EUR",), "£": ("GBP",), "¥": ("JPY", "CNY")}
_DOLLARS = re.compile(r"(?<![A-Za-z])(?P<whose>US|CA?|AU?|NZ)D? ?\$")
_WHOSE = {"C": "CA", "A": "AU"}
PRICE_TERMS = frozenset({"FOB", "FAS", "EXW", "FCA", "CIF", "CFR", "CPT", "CIP", "DAP", "DDP", "DEL", "NET"})
"""Terms of sale in three capital letters, which are no currencies (common practice)."""
_DOLLAR_WORD = re.compile(r"(?<=\d) ?(?:dollars?|bucks?)$", re.IGNORECASE)
_CENTS = re.compile(r"(?P<number>\d[\d.,]*) ?(?:\u00a2|c|ct|cents?)\.?", re.IGNORECASE)
_PLAIN = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_GROUPED = {mark: re.compile(rf"[-+]?\d{{1,3}}(?:{re.escape(mark)}\d{{3}})+") for mark in (",", ".", " ", "'")}
_BY_LAKHS = re.compile(r"[-+]?\d{1,2}(?:,\d{2})+,\d{3}(?:\.\d+)?")
"""Numbers as written in India: 1,25,000 is a hundred and twenty-five thousand."""
_COMMA = re.compile(r"[-+]?\d*,\d+")
_FRACTION = re.compile(r"(?P<whole>\d+)\s+(?P<over>\d+)\s*/\s*(?P<under>[1-9]\d*)|(?P<over2>\d+)/(?P<under2>[1-9]\d*)")
_PARTS = (2, 3, 4, 8, 16, 32)
"""What a measure is parted by: `3/4 ton`. Any other stroke between numbers (`389/395`) is no fraction."""
_VULGAR = {
    "½": " 1/2",
    "¼": " 1/4",
    "¾": " 3/4",
    "⅓": " 1/3",
    "⅔": " 2/3",
    "⅛": " 1/8",
    "⅜": " 3/8",
    "⅝": " 5/8",
    "⅞": " 7/8",
}
_QUOTES = str.maketrans({"’": "'", "′": "'", "‘": "'", "`": "'", "”": '"', "″": '"', "“": '"', "−": "-", "–": "-"})
_AS_TEXT = re.compile(r"^'(?=[-+]?[\d.,])")
"""The sign before a number that a spreadsheet program was to keep as text."""
_SPACES = re.compile(r"[\s\u00a0\u2007\u2009\u202f]+")


class TwoReadings(ValueError):
    """A number that can be read in two ways; `readings` are the two."""

    def __init__(self, *readings: float):
        self.readings = readings
        super().__init__(" or ".join(f"{reading:,.10g}" for reading in readings))


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with the unit behind it as typed, or none."""

    number: float
    unit: str = ""


def tidy(text: str) -> str:
    """The text with plain quotes, minus signs, fractions and single blanks."""
    for sign, written in _VULGAR.items():
        text = text.replace(sign, written)
    return _AS_TEXT.sub("", _SPACES.sub(" ", text.translate(_QUOTES)).strip())


def typed_number(text: str, decimal: Decimal) -> float:
    """The number that `text` writes. Raises TwoReadings, or ValueError if it is no number.

    Blanks and apostrophes stand between thousands only. Of comma and point the last is the decimal sign where both
    stand; one that stands twice is between thousands. A single one before three digits has two readings unless the
    book tells; `0,500` and `12,4` have one, but in a book with points `12,4` may be a slip.
    """
    text = tidy(text)
    fraction = _FRACTION.fullmatch(text)
    if fraction:
        over, under = int(fraction["over"] or fraction["over2"]), int(fraction["under"] or fraction["under2"])
        if over >= under or under not in _PARTS:
            raise ValueError(text)
        return float(fraction["whole"] or 0) + over / under
    for mark in (" ", "'"):
        head, sign, tail = _decimals(text)
        if mark in text and _GROUPED[mark].fullmatch(head) and (not sign or tail.isdigit()):
            text = text.replace(mark, "")
    if _BY_LAKHS.fullmatch(text):
        return float(text.replace(",", ""))
    if "," in text and "." in text:
        return _both(text)
    for mark in (",", "."):
        if text.count(mark) > 1 and _GROUPED[mark].fullmatch(text):
            return float(text.replace(mark, ""))
    if "," in text:
        return _with_comma(text, decimal)
    if not _PLAIN.fullmatch(text):
        raise ValueError(text)
    if decimal in ("comma", "unknown") and _two_ways(text, "."):
        raise TwoReadings(float(text), float(text.replace(".", "")))
    return float(text)


def quantity(text: str, decimal: Decimal) -> Quantity:
    """A number and its unit: `1.5 t`, `3,000 lb`, `50#`. Raises TwoReadings, or ValueError."""
    match = re.fullmatch(
        r"(?P<number>[-+]?[\d.,][\d.,' /]*?(?:[eE][-+]?\d+)?)\s*-?\s*(?P<unit>[^\d\s.,'/+-].*)?", tidy(text)
    )
    if match is None:
        raise ValueError(text)
    return Quantity(typed_number(match["number"], decimal), (match["unit"] or "").strip(" ."))


def feet_and_inches(text: str, decimal: Decimal) -> float | None:
    """Feet written `12'`, `12' 6"`, `12 ft 6 in`, `144"`; None if `text` is not of this kind. Raises TwoReadings."""
    number = r"\d[\d.,]*(?: \d+/\d+)?"
    match = re.fullmatch(
        rf"(?P<sign>-)?(?:(?P<ft>{number}) ?(?:'|ft\.?|feet|foot)(?!'))?"
        rf"(?:,? and |[ ,-]*)(?:(?P<inch>{number}) ?(?:\"|''|in\.?|inch(?:es)?)?)?",
        tidy(text),
        re.IGNORECASE,
    )
    if match is None or (not match["ft"] and not re.search(r"\"|''|in", text.translate(_QUOTES), re.IGNORECASE)):
        return None
    feet = typed_number(match["ft"], decimal) if match["ft"] else 0.0
    inches = typed_number(match["inch"], decimal) if match["inch"] else 0.0
    if match["ft"] and inches >= 12:
        raise ValueError(text)
    return (-1 if match["sign"] else 1) * (feet + inches / 12)


def hundredths(text: str) -> str | None:
    """The number of cents where a price is written in them (`42 cents`), or None."""
    match = _CENTS.fullmatch(tidy(text))
    return None if match is None else match["number"]


def without_currency(text: str, currency: str) -> str:
    """A price without its sign or letters. Raises ValueError with the sign if it is of another currency."""
    text = _DOLLARS.sub(lambda match: f"{_WHOSE.get(match['whose'], match['whose'])}D ", tidy(text))
    for sign, currencies in CURRENCY_SIGNS.items():
        if sign in text:
            if currency not in currencies:
                raise ValueError(sign)
            text = text.replace(sign, " ")
    if _DOLLAR_WORD.search(text) and currency.endswith("D"):
        text = _DOLLAR_WORD.sub("", text)
    letters = re.search(r"(?<![A-Za-z])[A-Z]{3}(?![A-Za-z])", text)
    if letters and letters[0] not in PRICE_TERMS:
        if letters[0] != currency:
            raise ValueError(letters[0])
        text = text.replace(letters[0], " ")
    return re.sub(r"(?<=\d)[.,]\s?-+$", "", text.strip())


def _decimals(text: str) -> tuple[str, str, str]:
    at = max(text.rfind("."), text.rfind(","))
    return (text, "", "") if at < 0 else (text[:at], text[at], text[at + 1 :])


def _both(text: str) -> float:
    head, sign, tail = _decimals(text)
    mark = "," if sign == "." else "."
    if sign in head or not tail.isdigit() or not _GROUPED[mark].fullmatch(head):
        raise ValueError(text)
    return float(head.replace(mark, "") + "." + tail)


def _with_comma(text: str, decimal: Decimal) -> float:
    if not _COMMA.fullmatch(text):
        raise ValueError(text)
    fine, thousands = float(text.replace(",", ".")), float(text.replace(",", ""))
    if decimal == "comma":
        return fine
    if decimal == "point":
        if _two_ways(text, ","):
            return thousands
        if not text.lstrip("+-").startswith(("0,", ",")):
            raise TwoReadings(fine, thousands)
        return fine
    if _two_ways(text, ","):
        raise TwoReadings(fine, thousands)
    return fine


def _two_ways(text: str, mark: str) -> bool:
    """Whether the mark may stand between thousands: one to three digits, not beginning with 0, before three."""
    return re.fullmatch(rf"[-+]?[1-9]\d{{0,2}}{re.escape(mark)}\d{{3}}", text) is not None
