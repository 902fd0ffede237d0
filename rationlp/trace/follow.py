"""The batches that answer a question of the farm's record, each with its animals and with where all in it came from."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from rationlp.book.records import Book, Group, Lot
from rationlp.errors import Problem, RequestError
from rationlp.finder import names_of
from rationlp.ledger.made_mix import lots_in
from rationlp.ledger.shape import Batch
from rationlp.sheets.batches import fed_on
from rationlp.trace.eaten import Span, gaps, spans


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked: what a group ate, where a bin or lot went, what is in a batch; from a day to a day."""

    group: str = ""
    bin: str = ""
    lot: str = ""
    batch: str = ""
    start: date | None = None
    end: date | None = None


@dataclass(frozen=True, slots=True)
class TracedPart:
    """One thing in a batch. `sample` is what its bin was judged by; `origin` says in words where it came from."""

    feed: str
    offer: str
    label: str
    lot: str
    bin: str
    sample: str
    kg: float
    home_grown: bool
    origin: str


@dataclass(frozen=True, slots=True)
class TracedBatch:
    """A batch, when it was eaten (None: it has no date) and by whom. `sure`: what was asked for is in it."""

    batch: Batch
    span: Span | None
    parts: tuple[TracedPart, ...]
    sure: bool = True

    @property
    def groups(self) -> tuple[str, ...]:
        """The animals that got it."""
        return tuple(self.span.heads) if self.span and self.span.heads else self.batch.groups


@dataclass(frozen=True, slots=True)
class Trace:
    """The answer. `asked_kg` is what of the bin or lot went into the batches, `notes` what the record leaves open."""

    question: Question
    batches: tuple[TracedBatch, ...]
    asked_kg: float
    notes: tuple[str, ...]


def follow(question: Question, batches: Sequence[Batch], book: Book) -> Trace:
    """The batches that answer `question`. Raises RequestError for a group, bin or batch nobody knows."""
    _known(question, batches, book)
    all_spans, lots = spans(batches, book), {row.lot: row for row in book.lots}
    found = []
    for batch in batches:
        sure = _holds(question, batch, book, lots)
        if sure is None or not _named(question.batch, batch):
            continue
        span = all_spans.get(batch.made.key)
        if question.group and not _ate(question, batch, span, book):
            continue
        if (question.start or question.end) and span is not None and not span.meets(question.start, question.end):
            continue
        found.append(TracedBatch(batch, span, _parts(batch, book, lots), sure))
    return Trace(question, tuple(found), _asked_kg(question, found), tuple(_notes(question, found, book, lots)))


def _known(question: Question, batches: Sequence[Batch], book: Book) -> None:
    problems = []
    for what, name, known in (
        ("group", question.group, list(dict.fromkeys([*_groups_of(batches), *(row.group for row in book.groups)]))),
        ("bin", question.bin, list(dict.fromkeys([*(row.bin for row in book.bins), *_bins_of(batches)]))),
        (
            "lot",
            question.lot,
            sorted(
                {row.lot for row in book.lots} | {lot for b in batches for p in b.made.parts for lot in lots_in(p.lot)}
            ),
        ),
        ("batch", question.batch, [batch.made.batch for batch in batches if _named(question.batch, batch)]),
    ):
        if name and (name not in known if what != "batch" else not known):
            words = ", ".join(known[-12:]) or "it has none"
            expected = f"a {what} of the book or its record: {words}"
            do = names_of(known).suggestion(name, "Check the spelling.")
            problems.append(Problem("error", what, "", repr(name), expected, do))
    if problems:
        raise RequestError(problems)


def _bins_of(batches: Sequence[Batch]) -> Iterator[str]:
    """The bins that batches were made from, whether or not the book still has them."""
    return (name for batch in batches for name in batch.made.bins)


def _groups_of(batches: Sequence[Batch]) -> Iterator[str]:
    """The groups that batches were entered for, whether or not the book still calls them so."""
    return (name for batch in batches for name in batch.groups)


def group_in(name: str, book: Book) -> Group | None:
    """The group of that name; None where only the record knows it."""
    return next((row for row in book.groups if row.group == name), None)


def _named(asked: str, batch: Batch) -> bool:
    """Whether a batch is meant by its number, its label (`7KQ4-M2XD #57`) or its sheet."""
    if not asked:
        return True
    number = re.fullmatch(r"#?\s*(\d+)", asked.strip())
    if number:
        return batch.made.number == int(number[1])
    return asked.strip().casefold() in (batch.made.batch.casefold(), batch.made.id.casefold())


