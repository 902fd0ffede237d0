"""From animals and a day back to the batch they ate, its bin and sample, the offers in it and their lots."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from rationlp.book.records import Book, Group
from rationlp.errors import Problem, RequestError
from rationlp.farm import Farm
from rationlp.ledger.made_mix import MadeMix
from rationlp.rations.answer.model import Ration
from rationlp.sheets.batches import fed_on


@dataclass(frozen=True, slots=True)
class TracedIngredient:
    """What was in a batch and where it came from."""

    name: str
    label: str
    mass_kg: float
    origin: str


@dataclass(frozen=True, slots=True)
class Eaten:
    """A batch the group was eating on the day, or may have been."""

    made: MadeMix
    from_day: date | None
    to_day: date | None
    ingredients: tuple[TracedIngredient, ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """What a group ate on a day. `notes` says what the records leave open."""

    group: str
    day: date
    stage: str
    eaten: tuple[Eaten, ...]
    notes: tuple[str, ...]


def trace(
    group_name: str,
    day: date,
    made: Iterable[MadeMix],
    rations: Mapping[str, Ration],
    lots: Mapping[str, str],
    farm: Farm,
) -> Trace:
    """The batch that `group_name` was eating on `day`: the batches of its stage are eaten in the order they were made.

    `rations` gives a ration by stage for what a head eats a day. Raises RequestError for a group the book does not know.
    """
    group = next((g for g in farm.book.groups if g.group == group_name), None)
    if group is None:
        known = ", ".join(g.group for g in farm.book.groups) or "it has none"
        raise RequestError(
            [Problem("error", "trace", "", repr(group_name), f"a group of the book: {known}", "Check the spelling.")]
        )
    notes = []
    if not fed_on(group, day):
        notes.append(f"The book does not have {group_name} on feed on {day:%Y-%m-%d}.")
    mine = sorted(
        (b for b in made if b.stage == group.stage and b.made_on is not None and b.made_on <= day),
        key=lambda b: (b.made_on, b.number),
    )
    undated = [b for b in made if b.stage == group.stage and b.made_on is None]
    if undated:
        notes.append(f"{len(undated)} batches of this feed have no date and are left out.")
    spans = _spans(mine, group.stage, rations, farm.book)
    eaten = _on(day, mine, spans, notes)
    return Trace(
        group_name,
        day,
        group.stage,
        tuple(Eaten(b, *spans.get(i, (b.made_on, None)), _ingredients(b, lots, farm)) for i, b in eaten),
        tuple(notes),
    )


def _spans(
    mine: Sequence[MadeMix], stage: str, rations: Mapping[str, Ration], book: Book
) -> dict[int, tuple[date, date]]:
    """First and last day of each batch, eaten one after the other by all groups of the stage; empty if nobody knows
    how much they eat."""
    spans: dict[int, tuple[date, date]] = {}
    if not mine:
        return spans
    day, left_over = mine[0].made_on, 0.0
    for index, batch in enumerate(mine):
        day = max(day, batch.made_on)
        first, left = day, batch.total_kg + left_over
        while True:
            eaten = _daily_kg(stage, day, rations, book)
            if eaten is None:
                return {}
            if eaten == 0 and not _anybody_later(stage, day, book):
                break
            if left < eaten:
                break
            left -= eaten
            day += timedelta(days=1)
        left_over = left if index + 1 < len(mine) and mine[index + 1].made_on <= day else 0.0
        spans[index] = (first, day)
    return spans


def _daily_kg(stage: str, day: date, rations: Mapping[str, Ration], book: Book) -> float | None:
    """Kilograms all groups of the stage eat on a day; None if that is not known."""
    total = 0.0
    for group in book.groups:
        if group.stage != stage or not fed_on(group, day):
            continue
        per_head = group.feed_kg_per_head_per_day
        if per_head is None:
            ration = rations.get(stage)
            per_head = ration.feed_kg_per_head_per_day if ration else None
        if per_head is None:
            return None
        total += group.head * per_head
    return total


def _anybody_later(stage: str, day: date, book: Book) -> bool:
    def later(group: Group) -> bool:
        return group.to_date is None or group.to_date > day

    return any(group.stage == stage and later(group) for group in book.groups)


def _on(
    day: date, mine: Sequence[MadeMix], spans: Mapping[int, tuple[date, date]], notes: list[str]
) -> list[tuple[int, MadeMix]]:
    if not mine:
        notes.append("No batch of this feed is on record on or before that day.")
        return []
    if not spans:
        notes.append("How much they eat is not known: the newest batch of that day is shown, and the one before it.")
        return list(enumerate(mine))[-2:]
    found = [(i, b) for i, b in enumerate(mine) if spans[i][0] <= day <= spans[i][1]]
    if not found:
        last = len(mine) - 1
        notes.append(
            f"By the records the last batch was eaten up by {spans[last][1]:%Y-%m-%d}: a batch is missing from them."
        )
        found = [(last, mine[last])]
    return found


def _ingredients(made: MadeMix, lots: Mapping[str, str], farm: Farm) -> tuple[TracedIngredient, ...]:
    """What was in a batch, the bin with its sample of that time, the offers with supplier, quotation and lot."""
    bins, offers = {row.bin: row for row in farm.book.bins}, {row.offer: row for row in farm.book.supplements}
    found = []
    for name, mass in sorted(made.weighed_kg.items(), key=lambda item: -item[1]):
        if mass <= 0:
            continue
        if name in bins:
            row = bins[name]
            words = [
                f"filled {row.filled_on:%Y-%m-%d}" if row.filled_on else "",
                _sample_words(name, made.made_on, farm),
            ]
            label = row.label or name
        elif name in offers:
            offer = offers[name]
            words = [
                f"from {offer.supplier}" if offer.supplier else "",
                f"quoted {offer.quoted_on:%Y-%m-%d}" if offer.quoted_on else "",
                f"lot {lots[name]}" if name in lots else "lot not written down",
            ]
            label = offer.label or offer.feed
        else:
            words, label = ["not an offer of the book"], name
        found.append(TracedIngredient(name, label, mass, ", ".join(word for word in words if word)))
    return tuple(found)


def _sample_words(bin_: str, day: date | None, farm: Farm) -> str:
    """The sample in force on the day: the newest one taken by then."""
    taken = [row for row in farm.book.samples if row.bin == bin_ and not (day and row.taken_on and row.taken_on > day)]
    if not taken:
        return f"sample {farm.bin(bin_).sample} (taken later)"
    row = max(taken, key=lambda row: (row.taken_on or date.min, farm.book.samples.index(row)))
    return f"sample {row.sample}" + (f" of {row.taken_on:%Y-%m-%d}" if row.taken_on else "")
