"""Whether a mix may be fed, and why: the one verdict that every command, sheet and page speaks of.

`feed` means that it may be fed once a nutritionist has reviewed it, `ask` that a nutritionist must decide first,
`stop` that it must not be fed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum


class Severity(StrEnum):
    """How much a reason weighs; the order of the members is the order of harm."""

    FEED = "feed"
    ASK = "ask"
    STOP = "stop"

    @property
    def rank(self) -> int:
        """0 for `feed`, 2 for `stop`."""
        return list(Severity).index(self)


class Kind(StrEnum):
    """What a reason speaks of."""

    REQUIREMENT = "requirement"
    PREMIX = "premix"
    SAFETY = "safety"
    LAW = "law"
    EVIDENCE = "evidence"
    STOCK = "stock"
    USUAL = "usual"
    STAGE = "stage"


HARMFUL = (Kind.SAFETY, Kind.LAW)
HEADLINES = {
    Severity.FEED: "may be fed after review",
    Severity.ASK: "ASK A NUTRITIONIST FIRST",
    Severity.STOP: "DO NOT FEED",
}
"""The verdict in the words that every command, sheet and page uses."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that decides whether a mix may be fed. `value` and `limit` are in `unit`."""

    kind: Kind
    severity: Severity
    text: str
    nutrient: str | None = None
    feed: str | None = None
    unit: str | None = None
    value: float | None = None
    limit: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """Every reason, the gravest first, and the chance (0 to 1) that all requirements are met at once.

    `without_grain` says that a bin was to be fed and nothing home-grown is in the mix.
    """

    reasons: tuple[Reason, ...] = ()
    probability_all: float | None = None
    without_grain: bool = False

    @property
    def severity(self) -> Severity:
        """The gravest of the reasons; `feed` without any."""
        return max((reason.severity for reason in self.reasons), key=lambda s: s.rank, default=Severity.FEED)

    @property
    def headline(self) -> str:
        """The verdict in words, with the chance that all requirements are met at once where all are met on average."""
        told = ["NO home-grown grain in it"] if self.without_grain else []
        if self.probability_all is not None and not self.misses_something:
            all_known = "all that is known" if self.knows_too_little else "all"
            told.append(f"meets {all_known} on average; all at once {percent_words(self.probability_all)}")
        words = HEADLINES[self.severity]
        return f"{words} ({'; '.join(told)})" if told else words

    @property
    def knows_too_little(self) -> bool:
        """Whether a vitamin or trace mineral that the animals need has no figure in anything of the mix."""
        return any(reason.nutrient and reason.value is None for reason in self.of(Kind.PREMIX))

    @property
    def misses_something(self) -> bool:
        """Whether a need is not met on average, however little is missing."""
        short = any(reason.severity is not Severity.FEED for reason in self.of(Kind.PREMIX))
        return short or self.severity is Severity.STOP or bool(self.of(Kind.REQUIREMENT))

    def of(self, *kinds: Kind) -> tuple[Reason, ...]:
        """The reasons of these kinds."""
        return tuple(reason for reason in self.reasons if reason.kind in kinds)

    def weighing(self, severity: Severity) -> tuple[Reason, ...]:
        """The reasons of this severity."""
        return tuple(reason for reason in self.reasons if reason.severity is severity)

    def plus(self, more: Iterable[Reason]) -> Verdict:
        """The verdict with more reasons: it can only stay as it is or get worse."""
        return replace(self, reasons=in_order((*self.reasons, *more)))


def in_order(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """The gravest first, of these what may harm or is not lawful; each text once."""
    by_text: dict[str, Reason] = {}
    for reason in reasons:
        held = by_text.get(reason.text)
        if held is None or reason.severity.rank > held.severity.rank:
            by_text[reason.text] = reason
    return tuple(sorted(by_text.values(), key=lambda reason: (-reason.severity.rank, reason.kind not in HARMFUL)))


def percent_words(probability: float) -> str:
    """A probability in whole percent, never surer than it is."""
    percent = 100 * probability
    if percent < 1:
        return "under 1 %"
    return "over 99 %" if percent > 99 else f"{percent:.0f} %"
