"""The first screen of `resample`: what moved, a line for each mix in use, which sheets to print again."""

from __future__ import annotations

from collections.abc import Iterator

from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.numbers import percent
from rationlp.reasons import Severity
from rationlp.resample.change import MixChange, Resample
from rationlp.show.first.asked import Asked
from rationlp.show.first.screen import counted, laid_out, print_end, print_things, screen
from rationlp.units import Z90

MOST_LINES = 12
"""Of more mixes than this, those with nothing to do share a line."""
CHANGED = 3
"""Feeds whose weight changes most are named, for each sheet to print again."""


def print_first(found: Resample, book: Book) -> None:
    """The mixes in use on the new sample, whom to ask, what to print again."""
    out = screen()
    units = units_of(book.farm)
    move = found.move
    out.print(f"Bin {move.bin}: sample {move.before.sample}, then {move.after.sample}.", strong=True)
    if move.sentence:
        out.print(move.sentence)
    moved = [
        f"{line.label.split(' (')[0]} {percent(line.before, 1)} to {percent(line.after, 1)} % (± "
        f"{percent(Z90 * line.sd, 1)})"
        for line in move.lines
        if line.kind == "crop" and line.more_than_chance
    ]
    if moved:
        out.print(f"Crops that moved: {'; '.join(moved)}.")
    out.print(
        counted([change.old_now.ration.verdict for change in found.changes], "mix in use", "mixes in use"), strong=True
    )
    out.print(f"Mix in use, {units.per_mass} with it, with the least change and with a new mix; print its sheet again?")
    many = len(found.changes) > MOST_LINES
    quiet = [change for change in found.changes if many and _stays(change)]
    not_judged = [f"{', '.join(stages)}: {words}." for words, stages in _not_judged(found).items()]
    asked = Asked((_name(change), change.old_now.ration.verdict) for change in found.changes).fitting(
        out, len(found.changes) - len(quiet) + sum(map(out.height, not_judged)) + (3 if quiet else 1)
    )
    rows = [_cells(change, asked, units) for change in found.changes if change not in quiet]
    for line in laid_out(rows, "llrrrl") if rows else ():
        out.print(line.rstrip())
    if quiet:
        out.print(f"May stay, and may be fed after review: {', '.join(map(_name, quiet))}.")
    for words in not_judged:
        out.print(words, strong=True)
    asked.print(out)
    print_things(out, [*_richer(found, units), *_things(found)])
    print_end(out, "--full prints what moved and every mix, old and new.")


def _stays(change: MixChange) -> bool:
    return not change.reprint and change.old_now.ration.verdict.severity is Severity.FEED


def _not_judged(found: Resample) -> dict[str, list[str]]:
    """The stages without an old mix, by why and what can be made now."""
    told: dict[str, list[str]] = {}
    for stage in found.not_judged:
        told.setdefault(f"{stage.why.rstrip('.')}; {stage.now}", []).append(stage.stage)
    return told


def _name(change: MixChange) -> str:
    return change.sheet or f"{change.stage} {change.bin}".strip()


def _cells(change: MixChange, asked: Asked, units: BookUnits) -> list[str]:
    costs = [
        units.price(at.ration.cost_per_tonne) if at else "none" for at in (change.old_now, change.smallest, change.new)
    ]
    return [
        _name(change),
        asked.mark(change.old_now.ration.verdict),
        *costs,
        "print again" if change.reprint else "may stay",
    ]


def _richer(found: Resample, units: BookUnits) -> Iterator[str]:
    """Why a new mix can stand above the least change in price: rations are least in cost per unit of energy."""
    dearer = [
        _name(change)
        for change in found.changes
        if change.reprint
        and change.new
        and change.smallest
        and (change.new.ration.cost_per_tonne or 0.0) > (change.smallest.ration.cost_per_tonne or 0.0)
    ]
    if dearer:
        yield (
            f"A new mix that costs more per {units.word} than the least change holds more energy: the animals eat less "
            f"of it ({', '.join(dearer[:3])}{f' and {len(dearer) - 3} more' if len(dearer) > 3 else ''})."
        )


def _things(found: Resample) -> Iterator[str]:
    again = [change for change in found.changes if change.reprint]
    if again and found.within_chance:
        yield (
            "The two samples differ by no more than chance: what the old mixes miss, they miss within the uncertainty "
            "of a sample."
        )
    for change in sorted(again, key=lambda change: -(change.exchanged or 0.0)):
        by = [(s.label, 100 * (s.smallest - s.old)) for s in change.shares if s.smallest is not None]
        largest = sorted(by, key=lambda pair: -abs(pair[1]))[:CHANGED]
        words = "; ".join(f"{label} {points:+.2f} %" for label, points in largest if abs(points) >= 0.005)
        if words:
            yield f"{_name(change)}, least change: {words}."
    calculated = [_name(change) for change in found.changes if not change.from_kept]
    if calculated:
        yield f"No mix was kept for {len(calculated)} of them: there the old mix is that of the old sample."
