"""The days of a feed year, from the first fed to the day before the next harvest, and its months or weeks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from rationlp.book.records import Book
from rationlp.errors import BookError, Problem

DAYS_OF_A_YEAR = 365


@dataclass(frozen=True, slots=True)
class Period:
    """A month or week of the year as far as it lies in the plan; `first` and `last` are days of it, both counted."""

    label: str
    first: date
    last: date

    @property
    def days(self) -> int:
        """How many days of the plan it has."""
        return (self.last - self.first).days + 1


@dataclass(frozen=True, slots=True)
class Season:
    """The days that are planned; `first` and `last` are both fed. `notes` say what the book does not.

    On the last `reserve` of them, past the harvest, only the animals that must not lack are fed from what is there.
    """

    first: date
    last: date
    notes: tuple[str, ...] = ()
    reserve: int = 0

    @property
    def days(self) -> int:
        """How many days are fed."""
        return (self.last - self.first).days + 1

    @property
    def months(self) -> tuple[Period, ...]:
        """The months of the calendar, the first and last as far as they are fed; labelled 2026-10."""
        return tuple(self._months())

    def _months(self) -> Iterator[Period]:
        day = self.first
        while day <= self.last:
            next_month = (day.replace(day=1) + timedelta(days=32)).replace(day=1)
            last = min(next_month - timedelta(days=1), self.last)
            yield Period(f"{day:%Y-%m}", day, last)
            day = last + timedelta(days=1)

    def day(self, place: int) -> date:
        """The date of a day by its number."""
        return self.first + timedelta(days=place)

    def place(self, day: date) -> int:
        """The number of a day of the plan, 0 for the first; below 0 or beyond the last for one outside it."""
        return (day - self.first).days


def season_of(book: Book) -> Season:
    """From `plan_from` to the day before `next_harvest_on`, and the days of the reserve behind it.

    Where the book has no first day it is that of the first group or arrival, or else the last bin filled; the harvest
    is a year later. Raises BookError where the book has no date at all, or a harvest before the first day.
    """
    starts = [group.from_date for group in book.groups if group.from_date] + [row.on for row in book.arrivals]
    filled = [bin_.filled_on for bin_ in book.bins if bin_.filled_on]
    known = book.farm.plan_from or (min(starts) if starts else None) or (max(filled) if filled else None)
    if known is None:
        found, do = "no plan_from, and no date of groups, arrivals or bins", "Fill in plan_from on farm."
        raise BookError([Problem("error", "farm", "", found, "the first day of the feed year", do)])
    day = book.farm.day
    notes = [] if book.farm.plan_from else [f"The book has no plan_from: the year is planned from {day(known)}."]
    harvest = book.farm.next_harvest_on
    if harvest is None:
        harvest = known + timedelta(days=DAYS_OF_A_YEAR)
        notes.append(f"The book has no next_harvest_on: {day(harvest)} is taken, a year after the first day.")
    if harvest <= known:
        found = f"next_harvest_on {day(harvest)}, not after the first day {day(known)}"
        do = "Correct one of the two dates."
        raise BookError([Problem("error", "farm", "", found, "a harvest after the plan begins", do)])
    reserve = book.farm.reserve_days
    return Season(known, harvest + timedelta(days=reserve - 1), tuple(notes), reserve)
