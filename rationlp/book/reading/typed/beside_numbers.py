"""What people write in place of one number or around it: about 300, a range, `FOB`; and what to write instead."""

from __future__ import annotations

import re

from rationlp.book.column import FIGURES, Column
from rationlp.book.reading.typed.figures import no_number
from rationlp.book.reading.typed_numbers import PRICE_TERMS, tidy
from rationlp.book.words import EMPTY
from rationlp.finder import plain

_TERMS = re.compile(
    rf"(?<![A-Za-z])(?:{'|'.join(sorted(PRICE_TERMS))}|f\.o\.b\.|ex[- ]?(?:works|farm|mill|store|yard)|deliver(?:ed|y)"
    r"|del'?d|dlvd|dely|pick(?:ed)?[- ]?up|p/u|collected|freight|cash|plus|incl(?:uding|\.)?|excl(?:uding|\.)?)"
    r"(?![A-Za-z])",
    re.IGNORECASE,
)
LONGEST = 80
"""Characters of what is looked at: no number of a cell is longer."""
_NUMBER = r"[-+]?[$\u20ac\u00a3]?\d[\d.,' ]*"
_ROUGHLY = re.compile(
    r"(?:abt|about|approx|approximately|appr|ca|circa|c|around|roughly|some|say|est|estimated|nearly|almost|[~\u2248])"
    rf"\.?\s*{_NUMBER}.*|{_NUMBER}.*?(?:or so|ish|est\.?|\?+|\*+)",
    re.IGNORECASE,
)
_RANGE = re.compile(rf"{_NUMBER}[^\d]{{0,8}}?\s*(?:-|/|to|or|\.\.+)\s*{_NUMBER}[^\d]*", re.IGNORECASE)
_SPREAD = re.compile(rf"{_NUMBER}.*?(?:\u00b1|\+/-|\+-).*")
_BARE_FRACTION = re.compile(r"(?P<over>\d+) ?/ ?(?P<under>[1-9]\d*)")


def shares_meant(text: str) -> tuple[float, float] | None:
    """The two readings in percent of a fraction without the sign: `1/20` is 0.05 or 5; None if it is none."""
    match = _BARE_FRACTION.fullmatch(tidy(text))
    if match is None:
        return None
    share = float(match["over"]) / float(match["under"])
    return share, 100 * share


def what_to_write(text: str, column: Column, measured: bool) -> str:
    """What to write in place of `text`, which is no number. `measured` columns take a unit beside it."""
    said = tidy(text)[:LONGEST]
    if column.name in FIGURES and (told := no_number(said)):
        return told
    if column.if_nought and plain(text) in EMPTY:
        return column.if_nought
    if column.kind == "money" and any(letter.isdigit() for letter in said) and _TERMS.search(said):
        return "Write the price alone, as it is before freight; what it costs to bring the feed here goes into freight."
    if _SPREAD.fullmatch(said):
        return "Write the number before the sign alone" + (
            ", and the standard deviation in its own column." if column.name == "value" else "."
        )
    if _RANGE.fullmatch(said):
        return "Write one number, the one to work with" + (
            "; how low and how high it may go stands in price_low and price_high." if column.name == "price" else "."
        )
    if _ROUGHLY.fullmatch(said):
        return "Write the best estimate as a number alone; say in a note or label how rough it is."
    if measured:
        return "Write a number, or a number with its unit."
    return f"Write the number alone{'' if column.kind == 'integer' else ', with a decimal point'}."
