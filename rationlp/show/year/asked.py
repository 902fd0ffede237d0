"""What the first screen of `year` says of animals that cannot be fed and of mixes to be asked about."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from rationlp.book.records import Book
from rationlp.reasons import Reason
from rationlp.show.first.asked import Asked
from rationlp.show.year.lines import shown, unfed_lines
from rationlp.year.model import Unfed, Year

FEW = 3
"""So many groups that cannot be fed have a sentence of their own."""
MOST_WAYS = 3


def unfed_of(year: Year, book: Book) -> Iterator[str]:
    """Who cannot be fed, from which day on; of a few groups why, of many the reasons below say it."""
    if len(year.unfed) <= FEW:
        yield from unfed_lines(year, book)
        return
    first: dict[str, date] = {}
    for each in year.unfed:  # the first day first
        first.setdefault(each.group, each.on)
    since: dict[str, list[str]] = {}
    for group, on in first.items():
        since.setdefault(shown(on, book), []).append(group)
    told = "; ".join(f"{', '.join(groups)} from {day} on" for day, groups in since.items())
    yield f"Cannot be fed as they need: {told}."


def mending(year: Year) -> Iterator[str]:
    """What would feed those that cannot be fed: of a few the ways of the first, of many the commonest."""
    if len(year.unfed) <= FEW:
        yield from (" ".join(each.ways_out) for each in year.unfed[:1] if each.ways_out)
        return
    ways = Counter(way.partition(":")[0].rstrip(".") for each in year.unfed for way in dict.fromkeys(each.ways_out))
    if ways:
        most = "; ".join(f"{way} ({count})" for way, count in ways.most_common(MOST_WAYS))
        yield f"What would help most of those that cannot be fed, and how many: {most}."


def asked_of_year(year: Year) -> Asked:
    """The reasons to stop or to ask of its mixes; where those that cannot be fed are many, why, too."""
    short = year.unfed if len(year.unfed) > FEW else ()
    unfed = [(each.group, replace(each.verdict, reasons=(_why(each),))) for each in short]
    return Asked([*unfed, *((mix.mix, mix.verdict) for mix in year.mixes)])


def _why(unfed: Unfed) -> Reason:
    """Why they are not fed: what the nearest ration misses, or the sentence that says it where it misses nothing."""
    first, *others = unfed.verdict.reasons
    return next((reason for reason in others if reason.text == unfed.why), first)
