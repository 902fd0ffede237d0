"""Which rows of the library cap a feed for one stage: the law, the trials, and advice where no trial speaks.

- Law (`legal_max`) of every scope of the stage holds, beside everything else.
- Trials of this kind of animal make the cap (`trial_caps.py`). Where none of them saw anything lost they can only raise
  it: common practice or a page that goes further stands. What is recalled from memory never counts beside a trial.
- Advice (recommended, rule of thumb, practice) of the nearest scope counts where no trial of this kind does. A row for
  `safety` that was not recalled holds beside a trial too: a trial of some weeks does not see every poison.
- Turkeys and ducks do not borrow caps of broilers.
- A cap on a family does not speak of a member that has a cap from trials of its own. A `joint` cap speaks of all, be
  one on offer or several: an offer taken away must never loosen a ration. A row with the variety `not:low_vicine`
  leaves out what the farm states to be low in vicine, one for `no enzyme` a farm that feeds an enzyme.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache

from rationlp.library.read import Library
from rationlp.library.records import FeedLimit, Stage
from rationlp.library.trial_caps import (
    TRIAL,
    UNKNOWN,
    Circumstances,
    Limit,
    TrialCap,
    as_limit,
    cap_from_trials,
    own_scopes,
)

ADVICE = ("recommended", "rule_of_thumb", "practice", "joint")
LEGAL = "legal_max"
JOINT = "joint"
CHICKEN_ONLY = "broiler"
NO_ENZYME = "no enzyme"
"""The treatment of a joint cap on sticky grains, which an enzyme lifts."""
BUT = "not:"
"""Before a variety in `FeedLimit.variety`: the row speaks of every other one."""


def everywhere(row: FeedLimit) -> bool:
    """Whether a row holds in every jurisdiction and under every certificate."""
    return not row.jurisdiction and not row.certification


def rows_that_cap(
    stage: Stage,
    library: Library,
    said: Circumstances = UNKNOWN,
    applies: Callable[[FeedLimit], bool] = everywhere,
) -> list[Limit]:
    """Every cap of the library for `stage`, of the rows that `applies` lets count."""
    found: list[Limit] = []
    for word in dict.fromkeys((*library.feed_limits, *library.trials)):
        rows = [row for row in library.feed_limits.get(word, ()) if applies(row)]
        members = library.families.get(word, frozenset({word}))
        for row, cap in _rows_of_word(word, rows, stage, library, said):
            found.append(Limit(row, members - _left_out(row, library, said), cap))
    return _narrower_first(found)


def _left_out(row: FeedLimit, library: Library, said: Circumstances) -> frozenset[str]:
    """The feeds that a row for every variety but one does not speak of, by what the farm states."""
    if not row.variety.startswith(BUT):
        return frozenset()
    words = [word for word, variety in (said.varieties or {}).items() if variety == row.variety.removeprefix(BUT)]
    return frozenset[str]().union(*(library.families.get(word, frozenset({word})) for word in words))


def _rows_of_word(
    word: str, rows: Iterable[FeedLimit], stage: Stage, library: Library, said: Circumstances
) -> list[tuple[FeedLimit, TrialCap | None]]:
    """The rows that cap one feed or family, with the figures of the trials where they made the row."""
    rows = [row for row in rows if not (row.evidence == JOINT and row.treatment == NO_ENZYME and said.enzyme)]
    ordinary = [row for row in rows if not row.variety or row.variety.startswith(BUT)]
    special = [row for row in rows if row.variety and row.variety == said.variety(word) and row.scope in stage.scopes]
    trials = library.trials.get(word, ())
    if special and not any(row.variety == said.variety(word) for row in trials):
        legal = [row for row in ordinary if row.evidence == LEGAL or row.safety == "yes"]
        return [(row, None) for row in choose_rows([*special, *legal], stage)]
    cap = cap_from_trials(trials, stage, said, word)
    if cap is None:
        return [(row, None) for row in choose_rows(ordinary, stage)]
    made = as_limit(word, cap, next(iter(own_scopes(stage))))
    chosen = choose_rows(ordinary, stage, made, only_raises=not cap.lost)
    return [(row, cap if row is made else None) for row in chosen]


def choose_rows(
    rows: Iterable[FeedLimit], stage: Stage, trial: FeedLimit | None = None, *, only_raises: bool = False
) -> list[FeedLimit]:
    """The rows that cap one feed for `stage`: law, and the cap from trials or, where there is none, the advice.

    `trial` is the cap from trials; with `only_raises` none of them saw a loss, so that advice going further stands.
    """
    scopes = scopes_of_caps(stage)
    usable = [row for row in rows if row.max_pct is not None and row.scope in scopes]
    legal = [row for row in usable if row.evidence == LEGAL]
    advice = _nearest_advice(usable, stage)
    if trial is None:
        return [*legal, *advice]
    usable = [row for row in usable if row.how != "memory" or row.evidence == LEGAL]
    if only_raises:
        further = _nearest_advice(usable, stage) or legal
        if further and most(further) >= most([trial]):
            return [*legal, *(row for row in further if row not in legal)]
    safety = _nearest_advice([row for row in usable if row.safety == "yes" and row.evidence != LEGAL], stage)
    return [*legal, trial, *(row for row in safety if most([row]) < most([trial]))]


def most(rows: Sequence[FeedLimit]) -> float:
    """The lowest maximum of the rows, percent of the complete feed."""
    return min(row.max_pct for row in rows if row.max_pct is not None)


def scopes_of_caps(stage: Stage) -> tuple[str, ...]:
    """The scopes whose caps speak for a stage: turkeys and ducks take none of broilers."""
    return _without_broilers(stage.species, stage.scopes)


@lru_cache
def _without_broilers(species: str, scopes: tuple[str, ...]) -> tuple[str, ...]:
    return scopes if species == "chicken" else tuple(s for s in scopes if s.split("_")[0] != CHICKEN_ONLY)


def _nearest_advice(usable: Sequence[FeedLimit], stage: Stage) -> list[FeedLimit]:
    """The lowest advice of the nearest scope that has any cap; none where that scope has law only."""
    for scope in scopes_of_caps(stage):
        here = [row for row in usable if row.scope == scope]
        advice = [row for row in here if row.evidence in ADVICE]
        if advice:
            return [min(advice, key=lambda row: most([row]))]
        if here:
            return []
    return []


def _narrower_first(found: list[Limit]) -> list[Limit]:
    """The limits, those on families without the members that trials of their own speak of."""
    own = [limit.members for limit in found if limit.row.evidence == TRIAL]
    kept = []
    for limit in found:
        family = len(limit.members) > 1  # of one feed no part has trials of its own
        bare = family and limit.row.evidence not in (LEGAL, JOINT) and limit.row.safety != "yes"
        freed = (
            frozenset[str]().union(*(members for members in own if members < limit.members)) if bare else frozenset()
        )
        if limit.members - freed:
            kept.append(Limit(limit.row, limit.members - freed, limit.trials))
    return kept
