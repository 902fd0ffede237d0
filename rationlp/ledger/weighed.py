"""What was really weighed: the rows of the book's sheet `actual`, gathered into batches of a known stage and bins."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from rationlp.book.records import Book, Weighed
from rationlp.errors import InputError, Problem
from rationlp.farm import Farm
from rationlp.files import LONGEST_TITLE
from rationlp.finder import names_of, plain
from rationlp.ledger.kept import find
from rationlp.ledger.made_mix import MadeMix, Origin, newest_samples, weighed_parts
from rationlp.ledger.turns import turns
from rationlp.library.read import Library
from rationlp.rations.answer.ids import ALPHABET, book_version

NUMBER = re.compile(r"^(.*?)\s*#\s*(\d+)$")
LAST_NUMBER = re.compile(r"(\d+)\W*$")
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
    """The batches of the book's sheet `actual`, in its order. `ids` gives stage and bins of ration ids.

    Raises InputError with every sheet name that stands for nothing, and all rows that cannot be told apart as batches.
    """
    return [made for made, _ in batches_in_book(farm, ids)]


def batches_in_book(
    farm: Farm, ids: Mapping[str, tuple[str, tuple[str, ...]]]
) -> list[tuple[MadeMix, Sequence[Weighed]]]:
    """The batches of the sheet `actual`, as `made_in_book` has them, each with its rows."""
    groups: dict[tuple[str, date | None, str], list[Weighed]] = {}
    problems: list[Problem] = []
    names: dict[str, SheetName | None] = {}
    for row in farm.book.actual:
        key = plain(row.sheet)
        if key not in names:
            names[key] = sheet_name(row.sheet, farm, ids)
            if names[key] is None:
                problems.append(_unknown(row, farm))
        groups.setdefault((key, row.made_on, plain(row.batch)), []).append(row)
    bins, made = {row.bin for row in farm.book.bins}, list[tuple[MadeMix, Sequence[Weighed]]]()
    for (key, _, batch), rows in groups.items():
        name = names[key]
        if name is None:
            continue
        if number := _number(batch) or name.number:
            made.append((_made(name, rows, farm, number=number), rows))
            continue
        found = turns(rows, lambda feed: offer_of(feed, farm.book), bins.__contains__, farm.settings)
        if isinstance(found, Problem):
            problems.append(found)
        else:
            made += [(_made(name, lines, farm, turn=turn), lines) for turn, lines in enumerate(found, 1)]
    if problems:
        raise InputError(problems)
    return made


def _number(batch: str) -> int | None:
    """The number in what was typed as batch, `57`, `#57` or the whole label."""
    match = LAST_NUMBER.search(batch)
    return int(match[1]) if match else None


def _made(name: SheetName, lines: Sequence[Weighed], farm: Farm, number: int = 0, turn: int = 0) -> MadeMix:
    weighed: dict[str, float] = {}
    lots: dict[str, dict[str, float]] = {}
    for line in lines:
        offer = offer_of(line.feed, farm.book)
        weighed[offer] = weighed.get(offer, 0.0) + line.mass_kg
        of_it = lots.setdefault(offer, {})
        of_it[line.lot] = of_it.get(line.lot, 0.0) + line.mass_kg
    first, text = lines[0], lines[0].sheet.strip()
    batch = replace(name, number=number)
    return replace(
        weighed_mix(batch, _label(name.stage, farm.library), first.made_on, weighed, farm.book, lots),
        turn=turn,
        sheet=match[1] if (match := NUMBER.match(text)) else text,
        where=f"{first.place.sheet}!{first.place.cell('feed')}",
    )


def weighed_mix(
    batch: SheetName,
    label: str,
    made_on: date | None,
    weighed_kg: Mapping[str, float],
    book: Book,
    lots: Mapping[str, Mapping[str, float]] | None = None,
) -> MadeMix:
    """A mix as the crew weighed it for a stage called `label`, `weighed_kg` by offer, bin or feed (of `lots` by lot
    too), judged by the samples there were that day."""
    return MadeMix(
        id=batch.id,
        stage=batch.stage,
        stage_label=label,
        bins=batch.bins,
        samples=newest_samples(book, batch.bins, made_on),
        made_on=made_on,
        origin=Origin.WEIGHED,
        sheet="",
        book_version=book_version(book),
        parts=weighed_parts(weighed_kg, None, book, lots),
        number=batch.number or 0,
    )


def mixes_made(farm: Farm) -> list[MadeMix]:
    """Every mix that was made: as its sheet was printed, and as the crew weighed it. Raises InputError."""
    kept = find(farm.book)
    if not farm.book.actual:
        return kept
    return [*kept, *(made for made in made_in_book(farm, printed_ids(kept)) if made.shares)]


def printed_ids(kept: Iterable[MadeMix]) -> dict[str, tuple[str, tuple[str, ...]]]:
    """Stage and bins by the ids of the mixes that were printed."""
    return {mix.id: (mix.stage, mix.bins) for mix in kept}


def last_mixes(farm: Farm) -> dict[tuple[str, tuple[str, ...]], MadeMix]:
    """By stage and bins the last mix that was kept. Raises InputError."""
    found: dict[tuple[str, tuple[str, ...]], MadeMix] = {}
    for mix in find(farm.book):
        found.setdefault((mix.stage, mix.bins), mix)
    return found


def _label(stage: str, library: Library) -> str:
    return library.stages[stage].label if stage in library.stages else stage.replace("_", " ")


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


def asked_as(name: str, asked: Iterable[str], feeds: Mapping[str, str]) -> str:
    """The offer under which a sheet that asks for `asked` names what went in: itself, or another offer of the same feed
    (bags for bulk, two deliveries). `feeds` has the feed of each offer."""
    names = tuple(asked)
    if name in names:
        return name
    return next((other for other in names if feeds.get(other) == feeds.get(name, name)), name)


def sheet_name(text: str, farm: Farm, ids: Mapping[str, tuple[str, tuple[str, ...]]]) -> SheetName | None:
    """What a sheet's name stands for: the id of a ration, or stage and bin as printed, `#2` after it for a batch."""
    match = NUMBER.match(text.strip())
    words, number = (match[1], int(match[2])) if match else (text.strip(), None)
    known = id_in(words)
    if known in ids:
        return SheetName(*ids[known], known, number)
    word = re.sub(r"^mix_\d+_", "", re.sub(r"(_last)?(_p\d+)?$", "", plain(words)))
    for name, (stage, bins) in _names(farm):
        if word in (name, name[:LONGEST_TITLE].rstrip("_")):
            return SheetName(stage, bins, "", number)
    return _several_bins(word, number, farm)


def id_in(name: str) -> str:
    """The id that was typed as a sheet's name, perhaps with the batch behind it; empty where it is none."""
    words = match[1] if (match := NUMBER.match(name.strip())) else name
    compact = words.upper().replace(" ", "").replace("-", "")
    return f"{compact[:4]}-{compact[4:]}" if ID.match(compact) else ""


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
        f"Did you mean {near!r}?" if near else "Copy the name from the sheet.",
    )
