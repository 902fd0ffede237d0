"""What was really weighed: the rows of the book's sheet `actual`, gathered into batches of a known stage and bins."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from rationlp.book.records import Book, Weighed
from rationlp.errors import InputError, Problem, given
from rationlp.farm import Farm
from rationlp.files import LONGEST_TITLE
from rationlp.finder import names_of, plain
from rationlp.ledger.kept import find
from rationlp.ledger.made_mix import MadeMix, Origin, newest_samples, weighed_parts
from rationlp.library.read import Library
from rationlp.rations.answer.ids import ALPHABET, book_version

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


def made_in_book(farm: Farm, ids: Mapping[str, tuple[str, tuple[str, ...]]]) -> list[MadeMix]:
    """The batches of the book's sheet `actual`, in its order. `ids` gives stage and bins of today's ration ids.

    Raises InputError with every sheet name that stands for nothing.
    """
    groups: dict[tuple[str, date | None], list[Weighed]] = {}
    problems: list[Problem] = []
    names: dict[str, SheetName | None] = {}
    for row in farm.book.actual:
        key = plain(row.sheet)
        if key not in names:
            names[key] = sheet_name(row.sheet, farm, ids)
        if names[key] is None:
            problems.append(_unknown(row, farm))
        else:
            groups.setdefault((key, row.made_on), []).append(row)
    if problems:
        raise InputError(problems)
    made: list[MadeMix] = []
    counts: dict[tuple[str, date | None], int] = {}
    for (key, day), rows in groups.items():
        name = given(names[key], f"the mix of sheet {key}")
        for lines in _batches(rows, farm.book):
            counts[key, day] = counts.get((key, day), 0) + 1
            made.append(_made(name, lines, name.number or counts[key, day], farm))
    return made


def _made(name: SheetName, lines: Sequence[Weighed], number: int, farm: Farm) -> MadeMix:
    weighed: dict[str, float] = {}
    for line in lines:
        offer = offer_of(line.feed, farm.book)
        weighed[offer] = weighed.get(offer, 0.0) + line.mass_kg
    first, text = lines[0], lines[0].sheet.strip()
    return weighed_mix(
        name.stage,
        _label(name.stage, farm.library),
        name.bins,
        first.made_on,
        weighed,
        farm.book,
        id=name.id,
        number=number,
        sheet=match[1] if (match := NUMBER.match(text)) else text,
        where=f"{first.place.sheet}!{first.place.cell('feed')}",
    )


def weighed_mix(
    stage: str,
    stage_label: str,
    bins: tuple[str, ...],
    made_on: date | None,
    weighed_kg: Mapping[str, float],
    book: Book,
    *,
    id: str = "",
    number: int = 0,
    sheet: str = "",
    where: str = "",
) -> MadeMix:
    """A mix as the crew weighed it, `weighed_kg` by offer, bin or feed, judged by the samples there were that day."""
    return MadeMix(
        id=id,
        stage=stage,
        stage_label=stage_label,
        bins=bins,
        samples=newest_samples(book, bins, made_on),
        made_on=made_on,
        origin=Origin.WEIGHED,
        sheet=sheet,
        book_version=book_version(book),
        parts=weighed_parts(weighed_kg, None, book),
        number=number,
        where=where,
    )


def mixes_made(farm: Farm) -> list[MadeMix]:
    """Every mix that was made: as its sheet was printed, and as the crew weighed it. Raises InputError."""
    kept = find(farm.book)
    if not farm.book.actual:
        return kept
    ids = {mix.id: (mix.stage, mix.bins) for mix in kept}
    return [*kept, *(made for made in made_in_book(farm, ids) if made.shares)]


def last_mixes(farm: Farm) -> dict[tuple[str, tuple[str, ...]], MadeMix]:
    """By stage and bins the last mix that was kept. Raises InputError."""
    found: dict[tuple[str, tuple[str, ...]], MadeMix] = {}
    for mix in find(farm.book):
        found.setdefault((mix.stage, mix.bins), mix)
    return found


def _label(stage: str, library: Library) -> str:
    return library.stages[stage].label if stage in library.stages else stage.replace("_", " ")


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


def sheet_name(text: str, farm: Farm, ids: Mapping[str, tuple[str, tuple[str, ...]]]) -> SheetName | None:
    """What a sheet's name stands for: the id of a ration, or stage and bin as printed, `#2` after it for a batch."""
    match = NUMBER.match(text.strip())
    words, number = (match[1], int(match[2])) if match else (text.strip(), None)
    compact = words.upper().replace(" ", "")
    if ID.match(compact):
        known = f"{compact.replace('-', '')[:4]}-{compact.replace('-', '')[4:]}"
        if known in ids:
            return SheetName(*ids[known], known, number)
    word = re.sub(r"(_last)?(_p\d+)?$", "", plain(words))
    for name, (stage, bins) in _names(farm):
        if word in (name, name[:LONGEST_TITLE].rstrip("_")):
            return SheetName(stage, bins, "", number)
    return _several_bins(word, number, farm)


def _several_bins(word: str, number: int | None, farm: Farm) -> SheetName | None:
    """A sheet of some of the bins together, `sw_boar north+south`."""
    bins = {plain(row.bin): row.bin for row in farm.book.bins}
    for stage in _stages(farm):
        parts = word.removeprefix(f"{plain(stage)}_").split("+")
        if word.startswith(f"{plain(stage)}_") and all(part in bins for part in parts):
            return SheetName(stage, tuple(bins[part] for part in parts), "", number)
    return None


def _stages(farm: Farm) -> list[str]:
    return list(dict.fromkeys([*farm.library.stages, *(row.stage for row in farm.book.own_stages)]))


def _names(farm: Farm) -> Iterable[tuple[str, tuple[str, tuple[str, ...]]]]:
    """Every name that a sheet of this book can have."""
    bins = [row.bin for row in farm.book.bins]
    groups = [(name,) for name in bins] + ([tuple(bins)] if len(bins) > 1 else []) or [()]
    for stage in _stages(farm):
        for group in groups:
            yield plain(f"{stage} {'+'.join(group)}".strip()), (stage, group)
        if len(groups) == 1:
            yield plain(stage), (stage, groups[0])


def _unknown(row: Weighed, farm: Farm) -> Problem:
    stages = {row.stage for row in farm.book.groups}
    wanted = [name for name, (stage, _) in _names(farm) if stage in stages]
    near = next(iter(names_of(wanted).near(row.sheet)), "")
    return Problem(
        "error",
        "actual",
        row.place.cell("sheet"),
        repr(row.sheet),
        "the name of a mix sheet: its id (7KQ4-M2XD), or stage and bin as printed on it",
        f"Did you mean {near!r}?"
        if near
        else "Copy the name from the sheet. An id is known only as long as its ration is the one of today.",
    )
