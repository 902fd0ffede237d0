"""Which feeds, not on offer, would mend a ration that nothing on offer can make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rationlp.book.records import Book, Offer, Place
from rationlp.library.read import Library
from rationlp.rations.candidates import Candidate, offer_candidates
from rationlp.rations.formula import Formula, build
from rationlp.rations.model import Remedy
from rationlp.rations.nearest import least_shortfall
from rationlp.rations.program import Program
from rationlp.rations.solver import solve

ENOUGH = 1e-6  # total relative shortfall that counts as none
WORTH_TELLING = 0.02  # a feed that takes less than this part of the shortfall away is not named


def remedies(formula: Formula, candidates: Sequence[Candidate], book: Book, library: Library) -> list[Remedy]:
    """Feeds of the library ranked by what they would mend: first those of which the least share makes the ration whole.

    Each feed is put on offer by itself, under its own caps, and the nearest ration is looked for again. A remedy's
    `share` is the least share that meets everything, or None where a part of the shortfall stays.
    """
    before = least_shortfall(formula.program)
    found = []
    for candidate in _not_on_offer(candidates, book, library):
        try_with = build(formula.stage, formula.bin, [*candidates, candidate], book, library)
        if candidate.name not in try_with.program.columns:
            continue
        after = least_shortfall(try_with.program)
        if after is None or (before is not None and after > before * (1 - WORTH_TELLING)):
            continue
        share = _least_share(try_with.program, candidate.name) if after < ENOUGH else None
        found.append(Remedy(candidate.feed, candidate.label, candidate.group, share, before, after))
    return sorted(found, key=lambda r: (r.share is None, r.share or 0.0, r.shortfall_after))


def _not_on_offer(candidates: Sequence[Candidate], book: Book, library: Library) -> list[Candidate]:
    """Every feed of the library that nobody offers and that is sold as feed, as if it were on offer."""
    offered = {candidate.feed for candidate in candidates}
    offers = tuple(
        Offer(Place(), f"library:{feed}", feed, organic=True if _may_be_organic(feed, book, library) else None)
        for feed in library.feeds
        if feed not in offered
    )
    return offer_candidates(replace(book, supplements=offers), library)


def _may_be_organic(feed: str, book: Book, library: Library) -> bool:
    words = library.feeds[feed].us_organic if book.farm.certification == "us_organic" else library.feeds[feed].eu_organic
    return not words.startswith("prohibited")


def _least_share(program: Program, column: str) -> float | None:
    """The least share of `column` in a mix that meets every row."""
    index = program.columns.index(column)
    ones = (1.0,) * len(program.columns)
    costs = tuple(float(j == index) for j in range(len(program.columns)))
    solution = solve(replace(program, costs=costs, normalizer=ones))
    return solution.amounts[index] if solution.status == "optimal" else None
