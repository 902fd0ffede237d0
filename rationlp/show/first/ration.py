"""The first screen of `ration`: a line a ration, what it is mixed of, whom to ask about what, and a few things to know.

Every reason to stop or to ask stands here; `--full` prints the tables.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.finder import listed
from rationlp.numbers import figure, money, percent, plain
from rationlp.rations.answer.farm_totals import farm_totals
from rationlp.rations.answer.model import Ration
from rationlp.reasons import Kind, Severity, percent_words
from rationlp.show.first.asked import Asked, Detail
from rationlp.show.first.screen import (
    counted,
    laid_out,
    lines_for,
    mix_words,
    print_asked,
    print_end,
    print_things,
    screen,
    short_words,
)
from rationlp.show.terminal import Terminal

if TYPE_CHECKING:
    from rationlp.rations.studies.missing_offer import MissingOffer

FEW = 4
"""Up to this many rations are shown with every feed of their mix."""
MOST_LINES = 22
"""Of stages and rations, for a stage to have a line of its own."""
MOST_MIXES = 24
"""Of more rations than this the bins stand beside each other, and the mixes on a screen of their own."""
MOST_CONFLICT = 4
MOST_CHANGES = 5
MOST_MENDING = 3
"""Feeds named that would mend or help most of many rations."""
TRACE = 1e-6
"""Of a batch: less in the nearest mix, which nobody weighs, is not named."""
CHANGED = 5e-5
"""Of a batch: what a share must change by to be named."""


def print_first(
    rations: Sequence[Ration],
    book: Book,
    missing: Sequence[MissingOffer | None] = (),
    asked_for: Sequence[str] = (),
    today: Sequence[Ration] = (),
) -> None:
    """The rations on one screen; `missing` are the feeds that nobody offers and that would save most, one by one.

    With a question (`asked_for`) each ration stands beside the one of `today`, and what changes in its mix.
    """
    out = screen()
    units = units_of(book.farm)
    out.print(
        f"{book.farm.name or book.path}. {counted([ration.verdict for ration in rations], 'ration')}", strong=True
    )
    print_asked(out, asked_for)
    held = list(_binding(rations))
    below = [*_totals(rations, book, units), *(held if len(rations) > FEW else [])]  # one sentence for all
    mending = list(_mending(rations))
    asked, table = _fitted(out, rations, book, today, sum(map(out.height, [*mending, *below])) + 1)
    for row in table:
        out.print(row.text, row.strong, row.hang)
    for line in mending:
        out.print(line, strong=True)
    asked.print(out)
    for line in below:
        out.print(line)
    few = held if len(rations) <= FEW else []
    things = [*_unmet(rations), *_bare(rations), *few, *_warnings(rations), *_missing(missing, units)]
    print_things(out, things, mixes=len(rations))
    one = next(iter(rations), None)
    only = f" One mix: --stage {one.stage}{f' --bin {one.bin}' if one.bin else ''}." if one else ""
    print_end(out, f"--full prints every requirement, cap and reason.{only if len(rations) > 1 else ''}")


@dataclass(frozen=True, slots=True)
class _Line:
    """A line of the table of rations."""

    text: str
    strong: bool = False
    hang: int = 0


def _fitted(
    out: Terminal, rations: Sequence[Ration], book: Book, today: Sequence[Ration], others: int
) -> tuple[Asked, list[_Line]]:
    """The reasons and the table that find room beside `others` lines: with every mix if they can, else the bins beside
    each other. Of what must not be fed throughout nobody weighs the mix."""
    before = {(ration.stage, ration.bins): ration for ration in today}
    whole = Asked((ration.name, ration.verdict) for ration in rations)
    stopped = all(ration.verdict.severity is Severity.STOP for ration in rations)
    ways = [_beside, _by_line] if stopped or len(rations) > MOST_MIXES else [_by_line, _beside]
    found: list[tuple[int, Asked, list[_Line]]] = []
    for way in ways if len(rations) > FEW else [_by_line]:
        for detail in Detail:
            asked = whole.told(detail)
            table = way(out, rations, asked, book, before)
            if way is _beside and max(len(line.text) for line in table) > out.width:
                continue
            lines = out.lines + others + asked.height(out) + sum(out.height(line.text, line.hang) for line in table)
            if lines <= lines_for(len(rations)):
                return asked, table
            found.append((lines, asked, table))
    _, asked, table = min(found, key=lambda each: each[0])
    return asked, table


def _totals(rations: Sequence[Ration], book: Book, units: BookUnits) -> Iterator[str]:
    """What all groups eat from each bin, and of what there is too little for them."""
    totals = {total.bin: total for total in farm_totals(book, rations)}
    for bin_name in dict.fromkeys(ration.bin for ration in rations):
        told = []
        if total := totals.get(bin_name):
            named = ", ".join(total.left_out) if len(total.left_out) <= 3 else f"{len(total.left_out)} groups"
            left = f" (without {named}: no ration here)" if total.left_out else ""
            told.append(
                f"All groups{' from ' + total.bin if total.bin else ''}: {units.bulk(total.tonnes)} of feed, "
                f"{money(total.cost, units.currency)}, {percent(total.home_grown_share, 1)} % home-grown{left}."
            )
        told.append(short_words([ration.verdict for ration in rations if ration.bin == bin_name], units))
        if any(told):
            yield " ".join(filter(None, told))


def _beside(
    out: Terminal,
    rations: Sequence[Ration],
    asked: Asked,
    book: Book,
    today: Mapping[tuple[str, tuple[str, ...]], Ration],
) -> list[_Line]:
    """A line for each stage, its bins beside each other."""
    units = units_of(book.farm)
    by_stage = {stage: {one.bin: one for one in made} for stage, made in _by_stage(rations).items()}
    for share in (True, False):  # the home-grown share only where it finds room
        rows = [[stage] for stage in by_stage]
        for bin_name in dict.fromkeys(ration.bin for ration in rations):
            for row, made in zip(rows, by_stage.values(), strict=True):
                one = made.get(bin_name)
                cells = [""] * 4 if one is None else _cells(one, asked, units, today.get((one.stage, one.bins)))
                row += cells if share else cells[:3]
        sides = ("llrr" if share else "llr") * len({ration.bin for ration in rations})
        lines = [line.rstrip() for line in laid_out(rows, "l" + sides)]
        if max(map(len, lines)) <= out.width:
            break
    heading = f"Verdict, {units.per_mass}{', home-grown share' if share else ''}:"
    return [_Line(heading), *map(_Line, lines)]


def _by_line(
    out: Terminal,
    rations: Sequence[Ration],
    asked: Asked,
    book: Book,
    today: Mapping[tuple[str, tuple[str, ...]], Ration],
) -> list[_Line]:
    """A line for each ration; the stage stands above its lines in words, or before them by its id if there are many."""
    units, batch = units_of(book.farm), book.farm.batch_kg
    by_stage = _by_stage(rations)
    apart = len(rations) + len(by_stage) <= MOST_LINES
    rows = [
        ["" if apart or place else stage, *_cells(ration, asked, units, today.get((ration.stage, ration.bins)))]
        for stage, made in by_stage.items()
        for place, ration in enumerate(made)
    ]
    heads = laid_out(rows, "lllrr", indent=2 if apart else 0)
    room = None if len(rations) <= FEW else out.width - len(heads[0]) if heads else None
    what = "change of the mix" if today else "mix"
    told = [_Line(f"Verdict, {units.per_mass}, home-grown share, {what} of {units.weight(batch)} in {units.mass}:")]
    lines = iter(heads)
    for stage, made in by_stage.items():
        if apart:
            told.append(_Line(f"{made[0].stage_label} ({stage})", strong=True))
        for ration in made:
            head = next(lines)
            was = today.get((ration.stage, ration.bins))
            line = out.width - len(head) if ration.verdict.severity is Severity.STOP else room  # nobody weighs it
            words = _changes(ration, was, batch, units) if was else _mix(ration, batch, units, line)
            told.append(_Line(head + words, hang=len(head)))
    return told


def _by_stage(rations: Iterable[Ration]) -> dict[str, list[Ration]]:
    found: dict[str, list[Ration]] = {}
    for ration in rations:
        found.setdefault(ration.stage, []).append(ration)
    return found


def _mix(ration: Ration, batch_kg: float, units: BookUnits, room: int | None) -> str:
    parts = [(line.offer, line.share * batch_kg) for line in ration.mix if line.share > TRACE]
    return mix_words(parts, units, room) if parts else "no mix"


def _changes(ration: Ration, was: Ration, batch_kg: float, units: BookUnits) -> str:
    """What a batch holds more or less of than today's, the largest change first."""
    then = {line.offer: line.share for line in was.mix}
    now = {line.offer: line.share for line in ration.mix}
    moved = {offer: (now.get(offer, 0.0) - then.get(offer, 0.0)) * batch_kg for offer in {**now, **then}}
    least = CHANGED * batch_kg
    told = sorted((pair for pair in moved.items() if abs(pair[1]) > least), key=lambda pair: -abs(pair[1]))
    words = [
        f"{offer} {'+' if kg > 0 else '-'}{plain(abs(kg) / units.mass_kg, 3)}" for offer, kg in told[:MOST_CHANGES]
    ]
    more = [f"{len(told) - MOST_CHANGES} more"] if len(told) > MOST_CHANGES else []
    return ", ".join([*words, *more]) or "the mix stays"


