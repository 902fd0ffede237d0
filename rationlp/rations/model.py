"""A ration and what is said of it. Shares are 0 to 1 of the as-fed mix, money is per metric tonne."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Status = Literal["optimal", "nearest", "failed"]


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
    kind: Literal["requirement", "energy_floor", "ceiling"] = "requirement"
    basis: str = "per kg"  # in words: per kg, following energy, per day at 2.2 kg, per Mcal
    safety: bool = False  # never given up by the nearest ration
    probability_pct: float | None = None  # a chance of its own, where a ration is made with a confidence
    source: str = ""
    how: str = ""
    note: str = ""
    margin_pct: float = 0.0  # by which the book raised the minimum


@dataclass(frozen=True, slots=True)
class ContaminantNeed:
    """The most of a contaminant in the mix as fed, in `unit`; a law of the mix, never given up.

    `contents` by candidate is the content of an assayed bin, `sds` its standard deviation, and `safe_contents` what the
    bin counts with in the row: its content with the assay's uncertainty on the safe side (95 of 100). A feed that
    nobody assayed counts with nothing. `rule` is the limit in words.
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


@dataclass(frozen=True, slots=True)
class MixLine:
    offer: str
    feed: str
    label: str
    share: float
    price_per_tonne: float
    reduced_cost: float


@dataclass(frozen=True, slots=True)
class RequirementLine:
    """A requirement against what the mix gives, both as fed.

    `shadow_price` is the change of the cost per tonne for one more unit of the bound shown here (with the energy
    objective: of a tonne of the same energy).
    """

    nutrient: str
    label: str
    unit: str
    minimum: float | None
    maximum: float | None
    gives: float | None
    meets: bool | None
    binding: Literal["minimum", "maximum"] | None
    shadow_price: float
    kind: str
    basis: str
    source: str
    how: str
    met_by: str = "ration"
    note: str = ""
    sd: float | None = None  # of what the mix gives against the bound
    probability: float | None = None  # of meeting it, 0 to 1


@dataclass(frozen=True, slots=True)
class RatioLine:
    """One nutrient over another in the mix: percent of lysine, grams per Mcal, or parts per part, as `unit` says.

    `table` is the same ratio of the stage's own requirements. Bounds only where the library has them; `shadow_price` is
    money per tonne for one more unit of the ratio.
    """

    numerator: str
    denominator: str
    label: str
    unit: str
    gives: float | None  # None where there is nothing below the line
    table: float | None = None
    minimum: float | None = None
    maximum: float | None = None
    meets: bool | None = None
    binding: Literal["minimum", "maximum"] | None = None
    shadow_price: float = 0.0
    source: str = ""
    how: str = ""
    note: str = ""
    sd: float | None = None
    probability: float | None = None  # of keeping the bounds, 0 to 1


@dataclass(frozen=True, slots=True)
class DigestibleLine:
    """A digestible amino acid of a poultry mix rich in raw legumes, beside the published digestible figure, as fed.

    `figure` is None where no digestible figure was published for the stage.
    """

    nutrient: str
    label: str
    unit: str
    gives: float
    figure: float | None
    meets: bool | None
    source: str
    how: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class MarginCost:
    """What the book's margin on amino acid minima costs, per tonne (or per Gcal with the energy objective).

    `cost_without` is None where the ration without the margin could not be found.
    """

    margin_pct: float
    unit: str
    cost: float
    cost_without: float | None


@dataclass(frozen=True, slots=True)
class LimitLine:
    feed: str
    label: str
    max_pct: float | None
    min_pct: float | None
    gives_pct: float
    binding: bool
    shadow_price: float  # money per tonne for one more percent
    reason: str
    source: str
    evidence: str
    safety: bool = False
    how: str = ""


@dataclass(frozen=True, slots=True)
class Shortfall:
    """A requirement that the nearest mix misses; `harm` ranks what giving it up does, 0 the least."""

    nutrient: str
    label: str
    unit: str
    needs: float
    gives: float
    short_pct: float
    side: Literal["minimum", "maximum"]
    harm: int = 0


@dataclass(frozen=True, slots=True)
class Remedy:
    """A feed, not on offer, that would mend a ration: the least `share` of it that does, or None if only in part.

    The shortfalls are totals over all requirements, each relative to its own need. `worth` is by how much the total
    falls with the first percent of the feed, at the duals of the nearest ration (None where not even the limits can be
    kept).
    """

    feed: str
    label: str
    group: str
    share: float | None
    shortfall_before: float | None
    shortfall_after: float
    worth: float | None = None


@dataclass(frozen=True, slots=True)
class Confidence:
    """What the chance of meeting every requirement costs, per tonne (or per Gcal with the energy objective)."""

    asked_pct: float
    attained_pct: float
    unit: str  # per tonne, per Gcal
    cost: float
    cost_of_averages: float  # the ration of plain averages, 50 %
    cost_of_fixed_margins: float | None  # every feed worsened by z sd; None where no ration meets that


@dataclass(frozen=True, slots=True)
class Ration:
    """The least-cost mix of one stage from one bin (or bins), verified, with everything it was judged by."""

    stage: str
    stage_label: str
    bin: str
    status: Status
    objective: str
    energy: str | None
    energy_kcal_kg: float | None  # of the mix as fed, in the stage's energy
    cost_per_tonne: float | None
    cost_per_gcal: float | None
    home_grown_share: float | None
    feed_kg_per_head_per_day: float | None
    mix: tuple[MixLine, ...] = ()
    requirements: tuple[RequirementLine, ...] = ()
    limits: tuple[LimitLine, ...] = ()
    shortfalls: tuple[Shortfall, ...] = ()
    conflict: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    analysis: dict[str, float] = field(default_factory=dict)
    confidence: Confidence | None = None
    remedies: tuple[Remedy, ...] = ()
    ratios: tuple[RatioLine, ...] = ()
    digestible: tuple[DigestibleLine, ...] = ()
    margin: MarginCost | None = None
    warnings: tuple[str, ...] = ()  # to be looked at, though the mix may meet everything
    electrolyte_balance: float | None = None  # Na + K - Cl in mEq/kg as fed
