"""Caps and floors on feeds and crops: the library's evidence read for one stage, and the farm's own word."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rationlp.book.records import Book, OwnLimit, Settings
from rationlp.errors import Problem, given
from rationlp.feeds.candidates import Candidate
from rationlp.figures import feed_label
from rationlp.library.read import Library
from rationlp.library.records import FeedLimit, Stage
from rationlp.numbers import figure
from rationlp.reasons import Kind, Reason, Severity
from rationlp.stages.approvals import approval, harm_problem, weight_problems
from rationlp.stages.model import Cap
from rationlp.stages.usual import usual_caps

ADVICE = ("recommended", "rule_of_thumb", "practice")
LEGAL = "legal_max"


def caps_of(
    stage: Stage | None,
    stage_id: str,
    candidates: list[Candidate],
    book: Book,
    library: Library,
    usual_scopes: Sequence[str] = (),
    like: Sequence[str] = (),
) -> list[Cap]:
    """Every cap and floor that speaks of a feed among `candidates`, the farm's own limits in place of the library's.

    A stage of the farm's own (`stage` None) has the farm's own limits and, of each feed, the lowest cap for safety or
    by law of the stages it is `like`. What the trade uses at most in `usual_scopes` stands beside all of them.
    """
    present = {feed for candidate in candidates for feed in candidate.feeds}
    own = _own_limits(stage_id, book)
    caps = []
    for cap in _caps_by_species(stage, present, book.farm, library, like):
        if not any(_overrides(row, cap, library) for row in own):
            caps.append(cap)
    own_caps = [_own_cap(row, present, library) for row in own]
    caps += [cap for cap in own_caps if cap.members or cap.min_share]  # a floor on what nobody offers cannot be kept
    return [*caps, *usual_caps(usual_scopes, present, library)] if usual_scopes else caps


def _caps_by_species(
    stage: Stage | None, present: set[str], farm: Settings, library: Library, like: Sequence[str]
) -> list[Cap]:
    """The library's caps of a stage; for one of the farm's own, of each feed the lowest that is safety or law."""
    if stage is not None:
        return _library_caps(stage, present, farm, library)
    lowest: dict[str, Cap] = {}
    for other in like:
        for cap in _library_caps(library.stages[other], present, farm, library):
            held = lowest.get(cap.feed)
            if is_law(cap) and (held is None or _capped_pct(cap) < _capped_pct(held)):
                lowest[cap.feed] = cap
    return list(lowest.values())


def content(cap: Cap, candidate: Candidate) -> float:
    """Share of `candidate` that the cap speaks of, 0 to 1."""
    return sum(candidate.feeds.get(feed, 0.0) for feed in cap.members)


def choose_rows(rows: Iterable[FeedLimit], stage: Stage) -> list[FeedLimit]:
    """The rows of evidence that make the caps of one feed for `stage`.

    Legal maxima of every scope of the stage hold. Of the rest the nearest scope that has a cap decides: the lowest
    advice in it, or, where nobody advises, the highest level tested without harm. `trial_bad` is never a cap.
    """
    usable = [row for row in rows if row.max_pct is not None and row.scope in stage.scopes]
    chosen = [row for row in usable if row.evidence == LEGAL]
    for scope in stage.scopes:
        here = [row for row in usable if row.scope == scope]
        advice = [row for row in here if row.evidence in ADVICE]
        tested = [row for row in here if row.evidence == "trial_ok"]
        if advice:
            return [*chosen, min(advice, key=_max_pct)]
        if tested:
            return [*chosen, max(tested, key=_max_pct)]
        if any(row.evidence == LEGAL for row in here):
            return chosen
    return chosen


def _max_pct(row: FeedLimit) -> float:
    return given(row.max_pct, f"the maximum of {row.feed}")


def _library_caps(stage: Stage, present: set[str], farm: Settings, library: Library) -> list[Cap]:
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
                max_share=_max_pct(row) / 100,
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
    """Whether the farm's own maximum names what the library's cap speaks of.

    A maximum on a family stands in place of the cap on that family, never of the caps on its members.
    """
    if row.max_share is None:
        return False
    named = library.families.get(row.feed, frozenset({row.feed}))
    whole = library.families.get(cap.feed, frozenset({cap.feed}))
    return row.feed == cap.feed or named == whole or (len(named) == 1 and cap.members <= named)


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
    notes: list[str] = []
    warnings: list[str] = []
    for row, cap in _replaced(stage, stage_id, present, book, library):
        loosened = _loosens(row, cap)
        kind = ("LEGAL maximum" if cap.evidence == LEGAL else "SAFETY cap") if loosened else "cap"
        why = approval(row) if loosened else row.reason or "no reason given"
        (warnings if loosened else notes).append(
            f"The farm's own limit on {feed_label(row.feed, library)}, {_allowed_pct(row):g} % ({why}), stands "
            f"instead of the library's {kind} of {_capped_pct(cap):g} % ({cap.reason}; {cap.source})."
        )
    return notes, warnings


def override_reasons(
    stage: Stage | None, stage_id: str, candidates: list[Candidate], book: Book, library: Library
) -> tuple[Reason, ...]:
    """A reason for each safety or legal cap on a feed of the candidates that the book loosens with approval."""
    present = {feed for candidate in candidates for feed in candidate.feeds}
    return tuple(
        Reason(
            Kind.LAW if cap.evidence == LEGAL else Kind.SAFETY,
            Severity.ASK,
            f"Up to {figure(_allowed_pct(row))} % of {feed_label(row.feed, library)} is allowed by the farm, above "
            f"the {_limit_words(cap)} of {figure(_capped_pct(cap))} % ({cap.reason}); {approval(row)}.",
            feed=row.feed,
            unit="%",
            value=_allowed_pct(row),
            limit=_capped_pct(cap),
            source=cap.source,
        )
        for row, cap in _replaced(stage, stage_id, present, book, library)
        if _loosens(row, cap)
    )


def override_problems(
    stage: Stage | None, stage_id: str, present: set[str], book: Book, library: Library
) -> list[Problem]:
    """What is wrong with each cap on a feed of `present` that the book loosens, or means to.

    A safety or legal one needs reason, name and day; a level at which harm was published cannot be allowed at all. A
    maximum on a family lifts no cap of its members: one that could only do that is told.
    """
    problems: list[Problem] = []
    for row, cap in _replaced(stage, stage_id, present, book, library):
        if stage is None or _allowed_pct(row) <= _capped_pct(cap):
            continue
        if _loosens(row, cap):
            problems += weight_problems(
                row,
                f"up to {_allowed_pct(row):g} % of {row.feed} in {stage_id}, above the {_limit_words(cap)} of "
                f"{_capped_pct(cap):g} % on {cap.feed} ({cap.reason}; {cap.source})",
            )
        harm = harm_problem(row, stage, library)
        problems += [harm] if harm else []
    if stage is not None:
        problems += _only_lifting(stage, stage_id, present, book, library)
    return list(dict.fromkeys(problems))


def _only_lifting(stage: Stage, stage_id: str, present: set[str], book: Book, library: Library) -> list[Problem]:
    """A problem for each maximum on a family all of whose feeds of `present` have a lower safety or legal cap."""
    caps = [cap for cap in _library_caps(stage, present, book.farm, library) if is_law(cap)]
    problems = []
    for row in _own_limits(stage_id, book):
        named = library.families.get(row.feed, frozenset({row.feed}))
        lower = [cap for cap in caps if cap.members <= named and _loosens(row, cap)]
        lower = [cap for cap in lower if not _overrides(row, cap, library)]
        held: frozenset[str] = frozenset().union(*(cap.members for cap in lower))
        if row.max_share is None or not held or held != named & present:
            continue
        cap = min(lower, key=_capped_pct)
        problems.append(
            Problem(
                "error",
                row.place.sheet,
                row.place.cell("feed"),
                f"up to {_allowed_pct(row):g} % of {row.feed} in {stage_id}, above the {_limit_words(cap)} of "
                f"{_capped_pct(cap):g} % on {cap.feed} ({cap.reason}; {cap.source})",
                "the feed by its own name: a maximum on a family lifts no cap of its members",
                f"Name {cap.feed}, with reason, approved_by and approved_on, or lower max_pct.",
            )
        )
    return problems


def _loosens(row: OwnLimit, cap: Cap) -> bool:
    """Whether the farm allows more than a cap that stands for safety or the law."""
    return is_law(cap) and _allowed_pct(row) > _capped_pct(cap)


def _allowed_pct(row: OwnLimit) -> float:
    """The maximum of the farm's own limit, percent of the mix."""
    return 100 * (row.max_share or 0.0)


def _capped_pct(cap: Cap) -> float:
    """The maximum of a cap, percent of the mix."""
    return 100.0 if cap.max_share is None else 100 * cap.max_share


def _limit_words(cap: Cap) -> str:
    return "legal maximum" if cap.evidence == LEGAL else "safety cap"


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