def _cells(ration: Ration, asked: Asked, units: BookUnits, was: Ration | None) -> list[str]:
    share = "" if ration.home_grown_share is None else f"{percent(ration.home_grown_share, 0)} %"
    cost = units.price(ration.cost_per_tonne)
    if was is not None:
        cost = f"{cost} (today {units.price(was.cost_per_tonne) or 'no mix'})"
    return [ration.bin, asked.mark(ration.verdict), cost, share]


def _unmet(rations: Sequence[Ration]) -> Iterator[str]:
    """Which rows conflict, each set of them once, and for a few rations what would mend it."""
    few = len(rations) <= FEW
    named: dict[tuple[str, ...], list[Ration]] = {}
    for ration in rations:
        if not ration.conflict or any(_names_all(reason.text, ration.conflict) for reason in ration.verdict.reasons):
            continue
        if few:
            start = "cannot be had from what is on offer" if len(ration.conflict) == 1 else "these conflict"
            yield f"{ration.name}: {start}: {_rows_words(ration.conflict)}.{_mended(ration)}"
        else:
            named.setdefault(tuple(ration.conflict), []).append(ration)
    ordered = sorted(named.items(), key=lambda item: -len(item[1]))
    alone = [f"{rows[0]} (in {len(found)}{_fixed('; ', found[0])})" for rows, found in ordered if len(rows) == 1]
    if alone:
        yield f"Of {len(rations)} rations, what cannot be had from what is on offer: {_rows_words(alone)}."
    for rows, found in ordered:
        if len(rows) > 1:
            words = f"these conflict: {_rows_words(rows)}{_fixed('; ', found[0])}"
            yield f"{len(found)} of {len(rations)} rations, e.g. {found[0].name}: {words}."


