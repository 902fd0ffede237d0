"""A new sample for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.book.records import Book, Sample, Settings
from rationlp.book_units import BookUnits, units_of
from rationlp.cautions import REVIEW
from rationlp.finder import listed
from rationlp.numbers import figure, money, percent
from rationlp.reasons import HEADLINES
from rationlp.resample.change import MixAt, MixChange, Resample
from rationlp.resample.moved import Move, Moved
from rationlp.show.terminal import Table, Terminal, console, table
from rationlp.units import Z90

MOST = 12
"""So many nutrients that moved are shown."""
NAMED = 4
"""So many missed requirements are named in a cell."""


def print_resample(found: Resample, book: Book) -> None:
    """What moved, the rations at a glance, what to change in each, and which sheets to print again."""
    out = console()
    _print_move(out, found.move, book.farm)
    _glance(out, found.changes, book)
    for stage in found.not_judged:
        out.print(f"! {stage.stage}: {stage.why.rstrip('.')}; {stage.now}.", strong=True)
    for change in found.changes:
        if change.reprint and change.new is not None:
            _print_change(out, change, book)
    again = [f"{c.sheet or c.stage + ' ' + c.bin}" for c in found.changes if c.reprint]
    if again and found.within_chance:
        out.print(
            "The two samples differ by no more than chance: what the old mix misses, it misses within the "
            "uncertainty of a sample."
        )
    kept = [f"{c.sheet or c.stage + ' ' + c.bin}" for c in found.changes if not c.reprint]
    out.print(f"Print again: {', '.join(again) or 'no sheet'}.", strong=True)
    if kept:
        out.print(f"May stay: {', '.join(kept)}.")
    out.print(REVIEW, strong=True)


def _named(sample: Sample, farm: Settings) -> str:
    return f"{sample.sample} of {farm.day(sample.taken_on)}" if sample.taken_on else sample.sample


def _print_move(out: Terminal, move: Move, farm: Settings) -> None:
    out.rule(f"Bin {move.bin}: sample {_named(move.before, farm)}, then {_named(move.after, farm)}")
    if move.sentence:
        out.print(move.sentence, strong=move.more_than_chance)
    crops = [line for line in move.lines if line.kind == "crop"]
    out.print(_moved("Crops, % by mass", crops, 100.0))
    nutrients = [line for line in move.lines if line.kind == "nutrient"]
    real = [line for line in nutrients if line.more_than_chance]
    if real:
        out.print(_moved("Nutrients as fed that moved by more than chance", real[:MOST], 1.0))
        if len(real) > MOST:
            out.print(f"And {len(real) - MOST} more (--format json has all).")
    quiet = [line.label for line in nutrients if not line.more_than_chance]
    if quiet:
        more = f" and {len(quiet) - MOST} more" if len(quiet) > MOST else ""
        out.print(f"Within chance: {', '.join(quiet[:MOST])}{more}.")
    out.print()


def _moved(title: str, lines: Sequence[Moved], times: float) -> Table:
    made = table(
        title,
        [
            ("What", "left"),
            ("Unit", "left"),
            ("Before", "right"),
            ("After", "right"),
            ("Change", "right"),
            ("± of chance", "right"),
            ("Moved", "left"),
        ],
    )
    for line in lines:
        made.add_row(
            line.label,
            line.unit,
            figure(times * line.before),
            figure(times * line.after),
            _signed(times * line.change),
            figure(times * Z90 * line.sd, 2),
            "moved" if line.more_than_chance else "within chance",
        )
    return made


def _standing(at: MixAt) -> str:
    """How the old mix stands on the new sample: the verdict, and what it misses."""
    words = HEADLINES[at.ration.verdict.severity]
    return f"{words}; misses {_few(at.missed)}" if at.missed else words


def _signed(value: float) -> str:
    return f"+{figure(value, 3)}" if value > 0 else figure(value, 3)


def _glance(out: Terminal, changes: Sequence[MixChange], book: Book) -> None:
    units = units_of(book.farm)
    made = table(
        "The mixes in use on the new sample",
        [
            ("Stage", "left"),
            ("Bin", "left"),
            ("Old mix", "left"),
            ("Chance of all, then", "right"),
            ("now %", "right"),
            (f"Old {units.per_mass}", "right"),
            ("New", "right"),
            ("Smallest", "right"),
            ("% exchanged", "right"),
            ("Home-grown %", "right"),
            ("new", "right"),
            ("smallest", "right"),
        ],
    )
    for c in changes:
        made.add_row(
            c.stage,
            c.bin,
            _standing(c.old_now),
            _chance(c.old_then),
            _chance(c.old_now),
            units.price(c.old_now.ration.cost_per_tonne),
            _cost(c.new, units),
            _cost(c.smallest, units),
            percent(c.exchanged, 2),
            percent(c.old_now.ration.home_grown_share, 1),
            _grown(c.new),
            _grown(c.smallest),
        )
    out.print(made)
    out.print(
        "Smallest: the mix that meets everything again with the least change of shares. Chance of all: that every "
        "requirement is really met at once; a mix of plain averages meets each that binds with even odds only."
    )
    calculated = [c.stage for c in changes if not c.from_kept]
    if calculated:
        out.print(
            f"No mix was kept for {', '.join(calculated)}: the old mix is the one calculated from the old sample, at "
            "today's prices."
        )
    out.print()


def _few(names: Sequence[str]) -> str:
    return listed(names[:NAMED]) + (f" and {len(names) - NAMED} more" if len(names) > NAMED else "")


def _chance(at: MixAt) -> str:
    return "" if at.chance_pct is None else f"{at.chance_pct:.0f}"


def _cost(at: MixAt | None, units: BookUnits) -> str:
    return units.price(at.ration.cost_per_tonne) if at else "none"


def _grown(at: MixAt | None) -> str:
    return percent(at.ration.home_grown_share, 1) if at else ""


def _print_change(out: Terminal, change: MixChange, book: Book) -> None:
    out.rule(f"{change.stage_label} ({change.stage}) from {change.bin}")
    out.print(f"{change.advice} Old mix: {change.from_kept or 'calculated from the old sample'}.", strong=True)
    missed = [line for line in change.old_now.ration.requirements if line.label in change.old_now.missed]
    if missed:
        made = table(
            "What the old mix misses",
            [
                ("Nutrient", "left"),
                ("Unit", "left"),
                ("Minimum", "right"),
                ("Maximum", "right"),
                ("Gave", "right"),
                ("Supplies", "right"),
                ("Chance %", "right"),
            ],
        )
        then = {line.nutrient: line for line in change.old_then.ration.requirements}
        for line in missed:
            made.add_row(
                line.label,
                line.unit,
                figure(line.minimum),
                figure(line.maximum),
                figure(then[line.nutrient].gives),
                figure(line.gives),
                "" if line.probability is None else f"{100 * line.probability:.0f}",
            )
        out.print(made)
    made = table(
        "Mix, % as fed",
        [
            ("Feed", "left"),
            ("Offer", "left"),
            ("Old", "right"),
            ("New", "right"),
            ("Smallest change", "right"),
            ("By", "right"),
        ],
    )
    for share in change.shares:
        by = 0.0 if share.smallest is None else share.smallest - share.old
        moved = "" if abs(by) < 5e-6 else _signed(100 * by)
        made.add_row(
            share.label, share.offer, percent(share.old, 3), percent(share.new, 3), percent(share.smallest, 3), moved
        )
    out.print(made)
    if change.new:
        units = units_of(book.farm)
        costs = [("old mix", change.old_now), ("new mix", change.new), ("smallest change", change.smallest)]
        words = [
            f"{name} {units.price(at.ration.cost_per_tonne, units.currency)} a {units.word}"
            + (f" ({money(at.ration.cost_per_gcal)} a Gcal)" if at.ration.cost_per_gcal else "")
            for name, at in costs
            if at
        ]
        out.print(f"Cost: {', '.join(words)}.")
