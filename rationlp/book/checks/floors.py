"""Floors of own_limits that cannot stand together in one ration."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from rationlp.book.columns import ALL_STAGES
from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.numbers import as_typed

if TYPE_CHECKING:
    from rationlp.library.read import Library

ROUNDING_PCT = 1e-6
MOST_TRIED = 14
"""So many floors are tried in every combination; of more, the highest ones."""


def check_floors(reading: BookReading, library: Library) -> None:
    """Report the floors of a stage, those for `all` among them, that add up to more than 100 % on feeds apart."""
    rows = [row for row in reading["own_limits"] if row.sound("stage", "feed", "min_pct") and row["min_pct"] > 0]
    general = [row for row in rows if row["stage"] == ALL_STAGES]
    told = False
    for stage in dict.fromkeys([ALL_STAGES, *(row["stage"] for row in rows)]):
        of_stage = [row for row in rows if row["stage"] == stage] if stage != ALL_STAGES else []
        named = {row["feed"] for row in reading["own_limits"] if row["stage"] == stage != ALL_STAGES}
        floors = [*of_stage, *(row for row in general if row["feed"] not in named)]
        if told and not of_stage:
            continue
        apart = _heaviest(floors, {row["feed"]: _members(row["feed"], library) for row in floors})
        total = sum(row["min_pct"] for row in apart)
        if total > 100 + ROUNDING_PCT:
            told = told or stage == ALL_STAGES
            last = max(apart, key=lambda row: row.place.row)
            parts = ", ".join(
                f"{row['feed']} {as_typed(row['min_pct'])} ({row.place.cell('min_pct')})" for row in apart
            )
            found = f"floors of {stage} that add up to {as_typed(total)} %: {parts}"
            reading.error(last, "min_pct", found, "at most 100 % together", "Lower some of them.")
            if stage == ALL_STAGES:
                return


def _members(feed: str, library: Library) -> frozenset[str]:
    return library.families.get(feed, frozenset({feed}))


def _heaviest(floors: Sequence[SheetRow], members: Mapping[str, frozenset[str]]) -> list[SheetRow]:
    """The floors of feeds apart from one another that together ask for most."""
    tried = sorted(floors, key=lambda row: -row["min_pct"])[:MOST_TRIED]

    def best(index: int, taken: frozenset[str]) -> list[SheetRow]:
        if index == len(tried):
            return []
        without = best(index + 1, taken)
        feeds = members[tried[index]["feed"]]
        if feeds & taken:
            return without
        with_it = [tried[index], *best(index + 1, taken | feeds)]
        return max(with_it, without, key=lambda rows: sum(row["min_pct"] for row in rows))

    return best(0, frozenset())
