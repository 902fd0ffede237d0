"""What came to the farm and went, by the book and the farm's record: deliveries, batches, counts, sold, thrown away.

The book is where a person writes and corrects; the record keeps what stood there, for the day its rows are cleared or
another book begins. So the sheet `actual` counts from its first day on and the record before that; of a delivery the
sheet `lots` counts before the record.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, replace
from datetime import date

from rationlp.book.records import Book, Flow, FlowKind
from rationlp.ledger.kept import record_for
from rationlp.ledger.made_mix import MadeMix
from rationlp.ledger.shape import mixes_weighed, told
from rationlp.ledger.store import Entry, EntryKind, Record


def with_flows(book: Book) -> Book:
    """The book with all that came and went by itself and the farm's record, as far back as anything that is there or on
    offer goes. Raises InputError."""
    first = first_day(book)
    made = mixes_weighed(record_for(book), days=(first, date.max))
    return replace(book, flows=flows_of(made, moves(book)))


def first_day(book: Book) -> date:
    """The day before which no batch says anything of what is left: the first of all where every batch may. Raises
    InputError."""
    moved = moves(book)
    counted = {each.name for each in moved if each.kind is FlowKind.COUNTED}
    days = [row.filled_on for row in book.bins]
    days += [offer.quoted_on for offer in book.supplements if offer.stock_kg is not None]
    if None in days or counted & {offer.offer for offer in book.supplements}:
        return date.min
    return min(filter(None, days), default=date.min)


def flows_of(made: Iterable[MadeMix], moved: Iterable[Flow]) -> tuple[Flow, ...]:
    """What batches took, by day, and what was moved otherwise."""
    taken: dict[tuple[str, date | None], Flow] = {}
    for mix in made:
        for name, kg in mix.weighed_kg.items():
            if kg > 0:
                so_far = taken.get((name, mix.made_on)) or Flow(name, FlowKind.MIXED, mix.made_on, 0.0)
                taken[name, mix.made_on] = replace(so_far, kg=so_far.kg + kg, batches=so_far.batches + 1)
    return (*taken.values(), *moved)


def moves(book: Book) -> tuple[Flow, ...]:
    """What was delivered, counted, sold and thrown away, by the book and the record. Raises InputError."""
    deliveries = [
        Flow(
            lot.offer, FlowKind.DELIVERED, lot.delivered_on, lot.mass_kg, lot=lot.lot, where=f"lots!{lot.place.cell()}"
        )
        for lot in book.lots
        if lot.mass_kg is not None
    ]
    days = [day for day in (*(row.made_on for row in book.actual), *(row.on for row in book.moved)) if day is not None]
    first, lots = min(days, default=date.max), {lot.lot for lot in book.lots}
    earlier = [
        each
        for each in kept_moves(record_for(book))
        if (each.lot not in lots if each.kind is FlowKind.DELIVERED else each.on is not None and each.on < first)
    ]
    return (*earlier, *deliveries, *book.moved)


def keep_moves(book: Book) -> int:
    """Enter what was moved in the record, where it has something else; how many rows are new. Raises InputError."""
    record, now = record_for(book), moves(book)
    known = {replace(each, where="") for each in kept_moves(record)}
    fresh = [each for each in now if replace(each, where="") not in known]
    if fresh or len(known) > len(now):
        record.add([Entry(EntryKind.MOVED, {"rows": [_row(each) for each in now]})])
    return len(fresh)


def kept_moves(record: Record) -> list[Flow]:
    """What the record has: its last entry says all that was known when it was made."""
    entries = told(record, EntryKind.MOVED, _flows)
    return entries[-1] if entries else []


def _row(flow: Flow) -> dict[str, object]:
    row = asdict(flow) | {"on": flow.on.isoformat() if flow.on else ""}
    return {key: value for key, value in row.items() if value not in ("", 0)} | {"kg": flow.kg}


def _flows(entry: Entry) -> list[Flow]:
    return [
        Flow(**row | {"kind": FlowKind(row["kind"]), "on": date.fromisoformat(row["on"]) if row.get("on") else None})
        for row in entry.body["rows"]
    ]
