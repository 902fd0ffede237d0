"""Pictures as shapes: rectangles, lines, words and areas, which a template draws as SVG.

A picture is 340 units wide, so that on a phone a unit is a pixel and its words stay readable. Nothing in it is told by
colour alone: names and numbers stand beside the marks, and its numbers stand in a table of the page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

WIDTH = 340.0
ROW, TOP, FOOT = 17.0, 4.0, 18.0
NAME_LETTERS, LETTER = 23, 6.9
"""Most letters of a name at the left, and the room of one in the letters of a printed picture."""
MONTH, FIVE_LETTERS = 24.0, 36.0
"""Room that the name of a month needs, and a sum of five letters."""


@dataclass(frozen=True, slots=True)
class Shape:
    """One mark: `kind` is rect, line, text or path, `places` its numbers, `look` its class, `words` a text or path."""

    kind: str
    look: str
    places: tuple[float, ...] = ()
    words: str = ""


@dataclass(frozen=True, slots=True)
class Plot:
    """A picture with what it shows in words."""

    title: str
    told: str
    height: float
    shapes: tuple[Shape, ...]
    width: float = WIDTH


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar with its spread; `words` is what stands behind it."""

    label: str
    value: float
    low: float
    high: float
    words: str


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch from `low` to `high` (None: without end)."""

    label: str
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Stretch:
    """A bar of a calendar, from and to a day of it (0 the first), both counted."""

    label: str
    days: tuple[tuple[int, int], ...]


def bars(title: str, told: str, rows: Sequence[Bar]) -> Plot:
    """Horizontal bars from 0, a whisker for the spread of each."""
    most = max((max(row.high, row.value) for row in rows), default=1.0) or 1.0
    names = _room_of_names(row.label for row in rows)
    room = WIDTH - names - 84
    shapes = []
    for place, row in enumerate(rows):
        y = TOP + place * ROW
        at = names + room * row.value / most
        low, high = (names + room * max(x, 0.0) / most for x in (row.low, row.high))
        shapes += [
            _label(row.label, names, y),
            Shape("rect", "bar", (names, y + 2, max(at - names, 0.5), ROW - 6)),
            Shape("line", "whisker", (low, y + ROW / 2 - 1, high, y + ROW / 2 - 1)),
            *(Shape("line", "whisker", (x, y + 4, x, y + ROW - 6)) for x in (low, high)),
            Shape("text", "words", (max(at, high) + 4, y + 12), row.words),
        ]
    return Plot(title, told, TOP + len(rows) * ROW + 2, tuple(shapes))


def spans(title: str, told: str, rows: Sequence[Span], low: float, high: float) -> Plot:
    """Stretches on one scale from `low` to `high` percent of today's price (100), with a line at today."""
    names = _room_of_names(row.label for row in rows)
    left, right = names + 4, WIDTH - 10

    def at(value: float) -> float:
        return left + (right - left) * (min(max(value, low), high) - low) / (high - low)

    height = 13.0
    foot, half = TOP + len(rows) * height, height / 2 - 2
    shapes = [Shape("line", "today", (at(100), TOP, at(100), foot + 2))]
    for place, row in enumerate(rows):
        y = TOP + place * height
        start, end = (at(low if row.low is None else row.low), at(high if row.high is None else row.high))
        shapes += [
            _label(row.label, names, y - 2),
            Shape("line", "rail", (left, y + height / 2, right, y + height / 2)),
            Shape("rect", "bar", (start, y + 3, max(end - start, 1.5), height - 6)),
        ]
        for outside, x, sign in (
            (row.low is None or row.low < low, left, -1),
            (row.high is None or row.high > high, right, 1),
        ):
            if outside:
                shapes.append(
                    Shape(
                        "path",
                        "bar",
                        words=f"M{x:.1f} {y + 2:.1f}l{6 * sign} {half:.1f}l{-6 * sign} {half:.1f}z",
                    )
                )
    for value, look, x in ((low, "tick", left), (100.0, "tick", at(100)), (high, "tick end", WIDTH - 1)):
        shapes.append(Shape("text", look, (x, foot + 13), f"{value:.0f} %"))
    return Plot(title, told, foot + FOOT, tuple(shapes))


def calendar(title: str, told: str, rows: Sequence[Stretch], days: int, months: Sequence[tuple[float, str]]) -> Plot:
    """Who is there when: a row each over `days` days, a line at the first day of each month."""
    names = _room_of_names(row.label for row in rows)
    room = WIDTH - names - 4

    def at(day: float) -> float:
        return names + room * day / days

    row_height = 13.0
    foot = TOP + len(rows) * row_height
    shapes = [Shape("line", "rail", (at(day), TOP, at(day), foot)) for day, _ in months]
    for place, row in enumerate(rows):
        y = TOP + place * row_height
        shapes.append(_label(row.label, names, y - 2))
        shapes += [
            Shape("rect", "bar", (at(first), y + 2.5, max(at(last + 1) - at(first), 1.0), row_height - 5))
            for first, last in row.days
        ]
    shapes += _months(months, at, foot + 11)
    return Plot(title, told, foot + FOOT, tuple(shapes))


