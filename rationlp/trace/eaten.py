"""When each batch was eaten: one after the other, by all the groups that get that feed, give or take what they eat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from rationlp.book.records import Book, Group, Settings
from rationlp.errors import given
from rationlp.ledger.shape import Batch
from rationlp.sheets.batches import fed_on

INTAKE_SPREAD = 0.15
"""Animals may eat so much more or less a day than the book or the tables say (common practice)."""
LONGEST = 730  # days a batch is followed


@dataclass(frozen=True, slots=True)
class Span:
    """The days a batch was eaten on: the first and last it can have been, and the likely ones.

    `last` and `likely_to` are None where nobody knows how much the animals eat; `heads` by group.
    """

    first: date
    last: date | None
    likely_from: date
    likely_to: date | None
    heads: Mapping[str, int]

    def meets(self, start: date | None, end: date | None) -> bool:
        """Whether it can have been eaten on a day from `start` to `end`."""
        return (end is None or self.first <= end) and (start is None or self.last is None or self.last >= start)


def spans(batches: Sequence[Batch], book: Book) -> dict[tuple[object, ...], Span]:
    """The span of every dated batch, by the key of its mix."""
    found: dict[tuple[object, ...], Span] = {}
    for stage in dict.fromkeys(batch.made.stage for batch in batches):
        mine = sorted(
            (batch for batch in batches if batch.made.stage == stage and batch.made.made_on),
            key=lambda batch: (_day(batch), batch.made.number, batch.made.turn),
        )
        groups = [group for group in book.groups if group.stage == stage]
        early, likely, late = (_turns(mine, groups, factor) for factor in (1 + INTAKE_SPREAD, 1.0, 1 - INTAKE_SPREAD))
        for batch in mine:
            key = batch.made.key
            first, last = early[key][0], late[key][1]
            heads = {group.group: group.head for group in groups if group.fed_between(first, last or first)}
            found[key] = Span(first, last, likely[key][0], likely[key][1], heads)
    return found


def gaps(covered: Sequence[Span], start: date, end: date, farm: Settings) -> list[str]:
    """The stretches of days from `start` to `end` that no batch covers, even at the widest, in words."""
    days = [start + timedelta(days) for days in range((end - start).days + 1)]
    bare = [day for day in days if not any(span.meets(day, day) for span in covered)]
    found: list[tuple[date, date]] = []
    for day in bare:
        if found and found[-1][1] == day - timedelta(days=1):
            found[-1] = (found[-1][0], day)
        else:
            found.append((day, day))
    return [farm.day(first) if first == last else f"{farm.day(first)} to {farm.day(last)}" for first, last in found]


def _turns(
    batches: Sequence[Batch], groups: Sequence[Group], factor: float
) -> dict[tuple[object, ...], tuple[date, date | None]]:
    """First and last day of each batch, in the order they were made, none begun before it was made."""
    found: dict[tuple[object, ...], tuple[date, date | None]] = {}
    day, left_over = date.min, 0.0
    for batch in batches:
        if _day(batch) > day:
            day, left_over = _day(batch), 0.0
        first, left = day, batch.made.total_kg + left_over
        last: date | None = None
        end = day + timedelta(days=LONGEST)
        while day < end:
            eaten = _daily_kg(batch, groups, day)
            if eaten is None:
                break
            last = day
            if left < eaten * factor or not (eaten or _later(groups, day)):
                break
            left -= eaten * factor
            day += timedelta(days=1)
            if not eaten:  # on to the day when one of them comes on feed
                day = min((each.from_date for each in groups if each.from_date and each.from_date >= day), default=day)
                last, day = min(day, end) - timedelta(days=1), min(day, end)
        left_over = max(left, 0.0) if last is not None else 0.0
        found[batch.made.key] = (first, last)
    return found


def _daily_kg(batch: Batch, groups: Sequence[Group], day: date) -> float | None:
    """Kilograms all the groups eat on a day; None if that is not known."""
    total = 0.0
    for group in groups:
        if fed_on(group, day):
            per_head = group.feed_kg_per_head_per_day or batch.per_head_kg
            if per_head is None:
                return None
            total += group.head * per_head
    return total if groups else None


def _later(groups: Sequence[Group], day: date) -> bool:
    return any(group.to_date is None or group.to_date > day for group in groups)


def _day(batch: Batch) -> date:
    return given(batch.made.made_on, f"the date of {batch.made.batch}")
