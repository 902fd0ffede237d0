"""How much of a feed may be given, computed from the feeding trials that were read: `trials.csv` to three figures.

The rule, in the words of the feed library's README, for one feed (or family), one kind of animal and age:

- *Noted above*: the highest level below which no trial saw anything lost, held by two trials at least (with one trial
  only: its lowest level).
- *Cap*: the highest level at which eggs, gain or litters were kept, on the cautious side of every trial that lost them.
  After a clear loss that is the last good step of the trial that saw it (if it had none: the highest good level of the
  others below it). A small loss of eggs, gain or litters counts unless more trials fed as much without it; it leaves
  half of the way from the highest good level below it.
- *Never above*: the lowest level with a clear loss, or else the highest level ever tried.

A trial speaks for its own species and kind of animal only, never for those that borrow its scope. Levels are percent of
the complete feed as fed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from rationlp.library.records import FeedLimit, LibraryRow, NonNegative, Stage, Words, YesNo

CLEAR = ("loss", "toxic")
HELD = ("no_effect", "better")
BORROWED = {"chick": "broiler", "pullet": "broiler", "breeder": "layer", "breeder_holding": "layer"}
"""By kind of chicken: the scopes that stand in its list only because it has little evidence of its own."""
TRIAL: Literal["trial"] = "trial"
"""The word in `FeedLimit.evidence` for a cap that was computed here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial(LibraryRow):
    """One tested level of a feeding trial: what it did to the animals against the trial's own control.

    The caps are computed from these rows.
    """

    trial: str
    feed: str  # a feed or a family
    scopes: Words  # the animals it was fed to, in scopes of stages.csv
    level_pct: NonNegative = None  # percent of the complete feed as fed; blank: not printed so
    level_as_printed: str = ""  # where it is not
    outcome: Literal["better", "no_effect", "small_loss", "loss", "toxic"]
    yield_kept: YesNo  # eggs, gain or litters, and what is sold of them; blank: the part read does not say
    what: str  # the traits that the outcome is about
    effect: str = ""
    animals: str = ""
    weeks: str = ""
    age: str = ""
    enzyme: Literal["no", "yes", "both"]  # for grain: xylanase, beta-glucanase; both: with and without
    variety: str = ""  # a special one: low_vicine, coloured, bitter, low_toxin; blank: ordinary or not said
    processing: str
    balanced: YesNo = ""  # amino acids and energy as in the control
    use: Literal["cap", "shown"]  # shown: does not count for a cap; the note says why
    source: str
    how: Literal["page", "abstract", "memory"]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What a farm says of its feed: whether it holds an enzyme for grain, and of which variety a feed or family is."""

    enzyme: bool = False
    varieties: Mapping[str, str] | None = None

    def variety(self, feed: str) -> str:
        """The variety stated for a feed or family; blank where nothing is said of it."""
        return (self.varieties or {}).get(feed, "")


UNKNOWN = Circumstances()
"""No enzyme, nothing known of any variety."""


@dataclass(frozen=True, slots=True)
class TrialCap:
    """The three figures of one feed for one kind of animal, percent of the complete feed, with the trials behind them.

    `decided` are the rows of the highest good level that the cap allows, `lost` the rows that keep it down,
    `next_step` the rows at the next level that anyone fed.
    """

    noted_above_pct: float
    cap_pct: float
    never_above_pct: float
    decided: tuple[Trial, ...]
    lost: tuple[Trial, ...]
    next_step: tuple[Trial, ...]


@dataclass(frozen=True, slots=True)
class Limit:
    """A row that caps `members` for one stage; with the three figures where trials made it."""

    row: FeedLimit
    members: frozenset[str]
    trials: TrialCap | None = None

    @property
    def note_above_pct(self) -> float | None:
        """From which percent on the trials give reason for a note; None where no trial made the cap."""
        return self.trials.noted_above_pct if self.trials else None


def own_scopes(stage: Stage) -> tuple[str, ...]:
    """The scopes of a stage without those it borrows from another kind of animal; of turkeys and ducks their own."""
    return _own_scopes(stage.species, stage.kind, stage.scopes)


@lru_cache
def _own_scopes(species: str, kind: str, scopes: tuple[str, ...]) -> tuple[str, ...]:
    if species in ("turkey", "duck"):
        return tuple(scope for scope in scopes if scope.split("_")[0] == species)
    borrowed = BORROWED.get(kind, "")
    return tuple(scope for scope in scopes if not borrowed or scope.split("_")[0] != borrowed)


def of_variety(rows: Iterable[Trial], variety: str) -> list[Trial]:
    """The rows of the stated variety, or, where none of them was fed without loss, those of no special variety."""
    rows = list(rows)
    special = [row for row in rows if variety and row.variety == variety]
    return special if any(row.yield_kept == "yes" for row in special) else [row for row in rows if not row.variety]


def with_enzyme(rows: Iterable[Trial], enzyme: bool) -> list[Trial]:
    """The rows that count with, or without, an enzyme in the feed.

    Where the feed was tried with an enzyme: what did no harm without does none with it, and what was lost without may
    be mended by it, so it says nothing. Where nobody tried one, the enzyme changes nothing.
    """
    rows = list(rows)
    if enzyme and any(row.enzyme != "no" for row in rows):
        return [row for row in rows if row.enzyme != "no" or row.yield_kept == "yes"]
    return [row for row in rows if row.enzyme != "yes"]


def cap_from_trials(
    rows: Iterable[Trial], stage: Stage, said: Circumstances = UNKNOWN, feed: str = ""
) -> TrialCap | None:
    """The three figures of a feed for `stage` by the rule above; None where no trial of this kind kept its yield."""
    own = frozenset(own_scopes(stage))
    here = [row for row in rows if row.use == "cap" and not own.isdisjoint(row.scopes)]
    if not here:
        return None
    return three_figures(with_enzyme(of_variety(here, said.variety(feed)), said.enzyme))


def three_figures(rows: Sequence[Trial]) -> TrialCap | None:
    """The rule itself, on rows that all count. Every row must have a level."""
    lost = _losses(rows)
    bounds = [_bound(row, rows) for row in lost]
    kept = {level(row) for row in rows if row.yield_kept == "yes"}
    allowed = [at for at in (*kept, *bounds) if all(at <= bound for bound in bounds) and any(k <= at for k in kept)]
    if not allowed:
        return None
    cap = max(allowed)
    good = max(at for at in kept if at <= cap)
    clear = [level(row) for row in rows if row.outcome in CLEAR]
    above = sorted({level(row) for row in rows if level(row) > cap})
    return TrialCap(
        noted_above_pct=min(cap, _noted_above(rows)),
        cap_pct=cap,
        never_above_pct=min(clear) if clear else max(map(level, rows)),
        decided=tuple(row for row in rows if level(row) == good and row.yield_kept == "yes"),
        lost=tuple(row for row in lost if level(row) > cap),
        next_step=tuple(row for row in rows if above and level(row) == above[0]),
    )


def level(row: Trial) -> float:
    """Percent of the complete feed; 0 where the source prints none (such rows are shown, never counted)."""
    return row.level_pct or 0.0


def _losses(rows: Sequence[Trial]) -> list[Trial]:
    """The lowest clear loss of each trial, and every small loss of yield that is not outvoted."""
    found: dict[str, Trial] = {}
    for row in sorted((row for row in rows if row.outcome in CLEAR), key=level):
        found.setdefault(row.source, row)
    small = [row for row in rows if row.outcome == "small_loss" and row.yield_kept == "no"]
    return [*found.values(), *(row for row in small if not _outvoted(row, rows))]


def _outvoted(loss: Trial, rows: Sequence[Trial]) -> bool:
    """Whether more trials fed as much or more with the yield kept than lost some of it at this level or below."""
    against = {row.source for row in rows if row.yield_kept == "no" and level(row) <= level(loss)}
    in_favour = {row.source for row in rows if row.yield_kept == "yes" and level(row) >= level(loss)} - against
    return len(in_favour) > len(against)


def _bound(loss: Trial, rows: Sequence[Trial]) -> float:
    """The highest level that a loss leaves; below 0 where nobody fed less of it without a loss."""
    good = [row for row in rows if row.yield_kept == "yes" and level(row) < level(loss)]
    if loss.outcome in CLEAR:
        own = [row for row in good if row.source == loss.source]
        return max(map(level, own or good), default=-1.0)
    return round((max(map(level, good)) + level(loss)) / 2, 1) if good else -1.0


def _noted_above(rows: Sequence[Trial]) -> float:
    """The highest level below every loss, however small, that two trials held; with one trial only, its lowest."""
    first = min((level(row) for row in rows if row.outcome not in HELD), default=float("inf"))
    good = [row for row in rows if row.outcome in HELD and level(row) < first]
    twice = [at for at in {level(row) for row in good} if len({row.source for row in good if level(row) >= at}) > 1]
    return max(twice) if twice else min(map(level, good), default=0.0)


def as_limit(feed: str, cap: TrialCap, scope: str) -> FeedLimit:
    """The cap as a row among the other limits, its three figures and its next step in words."""
    hows = {row.how for row in cap.decided}
    return FeedLimit(
        feed=feed,
        scope=scope,
        max_pct=cap.cap_pct,
        evidence=TRIAL,
        reason=words(cap),
        source="; ".join(dict.fromkeys(row.source for row in (*cap.decided, *cap.lost))),
        how="page" if "page" in hows else "abstract",
    )


def words(cap: TrialCap) -> str:
    """The three figures and what the next step brought, for people."""
    said = [f"trials: noted above {cap.noted_above_pct:g} %, never above {cap.never_above_pct:g} %"]
    first = min(map(level, cap.lost), default=None)
    told = [*cap.next_step, *(row for row in cap.lost if level(row) == first and row not in cap.next_step)]
    said += [f"at {level(row):g} % {row.outcome.replace('_', ' ')} ({row.what})" for row in told]
    return "; ".join(dict.fromkeys(said if told else (*said, "no one fed more")))