def curve(
    title: str,
    told: str,
    points: Sequence[tuple[float, float, float]],
    months: Sequence[tuple[float, str]],
    unit: str,
    last: float,
) -> Plot:
    """A falling stock: (day, value, half width of its band), up to day `last`; months named at the foot."""
    left, high = 50.0, 110.0
    most = max((value + half for _, value, half in points), default=1.0) or 1.0

    def x(day: float) -> float:
        return left + (WIDTH - left - 8) * day / (last or 1.0)

    def y(value: float) -> float:
        return TOP + 4 + (high - TOP - 4) * (1 - max(value, 0.0) / most)

    upper = [(x(day), y(value + half)) for day, value, half in points]
    lower = [(x(day), y(value - half)) for day, value, half in reversed(points)]
    area = "M" + "L".join(f"{a:.1f} {b:.1f}" for a, b in [*upper, *lower]) + "z"
    shapes = [
        Shape("line", "rail", (left, y(0), WIDTH - 8, y(0))),
        Shape("path", "band", words=area),
        *(Shape("line", "curve", (x(a[0]), y(a[1]), x(b[0]), y(b[1]))) for a, b in pairwise(points)),
        *(Shape("text", "tick end", (left - 4, y(value) + 4), f"{value:,.0f} {unit}") for value in _ticks(most)),
        *(Shape("line", "rail", (left, y(value), WIDTH - 8, y(value))) for value in _ticks(most)),
        *_months(months, x, high + 13),
    ]
    return Plot(title, told, high + FOOT + 2, tuple(shapes))


def columns(title: str, told: str, values: Sequence[float], labels: Sequence[str], unit: str) -> Plot:
    """A column for each month, its height written above."""
    left, high = 8.0, 110.0
    most = max(values, default=1.0) or 1.0
    step = (WIDTH - left - 8) / max(len(values), 1)
    shapes = [Shape("line", "rail", (left, high, WIDTH - 8, high))]
    for place, (value, label) in enumerate(zip(values, labels, strict=True)):
        height = (high - TOP - 14) * value / most
        middle = left + (place + 0.5) * step
        shapes += [
            Shape("rect", "bar", (left + place * step + 2, high - height, step - 4, height)),
            Shape("text", "tick", (middle, high - height - 3), _short(value, step)),
            Shape("text", "tick", (middle, high + 13), label if step >= MONTH - 2 or not place % 2 else ""),
        ]
    shapes.append(Shape("text", "tick end", (WIDTH - 8, TOP + 8), unit))
    return Plot(title, told, high + FOOT + 2, tuple(shapes))


def _room_of_names(names: Iterable[str]) -> float:
    """Room at the left for the longest of the names, each no longer than NAME_LETTERS."""
    return LETTER * min(max((len(name) for name in names), default=0), NAME_LETTERS) + 9


def _label(words: str, room: float, y: float) -> Shape:
    short = words if len(words) <= NAME_LETTERS else f"{words[: NAME_LETTERS - 1]}…"
    return Shape("text", "name", (room - 5, y + 12), short)


def _months(months: Sequence[tuple[float, str]], x: Callable[[float], float], y: float) -> Iterator[Shape]:
    """The months by name, each where it begins: all, or every second or third where they stand close."""
    room = x(months[-1][0]) - x(months[0][0])
    for day, label in months[:: max(ceil(MONTH * (len(months) - 1) / room), 1) if room else 1]:
        if x(day) <= WIDTH - MONTH + 2:
            yield Shape("text", "tick start", (x(day) + 1, y), label)


def _ticks(most: float) -> list[float]:
    """Two or three round values up to `most`."""
    step = 1.0
    while most / step >= 30:
        step *= 10
    for times in (1, 2, 5, 10, 20):
        if most / (step * times) <= 3.5:
            return [step * times * i for i in range(1, 4) if step * times * i <= most]
    return []


def _short(value: float, room: float) -> str:
    """A sum of money in as many letters as there is room for."""
    if room < FIVE_LETTERS and value >= 1_000:
        return f"{value / 1000:.1f}k" if value < 9_950 else f"{value / 1000:,.0f}k"
    return f"{value / 1000:.1f}k" if value >= 10_000 else f"{value:,.0f}"
