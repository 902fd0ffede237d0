"""What a stage asks for, each kind of bound as a record of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from rationlp.reasons import Severity

AVERAGES_PCT = 50.0  # the confidence of a ration of plain averages
IN_THE_GROUPS_FEED = "the day's amount, in the feed the group eats"  # basis of a need that a group's own feed moves
ALL = "all"  # the confidence is that of all requirements at once, not of each by itself


ADDED = " that is added"
"""Behind the label of a nutrient of which only what premixes and minerals bring counts."""
PRACTISED = ("lactose",)
"""Nutrients of which a minimum is what the trade does: no animal lives on them."""


class NeedKind(StrEnum):
    """Why a bound stands."""

    REQUIREMENT = "requirement"
    ENERGY_FLOOR = "energy_floor"
    CEILING = "ceiling"
    USUAL = "usual"


@dataclass(frozen=True, slots=True)
class Need:
    """What a stage needs of one nutrient, or may have at most.

    The bounds are in `unit` of the as-fed mix. With `reference_energy` (kcal/kg) they stand for a mix of that energy
    and follow the energy of the mix that is made; without, they hold as they stand.
    """

    nutrient: str
    unit: str
    minimum: float | None = None
    maximum: float | None = None
    reference_energy: float | None = None
    kind: NeedKind = NeedKind.REQUIREMENT
    basis: str = "per kg"  # in words: per kg, following energy, per day at 2.2 kg, per Mcal
    safety: bool = False  # never given up by the nearest ration
    probability_pct: float | None = None  # a chance of its own, where a ration is made with a confidence
    source: str = ""
    how: str = ""
    note: str = ""
    margin_pct: float = 0.0  # by which the book raised the minimum
    gives_way: bool = False  # before other requirements: a vitamin, which no grain is bought for
    legal: bool = False  # a maximum of the law
    usual: Severity | None = None  # what the trade uses at most, and what a mix beyond it is
    of_groups: tuple[str, ...] = ()  # only what feeds of these groups bring counts (selenium that is added)
    none_if_unknown: bool = False  # the farm's own maximum of what premixes bring: most feeds have no figure of it

    @property
    def is_practice(self) -> bool:
        """Whether what the trade does stands behind it: no need of the animal, no law, no safety."""
        return (self.kind is NeedKind.CEILING and not self.safety) or self.nutrient in PRACTISED

    @property
    def needs_figure(self) -> bool:
        """Whether a feed without a figure is no use. In a mere ceiling it counts with nothing and is not left out."""
        if self.none_if_unknown:
            return False
        return self.minimum is not None or self.kind not in (NeedKind.CEILING, NeedKind.USUAL)


@dataclass(frozen=True, slots=True)
class ContaminantNeed:
    """The most of a contaminant in the mix as fed, in `unit`; a law of the mix, never given up.

    `contents` by candidate is the content of a bin, lot or certificate, `sds` its standard deviation, and
    `safe_contents` what the candidate counts with in the row: its content with the test's uncertainty on the safe side
    (95 of 100). A feed that nobody tested counts with nothing. `rule` is the limit in words.
    """

    nutrient: str
    label: str
    unit: str
    maximum: float
    contents: Mapping[str, float]
    sds: Mapping[str, float]
    safe_contents: Mapping[str, float]
    rule: str
    source: str
    how: str


@dataclass(frozen=True, slots=True)
class RatioNeed:
    """Bounds on one nutrient over another."""

    numerator: str
    denominator: str
    minimum: float | None
    maximum: float | None
    safety: bool
    source: str
    how: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Cap:
    """A cap or floor on the feeds of `members`, wherever they come from, as a share of the mix."""

    feed: str
    members: frozenset[str]
    max_share: float | None
    min_share: float | None
    reason: str
    source: str
    how: str = ""
    evidence: str = ""
    safety: bool = False
    own: bool = False  # set by the farm
    note_above: float | None = None  # of a cap from trials: the share above which a note is due
    usual: Severity | None = None  # what the trade uses at most, and what a mix beyond it is
