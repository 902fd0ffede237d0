"""The figures that people write beside a danger: `DON 3.2`, `vom < 0.5 ppm`, `temp at the centre 42 C`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass


def words(text: str) -> frozenset[str]:
    """The words of a text."""
    return frozenset(text.split())


BELOW = words("< below under less")
LEADING = BELOW | words(
    ": = - ~ > is was were at of than over above about around approx approximately level levels test tests tested "
    "testing result results content reading reads read came back max up to now the core centre center middle top "
    "bottom inside"
)
"""Words that may stand between what is spoken of and its figure."""
MOST_LEADING = 4
DEGREES = frozenset({"°", "deg", "degree", "degrees"})
UNITS = {
    ("ppm",): "ppm",
    ("ppb",): "ppb",
    ("%",): "%",
    ("percent",): "%",
    ("pct",): "%",
    ("mg", "/", "kg"): "mg/kg",
    ("ug", "/", "kg"): "ug/kg",
    ("mcg", "/", "kg"): "ug/kg",
    ("g", "/", "kg"): "g/kg",
}
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_THOUSANDS = re.compile(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class WrittenFigure:
    """A figure of a note: the highest of a range, its unit if one is written, and whether it is only said to be below.

    `number_end` and `end` are the places behind its number and behind its unit.
    """

    value: float
    unit: str
    below: bool
    number_end: int
    end: int


def number_of(token: str) -> float | None:
    """The number a token is, with a point or a comma; None where it is none."""
    if _THOUSANDS.fullmatch(token):
        return float(token.replace(",", ""))
    return float(token.replace(",", ".")) if _NUMBER.fullmatch(token) else None


def figure_at(tokens: Sequence[str], start: int) -> WrittenFigure | None:
    """The figure at `start`, or behind a few words that lead to it (`: `, `was about`); None without one."""
    place = start
    while place < len(tokens) and place - start < MOST_LEADING and tokens[place] in LEADING:
        place += 1
    below = any(token in BELOW for token in tokens[start:place])
    values: list[float] = []
    while place < len(tokens):
        number = number_of(tokens[place])
        if number is None and not (values and tokens[place] == "to" and _is_number(tokens, place + 1)):
            break
        values += [] if number is None else [number]
        place += 1
    if not values:
        return None
    unit, end = _unit_at(tokens, place)
    while place < len(tokens) and tokens[place] in DEGREES:
        place += 1
    return WrittenFigure(max(values), unit, below, place, max(end, place))


def _is_number(tokens: Sequence[str], place: int) -> bool:
    return place < len(tokens) and number_of(tokens[place]) is not None


def _unit_at(tokens: Sequence[str], place: int) -> tuple[str, int]:
    for words, unit in UNITS.items():
        if tuple(tokens[place : place + len(words)]) == words:
            return unit, place + len(words)
    return "", place
