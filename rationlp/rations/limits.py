"""Caps and floors on feeds and crops: the library's evidence read for one stage, and the farm's own word."""

from __future__ import annotations

from collections.abc import Iterable

from rationlp.book.records import Book, Farm, OwnLimit
from rationlp.figures import feed_label
from rationlp.library.read import Library
from rationlp.library.records import FeedLimit, Stage
from rationlp.rations.candidates import Candidate
from rationlp.rations.model import Cap

ADVICE = ("recommended", "rule_of_thumb", "practice")


def caps_of(stage: Stage | None, stage_id: str, candidates: list[Candidate], book: Book, library: Library) -> list[Cap]:
    """Every cap and floor that speaks of a feed among `candidates`, the farm's own limits in place of the library's.

    A stage of the farm's own (`stage` None) has only the farm's own limits.
    """
    present = {feed for candidate in candidates for feed in candidate.feeds}
    own = _own_limits(stage_id, book)
    caps = []
    for cap in _library_caps(stage, present, book.farm, library) if stage else ():
        if not any(_overrides(row, cap, library) for row in own):
            caps.append(cap)
    caps += [cap for row in own if (cap := _own_cap(row, present, library)).members]
    return caps


def content(cap: Cap, candidate: Candidate) -> float:
    """Share of `candidate` that the cap speaks of, 0 to 1."""
    return sum(candidate.feeds.get(feed, 0.0) for feed in cap.members)


def choose_rows(rows: Iterable[FeedLimit], stage: Stage) -> list[FeedLimit]:
    """The rows of evidence that make the caps of one feed for `stage`.

    Legal maxima of every scope of the stage hold. Of the rest the nearest scope that has a cap decides: the lowest
    advice in it, or, where nobody advises, the highest level tested without harm. `trial_bad` is never a cap.
    """
    usable = [row for row in rows if row.max_pct is not None and row.scope in stage.scopes]
    chosen = [row for row in usable if row.evidence == "legal_max"]
    for scope in stage.scopes:
        here = [row for row in usable if row.scope == scope]
        advice = [row for row in here if row.evidence in ADVICE]
        tested = [row for row in here if row.evidence == "trial_ok"]
        if advice:
            return [*chosen, min(advice, key=lambda row: row.max_pct)]
        if tested:
            return [*chosen, max(tested, key=lambda row: row.max_pct)]
        if any(row.evidence == "legal_max" for row in here):
            return chosen
    return chosen


def _library_caps(stage: Stage, present: set[str], farm: Farm, library: Library) -> list[Cap]:
    """The caps of the library that speak of a feed in `present`."""
    caps = []
    for feed, evidence in library.feed_limits.items():
        members = library.families.get(feed, frozenset({feed})) & present
        if not members:
            continue
        here = [
            row
            for row in evidence
            if (not row.jurisdiction or farm.jurisdiction in row.jurisdiction)
            and (not row.certification or farm.certification in row.certification)
        ]
        caps += [
            Cap(
                feed=feed,
                members=members,
                max_share=row.max_pct / 100,
                min_share=None,
                reason=row.reason,
                source=row.source,
                how=row.how,
                evidence=row.evidence,
                safety=row.safety == "yes",
            )
            for row in choose_rows(here, stage)
        ]
    return caps


def _own_limits(stage_id: str, book: Book) -> list[OwnLimit]:
    """The farm's limits for this stage; one for the stage itself beats one for `all`."""
    own = [row for row in book.own_limits if row.stage == stage_id]
    named = {row.feed for row in own}
    return own + [row for row in book.own_limits if row.stage == "all" and row.feed not in named]


def _overrides(row: OwnLimit, cap: Cap, library: Library) -> bool:
    """Whether the farm's own maximum speaks of all the feeds that the library's cap does."""
    if row.max_share is None:
        return False
    return row.feed == cap.feed or cap.members <= library.families.get(row.feed, frozenset({row.feed}))


def _own_cap(row: OwnLimit, present: set[str], library: Library) -> Cap:
    return Cap(
        feed=row.feed,
        members=library.families.get(row.feed, frozenset({row.feed})) & present,
        max_share=row.max_share,
        min_share=row.min_share,
        reason=row.reason or "set by the farm",
        source="own_limits of the book",
        how="own",
        evidence="own",
        own=True,
    )


def override_notes(
    stage: Stage | None, stage_id: str, candidates: list[Candidate], book: Book, library: Library
) -> list[str]:
    """A sentence for each library cap that the farm's own limit lifts or tightens."""
    own = _own_limits(stage_id, book)
    if stage is None or not own:
        return []
    present = {feed for candidate in candidates for feed in candidate.feeds}
    return [
        f"The farm's own limit on {feed_label(row.feed, library)} ({100 * row.max_share:g} %: "
        f"{row.reason or 'no reason given'}) stands instead of {'a SAFETY cap' if cap.safety else 'the cap'} "
        f"of the library, {100 * cap.max_share:g} % ({cap.reason})."
        for cap in _library_caps(stage, present, book.farm, library)
        for row in own
        if _overrides(row, cap, library)
    ]
