"""Mixes that were printed, in the farm's record; those an earlier version kept in a folder are taken over once."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from rationlp.book.records import Book
from rationlp.errors import Problem
from rationlp.files import record_of
from rationlp.ledger.made_mix import MadeMix, MadePart, Origin, in_order
from rationlp.ledger.shape import UNREADABLE, batches_of, damage, mix_of, printed_entry, told
from rationlp.ledger.store import Entry, EntryKind, Record

FORM = 2
"""Of the files of the folder; form 1 had the bins in one word."""
FOLDER = ".mixes"


def record_for(book: Book) -> Record:
    """The record of the farm, with what an earlier version kept in its place."""
    record = Record(record_of(book.path))
    _take_over(record, book.path.resolve().with_name(book.path.resolve().stem + FOLDER))
    return record


def find(
    book: Book,
    bin: str | None = None,
    stage: str | None = None,
    sample: str | None = None,
    on: date | None = None,
    since: date = date.min,
) -> list[MadeMix]:
    """The mixes printed, each once, newest first, undated ones last: those with grain of `bin`, of `stage`, judged by
    `sample`, made from the day `since` to the day `on`. Damaged entries are left out. Raises InputError."""
    days = (since, on or date.max)
    found = {_same(made): made for made in told(record_for(book), EntryKind.PRINTED, mix_of, days=days)}
    wanted = [
        made
        for made in found.values()
        if (bin is None or bin in made.bins)
        and (stage is None or made.stage == stage)
        and (sample is None or sample in made.samples)
        and (on is None or made.made_on is None or made.made_on <= on)
    ]
    return in_order(wanted)


def printed_by_id(book: Book) -> Callable[[str], MadeMix | None]:
    """The newest mix that was printed under an id, None for none; one by one, as a farm of ten years has thousands.

    Asking raises InputError.
    """
    record = record_for(book)

    @cache
    def printed(id: str) -> MadeMix | None:
        found = told(record, EntryKind.PRINTED, mix_of, naming=[id]) if id else []
        return next((made for made in in_order(found) if made.id == id), None)

    return printed


def last_in_mixer(book: Book, on: date) -> list[MadeMix]:
    """The mixes that the mixer may have held last before a day's work begins, by the record.

    Which batch of a day was the last nobody wrote down: all that were weighed on the last day with any count, and what
    was printed on that day or since, whose weights may not have been entered yet. Raises InputError.
    """
    last, of_last = _last_weighed(record_for(book), on)
    weighed_ids = {made.id for made in of_last if made.id}
    printed = find(book, on=on, since=last)
    since = [made for made in printed if (made.made_on or date.min) >= last and made.id not in weighed_ids]
    newest = max((made.made_on or date.min for made in since), default=last)
    return [*of_last, *(made for made in since if (made.made_on or date.min) == newest)]


def _last_weighed(record: Record, on: date) -> tuple[date, list[MadeMix]]:
    """The last day up to `on` with batches that stand, and these; those without a day where no other is."""
    day = record.last_day(EntryKind.BATCH, on)
    while day:
        made = [batch.made for batch in batches_of(record, days=(day, day)) if batch.made.made_on == day]
        if made:
            return day, made
        day = record.last_day(EntryKind.BATCH, day - timedelta(days=1))
    return date.min, [batch.made for batch in batches_of(record, days=(date.min, date.min))]


def _same(made: MadeMix) -> tuple[object, ...]:
    return made.made_on, made.stage, made.bins, made.id


# The folder of an earlier version ----------------------------------------------------------------


def _take_over(record: Record, folder: Path) -> None:
    """Enter what the folder holds, once; a file that cannot be read stays where it is and is told."""
    if not folder.is_dir() or record.entries(EntryKind.TAKEN_OVER):
        return
    found, problems = list[MadeMix](), list[Problem]()
    for path in sorted(folder.glob("*.json")):
        try:
            found.append(_read(path))
        except UNREADABLE as error:
            problems.append(damage(folder.name, path.name, error))
    entries = [printed_entry(made) for made in found]
    record.add([*entries, Entry(EntryKind.TAKEN_OVER, {"folder": folder.name, "mixes": len(found)})])
    record.damaged = (*record.damaged, *problems)


def _read(path: Path) -> MadeMix:
    document: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    form = document.pop("form")
    if form == 1:
        document = _from_form_1(document)
    elif form != FORM:
        raise ValueError("written by another version of the program")
    parts = tuple(MadePart(**part) for part in document.pop("parts"))
    day = document.pop("made_on")
    bins, samples = tuple(document.pop("bins")), tuple(document.pop("samples"))
    made = MadeMix(
        **{**document, "origin": Origin(document["origin"])},
        bins=bins,
        samples=samples,
        made_on=date.fromisoformat(day) if day else None,
        parts=parts,
    )
    if not parts or not all(isinstance(part.share, float) and 0 < part.share <= 1 for part in parts):
        raise ValueError("shares that are not above 0 and up to 1")
    return made


def _from_form_1(document: dict[str, Any]) -> dict[str, Any]:
    """A document of form 1 in the terms of today: the bins one by one, the cost worked out from the parts."""
    rest = {key: value for key, value in document.items() if key not in ("bin", "cost_per_tonne")}
    return {**rest, "bins": document["bin"].split("+") if document["bin"] else []}
