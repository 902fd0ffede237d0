"""Rows of the book's sheet `actual` that look like slips of the pen, asked about as those of a filled-in mix sheet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import accumulate

from rationlp.actual.known import Known
from rationlp.actual.readings import Place, readings_in, size_read
from rationlp.actual.slips import (
    SWAPPED,
    Doubt,
    Entry,
    a_row_off,
    doubtful,
    on_the_wrong_sheet,
    size_factor,
    with_their_vessel,
)
from rationlp.book.records import Book, Weighed
from rationlp.errors import Problem
from rationlp.ledger.kept import find
from rationlp.ledger.made_mix import MadeMix
from rationlp.ledger.weighed import asked_as, offer_of
from rationlp.numbers import as_typed
from rationlp.units import BOOK_MASS_UNIT, MASS_KG

AT_HAND = timedelta(days=180)
"""Sheets printed so long before may still hang at the mixer."""

Asked = Mapping[str, float]
Kind = tuple[str, tuple[str, ...]]
"""Stage and bins."""


def slips_in_book(batches: Sequence[tuple[MadeMix, Sequence[Weighed]]], known: Known) -> list[Problem]:
    """Every weight that looks like a slip, with its cell. Raises InputError if the book has lost a bin."""
    if not batches:
        return []
    book = known.farm.book
    unit = BOOK_MASS_UNIT[book.farm.units]
    targets = [known.target_kg(made, known.ration(made)) for made, _ in batches]
    sheets = {
        (made.stage, made.bins): _of_grain(made, target) for (made, _), target in zip(batches, targets, strict=True)
    }
    sheets |= _printed((made for made, _ in batches), book)
    problems: list[Problem] = []
    for (made, rows), target in zip(batches, targets, strict=True):
        entries = _entries(made, rows, target, book, MASS_KG[unit])
        others = {_name(kind): asked for kind, asked in sheets.items() if kind != (made.stage, made.bins)}
        for cell, found, expected, do in _doubts(entries, made.bins, others, unit):
            problem = Problem("error", "actual", cell, found, expected, do)
            problems += [problem] if problem not in problems else []
    return problems


def _doubts(entries: Sequence[Entry], bins: Sequence[str], others: Mapping[str, Asked], unit: str) -> list[Doubt]:
    """What is odd about a whole batch, else about single weights of it."""
    found = [*_row_off(entries, unit)] or on_the_wrong_sheet(entries, bins, others, unit)
    found += with_their_vessel(entries, unit)
    found += _read_off(entries, unit)
    return found or doubtful(entries, [None] * len(entries), unit)


def _entries(made: MadeMix, rows: Sequence[Weighed], target: Asked, book: Book, unit_kg: float) -> list[Entry]:
    """The rows of a batch, each with its part of what was asked for of that feed, under whichever offer."""
    feeds = {offer.offer: offer.feed for offer in book.supplements}
    named = [asked_as(offer_of(row.feed, book), target, feeds) for row in rows]
    often, summed = Counter(named), dict.fromkeys(named, 0.0)
    for name, row in zip(named, rows, strict=True):
        summed[name] += row.mass_kg
    return [
        Entry(
            cell=row.place.cell("mass"),
            label=row.feed,
            mass=row.mass_kg / unit_kg,
            asked=target.get(name, 0.0) * (row.mass_kg / summed[name] if summed[name] else 1 / often[name]) / unit_kg,
            sure=row.sure,
            offer=name,
            in_bucket=target.get(name, 0.0) < book.farm.hand_weigh_below_kg,
        )
        for name, row in zip(named, rows, strict=True)
    ]


def _row_off(entries: Sequence[Entry], unit: str) -> Iterator[Doubt]:
    """The first of weights a row away from their own, in a batch of whatever size."""
    for by in (1, -1):
        beside = {
            entry.cell: entries[place - by].asked
            for place, entry in enumerate(entries)
            if 0 <= place - by < len(entries)
        }
        size = size_factor({entry.cell: entry.mass for entry in entries}, beside)
        sized = [replace(entry, asked=size * entry.asked) for entry in entries]
        if found := a_row_off(sized, [entry.asked for entry in sized], unit):
            yield found[0]
            return


def _read_off(entries: Sequence[Entry], unit: str) -> Iterator[Doubt]:
    """Readings of the scale where masses belong, in the book's unit or another."""
    typed, asked = [entry.mass for entry in entries], [entry.asked for entry in entries]
    reads = list(accumulate(asked))
    as_asked = sum(abs(entry.mass - entry.asked) <= SWAPPED * entry.asked for entry in entries)
    if any(entry.sure for entry in entries) or as_asked > len(entries) / 2:
        return
    words = f"{as_typed(typed[-1])} as the last of figures that rise"
    for _, other in readings_in(entries, [Place(False, reading) for reading in reads], unit):
        expected = f"what each feed weighed; these look like the scale's readings in {other}"
        do = f"Write them under scale_reads, each with its unit ({as_typed(typed[-1])} {other})."
        yield entries[-1].cell, words, expected, do
        return
    if size_read(typed, asked, reads):
        expected = "what each feed weighed; these look like the scale's readings"
        alone = f"if each weighed so much, write each with its unit ({as_typed(typed[-1])} {unit})."
        yield entries[-1].cell, words, expected, f"Write them under scale_reads; {alone}"


def _printed(made: Iterable[MadeMix], book: Book) -> dict[Kind, Asked]:
    """What the newest sheet of each stage and bins asks for that may have been at hand on the days of the batches."""
    days = [each.made_on for each in made if each.made_on] or [date.today()]
    found: dict[Kind, Asked] = {}
    for mix in find(book, on=max(days), since=min(days) - AT_HAND):
        found.setdefault((mix.stage, mix.bins), _of_grain(mix, mix.shares))
    return found


def _of_grain(made: MadeMix, asked: Asked) -> Asked:
    """What is asked for by offer, all grain of its bins under ""."""
    found: dict[str, float] = {}
    for name, mass in asked.items():
        key = "" if name in made.bins else name
        found[key] = found.get(key, 0.0) + mass
    return found


def _name(kind: Kind) -> str:
    stage, bins = kind
    return f"{stage} {'+'.join(bins)}".strip()
