"""Lines of animals as a flow: who begins a step, how many are left, where they go and whom they bring.

A step loses its animals evenly: of h that begin it, h (1 - losses (d + 1/2) / days) are fed on its day d (counted from
0), and h (1 - losses) end it. Head are averages: three tenths of a pig are three pigs in ten years.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from rationlp.book.records import Arrival, Book, Group, HerdStep
from rationlp.book.year_columns import AGAIN
from rationlp.errors import BookError, Problem
from rationlp.herd.season import Season
from rationlp.numbers import Floats

LEAST_HEAD = 1e-6
"""Fewer animals than this are followed no further."""
MOST_COHORTS = 200_000


@dataclass(frozen=True, slots=True, eq=False)
class Fed:
    """Animals fed alike: a group of the book, or a step of a line. `head` is on each day of the season."""

    group: str
    stage: str
    feed_kg_per_head_per_day: float | None
    head: Floats

    @property
    def head_days(self) -> float:
        """Head times days over the season."""
        return float(self.head.sum())


def fed_animals(book: Book, season: Season, losses: Mapping[tuple[str, str], float] | None = None) -> list[Fed]:
    """Every group of the book and every step of its herd that is fed in the season, in their order.

    `losses` puts other losses (0 to 1) in place of those of a (line, step). Raises BookError for a herd that grows
    without end.
    """
    found = [_group(group, season) for group in book.groups]
    found += herd_head(book.herd, book.arrivals, season, losses or {}, book.left_out)
    return [fed for fed in found if fed.head_days > 0]


def _group(group: Group, season: Season) -> Fed:
    head = np.zeros(season.days)
    first = 0 if group.from_date is None else max(season.place(group.from_date), 0)
    last = season.days - 1 if group.to_date is None else min(season.place(group.to_date), season.days - 1)
    head[first : max(last + 1, 0)] = group.head
    return Fed(group.group, group.stage, group.feed_kg_per_head_per_day, head)


@dataclass(frozen=True, slots=True)
class _Cohort:
    """Animals that begin step `place` of a line on a day of the season (below 0: before it).

    `new` are those that come onto the farm or are born, as against those that go on from another step.
    """

    line: str
    place: int
    day: int
    head: float
    new: bool = False


@dataclass(frozen=True, slots=True)
class LineLot:
    """Animals of a line that come or are born on one day."""

    line: str
    on: date
    head: float


def herd_head(
    herd: Sequence[HerdStep],
    arrivals: Sequence[Arrival],
    season: Season,
    losses: Mapping[tuple[str, str], float],
    left_out: Collection[tuple[str, date]] = (),
) -> list[Fed]:
    """Head by line and step on each day of the season, without the lots left out (line, first day).

    Raises BookError.
    """
    head = {(step.line, step.step): np.zeros(season.days) for step in herd}
    for cohort, step, lost in _cohorts(herd, arrivals, season, losses, left_out):
        _add(head[step.line, step.step], cohort, step.days, lost)
    return [
        Fed(f"{step.line}: {step.step}", step.stage, step.feed_kg_per_head_per_day, head[step.line, step.step])
        for step in herd
    ]


def lots_of(book: Book, season: Season) -> list[LineLot]:
    """Every lot of animals that comes or is born within the season, in the order of their days. Raises BookError."""
    found: dict[tuple[str, date], float] = {}
    for cohort, _, _ in _cohorts(book.herd, book.arrivals, season, {}, book.left_out):
        if cohort.new and cohort.day >= 0:
            key = (cohort.line, season.day(cohort.day))
            found[key] = found.get(key, 0.0) + cohort.head
    return sorted((LineLot(line, on, head) for (line, on), head in found.items()), key=lambda lot: (lot.on, lot.line))


def _cohorts(
    herd: Sequence[HerdStep],
    arrivals: Sequence[Arrival],
    season: Season,
    losses: Mapping[tuple[str, str], float],
    left_out: Collection[tuple[str, date]],
) -> Iterator[tuple[_Cohort, HerdStep, float]]:
    """Every cohort that is there before the season ends, with its step and what the step loses."""
    lines: dict[str, list[HerdStep]] = {}
    for step in herd:
        lines.setdefault(step.line, []).append(step)
    waiting = [cohort for arrival in arrivals for cohort in _arriving(arrival, lines, season)]
    count = 0
    while waiting:
        cohort = waiting.pop()
        count += 1
        if count > MOST_COHORTS:
            raise _endless(lines[cohort.line][cohort.place])
        if cohort.new and (cohort.line, season.day(cohort.day)) in left_out:
            continue
        step = lines[cohort.line][cohort.place]
        lost = losses.get((step.line, step.step), step.losses)
        yield cohort, step, lost
        waiting += _followers(cohort, step, lost, lines, season)


def _arriving(arrival: Arrival, lines: Mapping[str, Sequence[HerdStep]], season: Season) -> Iterator[_Cohort]:
    place = next(i for i, step in enumerate(lines[arrival.line]) if step.step == arrival.step)
    day, left = arrival.on, arrival.times
    while day <= season.last and left != 0:
        yield _Cohort(arrival.line, place, season.place(day), float(arrival.head), new=True)
        if arrival.every_days is None:
            return
        day, left = day + timedelta(days=arrival.every_days), None if left is None else left - 1


def _add(head: Floats, cohort: _Cohort, days: int, lost: float) -> None:
    first, last = max(cohort.day, 0), min(cohort.day + days, len(head))
    if first < last:
        past = np.arange(first, last) - cohort.day + 0.5
        head[first:last] += cohort.head * (1 - lost * past / days)


def _followers(
    cohort: _Cohort, step: HerdStep, lost: float, lines: Mapping[str, Sequence[HerdStep]], season: Season
) -> Iterator[_Cohort]:
    """Where those that end the step go, and whom they bring."""
    left, day = cohort.head * (1 - lost), cohort.day + step.days
    if left < LEAST_HEAD or day >= season.days:
        return
    if step.brings:
        yield _Cohort(step.brings, 0, day, left * step.per_head, new=True)
    if step.then:
        yield _Cohort(cohort.line if step.then == AGAIN else step.then, 0, day, left)
    elif cohort.place + 1 < len(lines[cohort.line]):
        yield _Cohort(cohort.line, cohort.place + 1, day, left)


def _endless(step: HerdStep) -> BookError:
    found = f"the line {step.line!r} brings animals without end"
    do = "Check brings, then and per_head: a line must not bring itself."
    place = step.place.cell("brings")
    return BookError([Problem("error", "herd", place, found, "a herd of a finite number of lots", do)])
