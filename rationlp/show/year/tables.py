"""The tables of a planned year that stand on its first screen and in all of it."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.book.records import Book
from rationlp.book_units import BookUnits
from rationlp.numbers import figure, largest_first
from rationlp.show.terminal import Table, table
from rationlp.show.year.lines import shown
from rationlp.year.model import Mix, Year

PARTS = 3
"""So many parts of a mix are named, the largest first."""
LINE = 38
"""Letters of what a mix is made of."""
SHORT = 26
"""Letters of a list in a cell."""


def bins_table(year: Year, book: Book, units: BookUnits) -> Table:
    """When each bin is empty, what is fed of it and left, and the worth of its last tonne (ton)."""
    made = table(
        "The bins",
        [
            ("Bin", "left"),
            ("There", "right"),
            ("Fed", "right"),
            ("Left over", "right"),
            ("Empty on", "left"),
            ("Earliest", "left"),
            ("Latest", "left"),
            ("Keeps to", "left"),
            (f"Last {units.short}\nworth", "right"),
        ],
    )
    supplies = {s.name: s for s in year.search.supplies}
    left = {sale.bin: sale.tonnes for sale in year.sales}
    worth = {row.bin: row.value for row in year.worth}
    for row in year.runs_out:
        there = supplies[row.bin].mean_tonnes or 0.0
        made.add_row(
            row.bin,
            units.bulk(there),
            units.bulk(there - left[row.bin]),
            units.bulk(left[row.bin]),
            shown(row.on, book, "lasts"),
            shown(row.earliest, book, "lasts"),
            shown(row.latest, book, "lasts"),
            shown(row.keeps_until, book, "long"),
            _worth(worth.get(row.bin), units),
        )
    return made


def _worth(value: float | None, units: BookUnits) -> str:
    """What the last tonne brings beyond its price; nothing where not everybody is fed."""
    return "" if value is None else f"+{units.price(value)}" if value else "0"


def mixes_table(mixes: Sequence[Mix], units: BookUnits, book: Book) -> Table:
    """For whom each mix is, from when, how much of it, its cost and its largest parts."""
    made = table(
        "The mixes, in the order in which they are first fed",
        [
            ("Mix", "left"),
            ("For", "left"),
            ("From", "left"),
            (units.short, "right"),
            (units.per_mass, "right"),
            ("Made of, %", "left"),
            ("Verdict", "left"),
        ],
    )
    for mix in mixes:
        parts = sorted(mix.found.shares, key=lambda part: largest_first(part[1]))[:PARTS]
        made.add_row(
            mix.mix,
            _short(mix.groups),
            shown(mix.first_fed, book),
            units.bulk(mix.tonnes).split()[0],
            units.price(mix.cost_per_tonne),
            _made_of(parts),
            mix.verdict.severity,
        )
    return made


def _made_of(parts: Sequence[tuple[str, float]]) -> str:
    """As many of the parts as fit into a line, the largest first."""
    told = ""
    for name, share in parts:
        more = f"{', ' if told else ''}{name} {figure(100 * share, 3)}"
        if told and len(told) + len(more) > LINE:
            break
        told += more
    return told


def _short(names: Sequence[str]) -> str:
    """As many of the names as fit into a cell."""
    held = names[0][:SHORT]
    for place, name in enumerate(names[1:], start=1):
        if len(held) + len(name) + 2 > SHORT:
            return f"{held} +{len(names) - place}"
        held = f"{held}, {name}"
    return held
