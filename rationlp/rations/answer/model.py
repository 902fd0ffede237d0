"""A ration and what is said of it. Shares are 0 to 1 of the as-fed mix, money is per metric tonne."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from rationlp.rations.solve.model import Confidence, MarginCost, Remedy
from rationlp.reasons import Verdict


class Status(StrEnum):
    """What became of the program of a ration: about the program alone, not about whether it may be fed."""

    OPTIMAL = "optimal"
    NEAREST = "nearest"
    FAILED = "failed"


class Side(StrEnum):
    """The bound of a requirement that is meant."""

    MINIMUM = "minimum"
    MAXIMUM = "maximum"


class PriceOf(StrEnum):
    """What the objective counts by, and so what a price of a bound is of."""

    TONNE = "tonne"
    GCAL = "gcal"


@dataclass(frozen=True, slots=True)
class MixLine:
    offer: str
    feed: str
    label: str
    share: float
    price_per_tonne: float
    reduced_cost: float  # by how much the price must fall before it comes in

    @property
    def enters_at(self) -> float | None:
        """The price per tonne at which the feed comes in, its own where it is in; None where it does at no price."""
        at = self.price_per_tonne - self.reduced_cost
        return at if at >= 0 else None


@dataclass(frozen=True, slots=True)
class RequirementLine:
    """A requirement against what the mix gives, both as fed.

    `shadow_price` is the change of the objective for one more unit of the bound shown here: money per tonne of the mix,
    or per Gcal where the cheapest energy is sought, as `shadow_price_of` says.
    """

    nutrient: str
    label: str
    unit: str
    minimum: float | None
    maximum: float | None
    gives: float | None
    meets: bool | None
    binding: Side | None
    shadow_price: float
    kind: str
    basis: str
    source: str
    how: str
    met_by: str = "ration"
    note: str = ""
    sd: float | None = None  # of what the mix gives against the bound
    probability: float | None = None  # of meeting it, 0 to 1
    shadow_price_of: PriceOf = PriceOf.TONNE


@dataclass(frozen=True, slots=True)
class RatioLine:
    """One nutrient over another in the mix: percent of lysine, grams per Mcal, or parts per part, as `unit` says.

    `table` is the same ratio of the stage's own requirements. Bounds only where the library has them; `shadow_price` is
    the change of the objective for one more unit of the ratio, of what `shadow_price_of` says.
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
    binding: Side | None = None
    shadow_price: float = 0.0
    source: str = ""
    how: str = ""
    note: str = ""
    sd: float | None = None
    probability: float | None = None  # of keeping the bounds, 0 to 1
    shadow_price_of: PriceOf = PriceOf.TONNE


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
class LimitLine:
    feed: str
    label: str
    max_pct: float | None
    min_pct: float | None
    gives_pct: float
    binding: bool
    shadow_price: float  # change of the objective for one more percent
    reason: str
    source: str
    evidence: str
    safety: bool = False
    how: str = ""
    shadow_price_of: PriceOf = PriceOf.TONNE

    @property
    def cost_of_a_percent(self) -> float:
        """What the bound costs: by how much the objective would fall for one percent more room; 0 if it costs none."""
        return abs(self.shadow_price)


@dataclass(frozen=True, slots=True)
class Shortfall:
    """A requirement that the nearest mix misses; `harm` ranks what giving it up does, 0 the least."""

    nutrient: str
    label: str
    unit: str
    needs: float
    gives: float
    short_pct: float
    side: Side
    harm: int = 0


@dataclass(frozen=True, slots=True)
class Ration:
    """The least-cost mix of one stage from one bin (or bins), verified, with everything it was judged by."""

    stage: str
    stage_label: str
    bins: tuple[str, ...]
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
    verdict: Verdict = field(default_factory=Verdict)
    failure: str = ""  # why no answer of the solver could be trusted for this ration alone (exit code 4)

    @property
    def name(self) -> str:
        """Its stage and bins as every screen names it: `sw_gro_25_50 north`."""
        return f"{self.stage} {self.bin}".strip()

    @property
    def bin(self) -> str:
        """The bins in one word, `north+south`; empty where the book has none."""
        return "+".join(self.bins)