def _fixed(before: str, ration: Ration) -> str:
    """What alone would fix a ration to ask about, behind `before`; of those that must not be fed `_mending` says it."""
    whole = _mending_alone(ration)
    if ration.verdict.severity is Severity.STOP or not whole:
        return ""
    return f"{before}{' or '.join(whole[:2])} would fix it"


def _rows_words(rows: Sequence[str]) -> str:
    more = len(rows) - MOST_CONFLICT
    return "; ".join(rows[:MOST_CONFLICT]) + (f"; {more} more" if more > 0 else "")


def _mending(rations: Sequence[Ration]) -> Iterator[str]:
    """Of many rations which feeds that nobody offers would mend most of those that must not be fed, or help most."""
    stopped = [ration for ration in rations if ration.verdict.severity is Severity.STOP]
    if len(rations) <= FEW or not stopped:
        return
    whole = [set(_mending_alone(ration)) for ration in stopped]
    told: list[str] = []
    left = whole
    while (best := _commonest(left)) and len(told) < MOST_MENDING:
        told.append(f"{best} ({sum(best in labels for labels in left)})")
        left = [labels for labels in left if best not in labels]
    if 2 * len(left) <= len(stopped):
        yield f"Not on offer, and would mend most of the {len(stopped)} that must not be fed: {', '.join(told)}."
        return
    helps = Counter(remedy.label for ration in stopped for remedy in ration.remedies)
    relief: dict[str, float] = {}
    for remedy in (remedy for ration in stopped for remedy in ration.remedies):
        less = 1 - remedy.shortfall_after / remedy.shortfall_before if remedy.shortfall_before else 0.0
        relief[remedy.label] = relief.get(remedy.label, 0.0) + less
    best_first = sorted(helps, key=lambda label: (-round(relief[label], 6), -helps[label], label))
    if best_first:
        words = listed(f"{label} ({helps[label]})" for label in best_first[:MOST_MENDING])
        yield (
            f"No one feed mends most of the {len(stopped)} that must not be fed. Not on offer, and helps most: {words}."
        )


def _mending_alone(ration: Ration) -> list[str]:
    """The feeds not on offer of which each meets everything by itself, the best first; none where there is no premix,
    which no other feed stands for."""
    premix = (reason for reason in ration.verdict.of(Kind.PREMIX) if reason.severity is Severity.STOP)
    if any(reason.value is None for reason in premix):
        return []
    return [remedy.label for remedy in ration.remedies if remedy.share is not None]


