"""What was really weighed: the rows of the book's sheet `actual`, gathered into batches of a known stage and bins."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from rationlp.book.reading.cells import nearest, plain
from rationlp.book.records import Book, Weighed
from rationlp.errors import InputError, Problem
from rationlp.files import LONGEST_TITLE
from rationlp.library.read import Library
from rationlp.rations.answer.ids import ALPHABET

NUMBER = re.compile(r"^(.*?)\s*#\s*(\d+)$")
ID = re.compile(rf"^[{ALPHABET}]{{4}}-?[{ALPHABET}]{{4}}$")
BIN_PREFIX = "bin:"


@dataclass(frozen=True, slots=True)
class SheetName:
    """The stage and bins a sheet's name stands for; `id` and `number` of the batch where the name gives them."""

    stage: str
    bins: tuple[str, ...]
    id: str = ""
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Made:
    """A batch that was made. Masses in kg by offer (or feed, or bin).

    `target_kg` is what the sheet asked for, where the sheet itself is at hand; without it the ration of today says.
    """

    sheet: str
    stage: str
    bins: tuple[str, ...]
    id: str
    number: int
    made_on: date | None
    weighed_kg: Mapping[str, float]
    target_kg: Mapping[str, float] | None
    where: str

    @property
    def total_kg(self) -> float:
        return sum(self.weighed_kg.values())

    @property
    def bin(self) -> str:
        return "+".join(self.bins)

    @property
    def batch(self) -> str:
        """The name of the batch, as on its label."""
        return f"{self.id or self.sheet} #{self.number}"


def made_in_book(book: Book, library: Library, ids: Mapping[str, tuple[str, tuple[str, ...]]]) -> list[Made]:
    """The batches of the book's sheet `actual`, in its order. `ids` gives stage and bins of today's ration ids.

    Raises InputError with every sheet name that stands for nothing.
    """
    groups: dict[tuple[str, date | None], list[Weighed]] = {}
    problems: list[Problem] = []
    names: dict[str, SheetName | None] = {}
    for row in book.actual:
        key = plain(row.sheet)
        if key not in names:
            names[key] = sheet_name(row.sheet, book, library, ids)
        if names[key] is None:
            problems.append(_unknown(row, book, library))
        else:
            groups.setdefault((key, row.made_on), []).append(row)
    if problems:
        raise InputError(problems)
    made, counts = [], {}
    for (key, day), rows in groups.items():
        name = names[key]
        for lines in _batches(rows, book):
            counts[key, day] = counts.get((key, day), 0) + 1
            made.append(_made(name, rows[0], lines, name.number or counts[key, day], day, book))
    return made


def _made(name: SheetName, row: Weighed, lines: Sequence[Weighed], number: int, day: date | None, book: Book) -> Made:
    weighed: dict[str, float] = {}
    for line in lines:
        offer = offer_of(line.feed, book)
        weighed[offer] = weighed.get(offer, 0.0) + line.mass_kg
    first = lines[0].place
    sheet = match[1] if (match := NUMBER.match(row.sheet.strip())) else row.sheet.strip()
    return Made(
        sheet, name.stage, name.bins, name.id, number, day, weighed, None, f"{first.sheet}!{first.cell('feed')}"
    )


def _batches(rows: Sequence[Weighed], book: Book) -> list[list[Weighed]]:
    """The rows of one sheet and day as batches: where every feed stands equally often, the first of each is one batch,
    the second the next; else all rows are one batch (a feed in two lots is added up)."""
    seen: dict[str, int] = {}
    turns: list[list[Weighed]] = []
    for row in rows:
        offer = offer_of(row.feed, book)
        turn = seen.get(offer, 0)
        seen[offer] = turn + 1
        while len(turns) <= turn:
            turns.append([])
        turns[turn].append(row)
    if len(set(seen.values())) == 1:
        return turns
    return [list(rows)]


def offer_of(feed: str, book: Book) -> str:
    """The offer or bin that `feed` names: an offer, a bin, `bin:north`, the feed of an offer; else the feed itself."""
    word = plain(feed)
    by_name = {plain(row.offer): row.offer for row in book.supplements} | {plain(row.bin): row.bin for row in book.bins}
    if word.startswith(BIN_PREFIX):
        word = word.removeprefix(BIN_PREFIX).strip()
    if word in by_name:
        return by_name[word]
    of_feed = [row.offer for row in book.supplements if plain(row.feed) == word]
    return of_feed[0] if of_feed else word


def sheet_name(
    text: str, book: Book, library: Library, ids: Mapping[str, tuple[str, tuple[str, ...]]]
) -> SheetName | None:
    """What a sheet's name stands for: the id of a ration, or stage and bin as printed, `#2` after it for a batch."""
    match = NUMBER.match(text.strip())
    words, number = (match[1], int(match[2])) if match else (text.strip(), None)
    compact = words.upper().replace(" ", "")
    if ID.match(compact):
        known = f"{compact.replace('-', '')[:4]}-{compact.replace('-', '')[4:]}"
        if known in ids:
            return SheetName(*ids[known], known, number)
    word = re.sub(r"(_last)?(_p\d+)?$", "", plain(words))
    for name, (stage, bins) in _names(book, library):
        if word in (name, name[:LONGEST_TITLE].rstrip("_")):
            return SheetName(stage, bins, "", number)
    return _several_bins(word, number, book, library)


def _several_bins(word: str, number: int | None, book: Book, library: Library) -> SheetName | None:
    """A sheet of some of the bins together, `sw_boar north+south`."""
    bins = {plain(row.bin): row.bin for row in book.bins}
    for stage in _stages(book, library):
        parts = word.removeprefix(f"{plain(stage)}_").split("+")
        if word.startswith(f"{plain(stage)}_") and all(part in bins for part in parts):
            return SheetName(stage, tuple(bins[part] for part in parts), "", number)
    return None


def _stages(book: Book, library: Library) -> list[str]:
    return list(dict.fromkeys([*library.stages, *(row.stage for row in book.own_stages)]))


def _names(book: Book, library: Library) -> Iterable[tuple[str, tuple[str, tuple[str, ...]]]]:
    """Every name that a sheet of this book can have."""
    bins = [row.bin for row in book.bins]
    groups = [(name,) for name in bins] + ([tuple(bins)] if len(bins) > 1 else []) or [()]
    for stage in _stages(book, library):
        for group in groups:
            yield plain(f"{stage} {'+'.join(group)}".strip()), (stage, group)
        if len(groups) == 1:
            yield plain(stage), (stage, groups[0])


def _unknown(row: Weighed, book: Book, library: Library) -> Problem:
    stages = {row.stage for row in book.groups}
    wanted = [name for name, (stage, _) in _names(book, library) if stage in stages]
    near = nearest(plain(row.sheet), wanted)
    return Problem(
        "error", "actual", row.place.cell("sheet"), repr(row.sheet),
        "the name of a mix sheet: its id (7KQ4-M2XD), or stage and bin as printed on it",
        f"Did you mean {near!r}?" if near else "Copy the name from the sheet. An id is known only as long as its "
                                               "ration is the one of today.",
    )  # fmt: skip
