"""Caps and floors on feeds and crops: the library's evidence read for one stage, and the farm's own word."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from rationlp.book.records import Book, OwnLimit, Settings
from rationlp.errors import Problem
from rationlp.feeds.candidates import Candidate
from rationlp.figures import feed_label
from rationlp.library.cited import cited
from rationlp.library.read import Library
from rationlp.library.records import FeedLimit, Stage
from rationlp.library.trial_caps import UNKNOWN, Circumstances, Limit
from rationlp.library.which_limits import LEGAL, rows_that_cap
from rationlp.numbers import figure
from rationlp.reasons import Kind, Reason, Severity
from rationlp.stages.approvals import approval, harm_problem, weight_problems
from rationlp.stages.model import Cap
from rationlp.stages.stage import StageNeeds
from rationlp.stages.usual import usual_caps

NOTED = 1e-6
"""A share over the noted level by less is the solver's dust."""


def caps_of(stage: StageNeeds, candidates: Iterable[Candidate], book: Book, library: Library) -> list[Cap]:
    """Every cap and floor that speaks of a feed among `candidates`, the farm's own limits in place of the library's.

    A stage of the farm's own has the farm's own limits and, of each feed, the lowest cap for safety or by law of the
    stages it is `like`. What the trade uses at most in its `usual_scopes` stands beside all of them.
    """
    present = {feed for candidate in candidates for feed in candidate.feeds}
    own = _own_limits(stage.stage, book)
    caps = []
    for cap in _caps_by_species(stage, present, book.farm, library):
        if not any(_overrides(row, cap, library) for row in own):
            caps.append(cap)
    own_caps = [_own_cap(row, present, library) for row in own]
    caps += [cap for cap in own_caps if cap.members or cap.min_share]  # a floor on what nobody offers cannot be kept
    return [*caps, *usual_caps(stage.usual_scopes, present, library)] if stage.usual_scopes else caps


def _caps_by_species(stage: StageNeeds, present: set[str], farm: Settings, library: Library) -> list[Cap]:
    """The library's caps of a stage; for one of the farm's own, of each feed the lowest that is safety or law."""
    if stage.known is not None:
        return _library_caps(stage.known, present, farm, library)
    lowest: dict[str, Cap] = {}
    for other in stage.like:
        for cap in _library_caps(library.stages[other], present, farm, library):
            held = lowest.get(cap.feed)
            if is_law(cap) and (held is None or _capped_pct(cap) < _capped_pct(held)):
                lowest[cap.feed] = cap
    return list(lowest.values())


def content(cap: Cap, candidate: Candidate) -> float:
    """Share of `candidate` that the cap speaks of, 0 to 1."""
    if len(candidate.feeds) == 1:
        ((feed, share),) = candidate.feeds.items()
        return share if feed in cap.members else 0.0
    return sum(share for feed, share in candidate.feeds.items() if feed in cap.members)


def _library_caps(stage: Stage, present: set[str], farm: Settings, library: Library) -> list[Cap]:
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
        for limit in _limits_of(stage, farm, library)
        if limit.members & present
    ]


def _limits_of(stage: Stage, farm: Settings, library: Library) -> list[Limit]:
    """Every row of the library that caps a feed for the stage on such a farm, worked out once for all its bins."""
    key = (stage, farm.jurisdiction, farm.certification, farm.enzyme, farm.varieties)
    if key not in library.limits_of_stage:
        library.limits_of_stage[key] = rows_that_cap(
            stage, library, circumstances(farm), lambda row: _holds_for(row, farm)
        )
    return library.limits_of_stage[key]


def _holds_for(row: FeedLimit, farm: Settings) -> bool:
    """Whether a row binds a farm of this jurisdiction and certificate."""
    return (not row.jurisdiction or farm.jurisdiction in row.jurisdiction) and (
        not row.certification or farm.certification in row.certification
    )


def circumstances(farm: Settings) -> Circumstances:
    """What the settings of the book say of enzyme and varieties: `enzyme` yes, `varieties` faba_beans:low_vicine."""
    if farm.enzyme != "yes" and not farm.varieties:
        return UNKNOWN
    pairs = (word.split(":", 1) for word in farm.varieties.replace(",", " ").split() if ":" in word)
    return Circumstances(farm.enzyme == "yes", dict(pairs))


def variety_problems(farm: Settings, library: Library) -> list[Problem]:
    """A problem for each word of the setting `varieties` that no row of the library is about."""
    if not farm.varieties:
        return []
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
        why = approval(row, book.farm) if loosened else row.reason or "no reason given"
        (warnings if loosened else notes).append(
            f"The farm's own limit on {feed_label(row.feed, library)}, {_allowed_pct(row):g} % ({why}), stands "
            f"instead of the library's {kind} of {_capped_pct(cap):g} % ({cap.reason}; "
            f"{cited(cap.source, library.sources)})."
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
            f"the {_limit_words(cap)} of {figure(_capped_pct(cap))} % ({cap.reason}); {approval(row, book.farm)}.",
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
    problems = variety_problems(book.farm, library)
    for row, cap in _replaced(stage, stage_id, present, book, library):
        if stage is None or _allowed_pct(row) <= _capped_pct(cap):
            continue
        if _loosens(row, cap):
            problems += weight_problems(
                row,
                f"up to {_allowed_pct(row):g} % of {row.feed} in {stage_id}, above the {_limit_words(cap)} of "
                f"{_capped_pct(cap):g} % on {cap.feed} ({cap.reason}; {cited(cap.source, library.sources)})",
            )
        harm = harm_problem(row, stage, library, circumstances(book.farm))
        problems += [harm] if harm else []
    if stage is not None:
        problems += _only_lifting(stage, stage_id, present, book, library)
    return list(dict.fromkeys(problems))


def _only_lifting(stage: Stage, stage_id: str, present: set[str], book: Book, library: Library) -> list[Problem]:
    """A problem for each maximum on a family all of whose feeds of `present` have a lower safety or legal cap."""
    own, problems = _own_limits(stage_id, book), []
    caps = [cap for cap in _library_caps(stage, present, book.farm, library) if is_law(cap)] if own else []
    for row in own:
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
                f"{_capped_pct(cap):g} % on {cap.feed} ({cap.reason}; {cited(cap.source, library.sources)})",
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


def trial_notes(caps: Iterable[Cap], held: Callable[[Cap], float], library: Library) -> list[str]:
    """A sentence for each feed that is over the level up to which no trial saw anything lost."""
    return [
        f"{feed_label(cap.feed, library)} is {figure(100 * held(cap), 3)} %, above the {100 * cap.note_above:g} % up "
        f"to which trials saw nothing lost ({cap.reason}; "
        f"{cited(cap.source, library.sources)})."
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
