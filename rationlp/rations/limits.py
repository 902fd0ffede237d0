"""Caps and floors on feeds and crops: the library's evidence read for one stage, and the farm's own word."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from rationlp.book.records import Book, Farm, OwnLimit
from rationlp.errors import Problem
from rationlp.figures import feed_label
from rationlp.library.read import Library
from rationlp.library.records import FeedLimit, Stage
from rationlp.library.trial_caps import UNKNOWN, Circumstances
from rationlp.library.which_limits import LEGAL, rows_that_cap
from rationlp.rations.candidates import Candidate
from rationlp.rations.model import Cap

NOTED = 1e-6
"""A share over the noted level by less is the solver's dust."""


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
    own_caps = [_own_cap(row, present, library) for row in own]
    caps += [cap for cap in own_caps if cap.members or cap.min_share]  # a floor on what nobody offers cannot be kept
    return caps


def content(cap: Cap, candidate: Candidate) -> float:
    """Share of `candidate` that the cap speaks of, 0 to 1."""
    return sum(candidate.feeds.get(feed, 0.0) for feed in cap.members)


def _library_caps(stage: Stage, present: set[str], farm: Farm, library: Library) -> list[Cap]:
    """The caps of the library that speak of a feed in `present`."""
    return [
        Cap(
            feed=limit.row.feed,
            members=limit.members & present,
            max_share=None if limit.row.max_pct is None else limit.row.max_pct / 100,
            min_share=None,
            reason=limit.row.reason,
            source=limit.row.source,
            how=limit.row.how,
            evidence=limit.row.evidence,
            safety=limit.row.safety == "yes",
            note_above=None if limit.note_above_pct is None else limit.note_above_pct / 100,
        )
        for limit in rows_that_cap(stage, library, circumstances(farm), lambda row: _holds_for(row, farm))
        if limit.members & present
    ]


def _holds_for(row: FeedLimit, farm: Farm) -> bool:
    """Whether a row binds a farm of this jurisdiction and certificate."""
    return (not row.jurisdiction or farm.jurisdiction in row.jurisdiction) and (
        not row.certification or farm.certification in row.certification
    )


def circumstances(farm: Farm) -> Circumstances:
    """What the settings of the book say of enzyme and varieties: `enzyme` yes, `varieties` faba_beans:low_vicine."""
    if farm.enzyme != "yes" and not farm.varieties:
        return UNKNOWN
    pairs = (word.split(":", 1) for word in farm.varieties.replace(",", " ").split() if ":" in word)
    return Circumstances(farm.enzyme == "yes", dict(pairs))


def variety_problems(farm: Farm, library: Library) -> list[Problem]:
    """A problem for each word of the setting `varieties` that no row of the library is about."""
    rows = [row for table in (library.trials, library.feed_limits) for found in table.values() for row in found]
    known = sorted({f"{row.feed}:{row.variety}" for row in rows if row.variety and ":" not in row.variety})
    return [
        Problem("error", "farm", "", f"varieties = {word}", f"one of {', '.join(known)}", "Correct it, or take it out.")
        for word in farm.varieties.replace(",", " ").split()
        if word not in known
    ]


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
) -> tuple[list[str], list[str]]:
    """A sentence for each library cap that the farm's own limit replaces: notes; warnings where safety is loosened."""
    present = {feed for candidate in candidates for feed in candidate.feeds}
    notes, warnings = [], []
    for row, cap in _replaced(stage, stage_id, present, book, library):
        loosened = is_law(cap) and row.max_share > cap.max_share
        kind = ("LEGAL maximum" if cap.evidence == LEGAL else "SAFETY cap") if loosened else "cap"
        (warnings if loosened else notes).append(
            f"The farm's own limit on {feed_label(row.feed, library)}, {100 * row.max_share:g} % "
            f"({row.reason or 'no reason given'}), stands instead of the library's {kind} of {100 * cap.max_share:g} % "
            f"({cap.reason}; {cap.source})."
        )
    return notes, warnings


def override_problems(
    stage: Stage | None, stage_id: str, present: set[str], book: Book, library: Library
) -> list[Problem]:
    """A problem for each safety or legal cap on a feed of `present` that the book loosens without a reason."""
    return variety_problems(book.farm, library) + [
        Problem(
            "error", "own_limits", row.place.cell("reason"),
            f"no reason for up to {100 * row.max_share:g} % of {row.feed} in {stage_id}, above the "
            f"{'legal maximum' if cap.evidence == LEGAL else 'safety cap'} of {100 * cap.max_share:g} % on {cap.feed} "
            f"({cap.reason}; {cap.source})",
            "a reason, wherever a safety cap is loosened",
            "Write down why and who said so, or lower max_pct.",
        )
        for row, cap in _replaced(stage, stage_id, present, book, library)
        if is_law(cap) and row.max_share > cap.max_share and not row.reason.strip()
    ]  # fmt: skip


def trial_notes(caps: Iterable[Cap], held: Callable[[Cap], float], library: Library) -> list[str]:
    """A sentence for each feed that is over the level up to which no trial saw anything lost."""
    return [
        f"{feed_label(cap.feed, library)} is {100 * held(cap):.3g} %, above the {100 * cap.note_above:g} % up to which "
        f"trials saw nothing lost ({cap.reason}; {cap.source})."
        for cap in caps
        if cap.note_above is not None and held(cap) > cap.note_above + NOTED
    ]


def is_law(cap: Cap) -> bool:
    """Whether a cap of the library stands for safety or for the law."""
    return cap.safety or cap.evidence == LEGAL


def _replaced(
    stage: Stage | None, stage_id: str, present: set[str], book: Book, library: Library
) -> list[tuple[OwnLimit, Cap]]:
    """The farm's own maxima, each with the cap of the library that it stands in place of."""
    own = _own_limits(stage_id, book)
    if stage is None or not own:
        return []
    caps = _library_caps(stage, present, book.farm, library)
    return [(row, cap) for cap in caps for row in own if _overrides(row, cap, library)]