def _commonest(sets: Iterable[set[str]]) -> str:
    """What is in most of the sets, of as many the first by name; empty where they are."""
    counts = Counter(label for labels in sets for label in labels)
    return min(counts, key=lambda label: (-counts[label], label), default="")


def _names_all(text: str, rows: Sequence[str]) -> bool:
    """Whether a reason names the rows that conflict already."""
    return all(row in text for row in rows)


def _bare(rations: Sequence[Ration]) -> Iterator[str]:
    """Mixes from a bin of which nothing is in them: of a few with what would bring it in."""
    bare = [ration for ration in rations if ration.verdict.without_grain]
    if len(rations) <= FEW:
        for ration in bare:
            told = (r.text for r in ration.verdict.of(Kind.USUAL) if r.severity is Severity.FEED)
            yield f"{ration.name}: {' '.join(told)}"
    elif bare:
        more = f" and {len(bare) - FEW} more" if len(bare) > FEW else ""
        named = ", ".join(ration.name for ration in bare[:FEW])
        yield f"No home-grown grain is in {len(bare)} of {len(rations)} mixes: {named}{more}."


def _mended(ration: Ration) -> str:
    whole = _mending_alone(ration)
    feeds = " or ".join((whole or [remedy.label for remedy in ration.remedies])[:2])
    start = "What would fix it" if whole else "No single feed fixes it; what would help most"
    return f" {start}, not on offer today: {feeds}." if feeds else ""


def _binding(rations: Sequence[Ration]) -> Iterator[str]:
    """For a few rations how sure all their requirements are, and what holds their cost up."""
    if len(rations) > FEW:
        chances = [one for ration in rations if (one := _chance_of_all(ration)) is not None]
        if chances:
            low, high = percent_words(min(chances)), percent_words(max(chances))
            span = low if low == high else f"{low} to {high}"
            whole = len(chances) == len(rations)
            which = "of a ration" if whole else "of a ration that meets all on average"
            yield (
                f"Chance that every requirement {which} is met at once: {span}. "
                f"{'Each is met on average; ' if whole else ''}confidence_pct in the book asks for more."
            )
        return
    for ration in rations:
        if ration.shortfalls:  # a nearest mix is made whatever it costs
            continue
        caps = [f"{line.label} {figure(line.gives_pct, 3)} %" for line in ration.limits if line.binding]
        needs = [line.label for line in ration.requirements if line.binding]
        held = [f"{words} {'; '.join(found[:6])}" for words, found in (("by", needs), ("by the cap on", caps)) if found]
        told = [f"its cost is held up {', and '.join(held)}"] if held else []
        if (probability := _chance_of_all(ration)) is not None:
            chance = percent_words(probability)
            told.append(f"every requirement is met on average, all at once with a chance of {chance}")
        if told:
            yield f"{ration.name}: {'; '.join(reversed(told))}."


def _chance_of_all(ration: Ration) -> float | None:
    """The chance that every requirement is met at once, where all are met on average."""
    return None if ration.verdict.misses_something else ration.verdict.probability_all


def _warnings(rations: Sequence[Ration]) -> Iterator[str]:
    """What is to be looked at, each once, with the rations it speaks of where it does not speak of all."""
    named: dict[str, list[str]] = {}
    for ration in rations:
        for sentence in ration.warnings:
            named.setdefault(sentence, []).append(ration.name)
    for sentence, names in sorted(named.items(), key=lambda item: -len(item[1])):
        more = f" and {len(names) - 2} more" if len(names) > 2 else ""
        where = "" if len(names) == len(rations) else f" ({', '.join(names[:2])}{more})"
        yield f"{sentence}{where}"


def _missing(missing: Sequence[MissingOffer | None], units: BookUnits) -> Iterator[str]:
    """What nobody offers and would save most, each feed once."""
    by_feed: dict[str, list[MissingOffer]] = {}
    for offer in missing:
        if offer:
            by_feed.setdefault(offer.label, []).append(offer)
    for label, told in sorted(by_feed.items(), key=lambda item: -len(item[1])):
        best = max(1 - offer.cost_with / offer.cost for offer in told)
        first = told[0]
        yield (
            f"{label} is not on offer: at {units.price(first.price, units.currency)} per {units.word} "
            f"({first.priced_by}) it would save up to {100 * best:.0f} % in {len(told)} "
            f"ration{'' if len(told) == 1 else 's'}."
        )