def _holds(question: Question, batch: Batch, book: Book, lots: dict[str, Lot]) -> bool | None:
    """Whether the bin and the lot asked for are in it: for certain, perhaps (False), or not at all (None)."""
    parts = [part for part in batch.made.parts if part.kg]
    if question.bin and all(part.offer != question.bin for part in parts):
        return None
    if not question.lot or any(question.lot in lots_in(part.lot) for part in parts):
        return True
    lot = lots.get(question.lot)
    if lot is None or all(part.offer != lot.offer or _is_another(part.lot, lot, lots) for part in parts):
        return None
    made_on = batch.made.made_on
    return False if made_on is None or lot.delivered_on is None or made_on >= lot.delivered_on else None


def _is_another(written: str, lot: Lot, lots: dict[str, Lot]) -> bool:
    """Whether what the crew wrote names other lots of the same offer, each as the book has it: else it may be `lot`."""
    named = lots_in(written)
    return bool(named) and all(name in lots and lots[name].offer == lot.offer for name in named)


def _ate(question: Question, batch: Batch, span: Span | None, book: Book) -> bool:
    group = group_in(question.group, book)
    if group is None:
        return question.group in batch.groups
    if batch.made.stage != group.stage:
        return False
    return span is None or span.meets(group.from_date, group.to_date)


def _parts(batch: Batch, book: Book, lots: dict[str, Lot]) -> tuple[TracedPart, ...]:
    bins, offers = {row.bin: row for row in book.bins}, {row.offer: row for row in book.supplements}
    samples = {row.sample: row for row in book.samples}
    of_bin = {samples[name].bin: name for name in batch.made.samples if name in samples}
    found = []
    for part in batch.made.parts:
        if not part.kg:
            continue
        traced = TracedPart(part.feed, part.offer, part.label, part.lot, "", "", part.kg, part.home_grown, "")
        if part.offer in bins or part.offer in batch.made.bins:
            row, sample = bins.get(part.offer), of_bin.get(part.offer, "")
            taken = samples[sample].taken_on if sample else None
            words = ["a bin that the book has no longer"]
            if row:
                words = [
                    f"filled {book.farm.day(row.filled_on)}" if row.filled_on else "",
                    f"sample {sample}" + (f" of {book.farm.day(taken)}" if taken else "") if sample else "no sample",
                ]
            traced = replace(traced, bin=part.offer, sample=sample)
        else:
            offer, lot = offers.get(part.offer), lots.get(part.lot)
            words = [
                f"from {offer.supplier}" if offer and offer.supplier else "",
                f"lot {part.lot}" if part.lot else "" if part.home_grown else "lot not written down",
                f"supplier's lot {lot.supplier_lot}" if lot and lot.supplier_lot else "",
                f"delivered {book.farm.day(lot.delivered_on)}" if lot and lot.delivered_on else "",
            ]
        found.append(replace(traced, origin=", ".join(filter(None, words))))
    return tuple(found)


def _asked_kg(question: Question, found: Sequence[TracedBatch]) -> float:
    return sum(
        part.kg
        for traced in found
        for part in traced.parts
        if (question.bin and part.bin == question.bin) or (question.lot and question.lot in lots_in(part.lot))
    )


def _notes(question: Question, found: Sequence[TracedBatch], book: Book, lots: dict[str, Lot]) -> list[str]:
    notes = []
    if not found:
        notes.append("No batch of the record answers this: what was mixed and not entered is not known here.")
    group = group_in(question.group, book)
    if question.group and group is None:
        notes.append(f"The book has no {question.group} any more: these batches were entered for it under that name.")
    if group and question.start and question.end:
        if not any(fed_on(group, day) for day in (question.start, question.end)):
            notes.append(f"The book does not have {question.group} on feed on those days.")
        elif missing := gaps([t.span for t in found if t.span], question.start, question.end, book.farm):
            notes.append(f"No batch on record covers {', '.join(missing)}: one is missing from the record.")
    undated = [traced.batch.made.batch for traced in found if traced.span is None]
    if undated:
        notes.append(f"Without a date, so that nobody knows when they were eaten: {', '.join(undated)}.")
    unsure = [traced.batch.made.batch for traced in found if not traced.sure]
    if unsure:
        notes.append(
            f"The lot of {lots[question.lot].offer} was not written down, or is none of the book's, for "
            f"{', '.join(unsure)}: they may hold it."
        )
    boxes = [(traced.batch.made.batch, lots_in(part.lot)) for traced in found for part in traced.parts]
    if several := [batch for batch, named in boxes if question.lot in named and len(named) > 1]:
        notes.append(f"Several lots in one box, so that nobody knows how much of each: {', '.join(several)}.")
    if any(traced.span and traced.span.last is None for traced in found):
        notes.append("How much the animals eat per day is not known: the last days are left open.")
    return notes
