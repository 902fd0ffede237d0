"""The rows of one sheet and day as batches: told apart by their numbers, never poured together."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from rationlp.book.records import Settings, Weighed
from rationlp.errors import Problem


def turns(
    rows: Sequence[Weighed], offer_of: Callable[[str], str], is_bin: Callable[[str], bool], farm: Settings
) -> list[list[Weighed]] | Problem:
    """The batches of rows that have no number, in their order, or the problem of telling them apart.

    Every feed that was bought stands once in a batch (rows one after the other from two lots count as one); grain may
    stand twice, below and above the rest. Where some feeds stand oftener than others nobody can say which batch lacks
    one: that is asked.
    """
    places: dict[str, list[list[Weighed]]] = {}
    last = ""
    for row in rows:
        feed = offer_of(row.feed)
        of_it = places.setdefault(feed, [])
        if feed == last and of_it[-1][-1].lot != row.lot:
            of_it[-1].append(row)  # the next lot of the same feed
        else:
            of_it.append([row])
        last = feed
    bought = {len(found) for feed, found in places.items() if not is_bin(feed)}
    count = max(bought, default=1)
    if len(bought) > 1 or any(len(found) % count for found in places.values()):
        return _unclear(rows[0], {feed: len(found) for feed, found in places.items()}, farm)
    made: list[list[Weighed]] = [[] for _ in range(count)]
    for found in places.values():
        each = len(found) // count
        for index, lines in enumerate(found):
            made[index // each] += lines
    return made


def _unclear(first: Weighed, counts: dict[str, int], farm: Settings) -> Problem:
    often = ", ".join(f"{feed} {count} times" for feed, count in counts.items())
    day = f" of {farm.day(first.made_on)}" if first.made_on else ""
    return Problem(
        "error",
        "actual",
        first.place.cell("batch" if "batch" in first.place.columns else "sheet"),
        f"rows of {first.sheet}{day} that are no whole batches ({often})",
        "each feed as often as the others, or the number of its batch in every row",
        "Fill in batch, the number on the label; give what was left out a mass of 0, and name the two lots of a feed.",
    )
