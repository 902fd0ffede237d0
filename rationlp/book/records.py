"""What a farm book says, in SI units: kilograms, metres, shares of 0 to 1, money per tonne.

Every record remembers the row of the sheet it came from, so that later findings can point at a cell.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from pathlib import Path

from rationlp.units import KG_PER_LB


@dataclass(frozen=True, slots=True)
class Place:
    """Where a record stands: the sheet, its row (header is row 1) and the column letters of that sheet."""

    sheet: str = ""
    row: int = 0
    columns: dict[str, str] = field(default_factory=dict, compare=False)

    def cell(self, column: str = "") -> str:
        """The address of a column of this record, `B7`, or of the row's first column."""
        return f"{self.columns.get(column, 'A')}{self.row}" if self.row else ""


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings of the book."""

    name: str = ""
    season: str = ""
    units: str = "metric"
    currency: str = "USD"
    certification: str = "none"
    jurisdiction: str = "us"
    confidence_pct: float = 50.0
    confidence_of: str = "each"  # or "all": the chance of confidence_pct is that no requirement is missed
    requirement_margin_pct: float = 0.0
    objective: str | None = None  # None: by the way the stage is fed
    batch_kg: float = 1000.0
    mixer_capacity_kg: float | None = None
    scale_step_kg: float = 1.0
    hand_scale_step_kg: float = 0.01
    hand_weigh_below_kg: float = 20.0
    hand_least_kg: float | None = None  # None: the least number of steps of the hand scale
    date_format: str = "%Y-%m-%d"
    enzyme: str = "no"  # whether feed for birds holds an enzyme for grain: yes, no
    varieties: str = ""  # feed:variety, blanks between
    plan_from: date | None = None
    next_harvest_on: date | None = None
    most_mixes: int | None = None
    mix_change_cost: float | None = None
    mixing_cost: float | None = None  # for one tonne (metric) or short ton (us), as selling_cost
    selling_cost: float | None = None
    reserve_days: int = 0  # past the harvest, for the animals that must not lack
    bins_in_turn: str = "no"  # whether one bin is opened after another: yes, no
    whole_packages: str = "no"  # whether a year is planned by what whole packages cost: yes, no

    def day(self, day: date | None, none: str = "") -> str:
        """A day as the book writes days; `none` where there is none."""
        return none if day is None else day.strftime(self.date_format)


def usual_settings(units: str = "metric") -> Settings:
    """What the settings are if nobody says otherwise, in round figures of the book's unit (common practice)."""
    if units != "us":
        return Settings(units=units)
    return Settings(
        units=units,
        batch_kg=2000 * KG_PER_LB,
        scale_step_kg=2 * KG_PER_LB,
        hand_scale_step_kg=0.02 * KG_PER_LB,
        hand_weigh_below_kg=40 * KG_PER_LB,
    )


@dataclass(frozen=True, slots=True)
class Bin:
    place: Place
    bin: str
    label: str = ""
    mass_kg: float | None = None
    diameter_m: float | None = None
    length_m: float | None = None
    width_m: float | None = None
    wall_depth_m: float | None = None
    peak_height_m: float | None = None
    test_weight_kg_m3: float | None = None
    sale_price_per_tonne: float | None = None
    moisture_pct: float | None = None
    filled_on: date | None = None
    note: str = ""
    hold: str = ""  # one of columns.HOLDS, or blank
    hold_until: date | None = None
    released_by: str = ""
    opened_on: date | None = None


@dataclass(frozen=True, slots=True)
class Sample:
    place: Place
    sample: str
    bin: str
    taken_on: date | None = None
    probes: int | None = None
    sorted_mass_g: float | None = None
    note: str = ""
    lab_portion_g: float | None = None


@dataclass(frozen=True, slots=True)
class SortedCrop:
    place: Place
    sample: str
    crop: str
    mass_g: float = 0.0


@dataclass(frozen=True, slots=True)
class SownCrop:
    """Seed of a crop that the grain of a bin grew from."""

    place: Place
    bin: str
    crop: str
    mass_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class Assay:
    """A laboratory figure, `value` and `lab_sd` in the nutrient's unit of the library, on `basis`.

    It is of a sample of a bin, or of a bought lot; the other of the two is empty.
    """

    place: Place
    sample: str
    nutrient: str
    value: float
    unit: str
    basis: str  # as_fed, dry_matter
    method: str = ""
    lab_sd: float | None = None
    lot: str = ""


@dataclass(frozen=True, slots=True)
class Lot:
    """A delivery of an offer."""

    place: Place
    lot: str
    offer: str
    delivered_on: date | None = None
    mass_kg: float | None = None
    supplier_lot: str = ""
    use_by: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Offer:
    """A quotation. Its three prices include `freight_per_tonne`.

    `protein_pct` is crude protein as fed that the supplier states for this offer.
    """

    place: Place
    offer: str
    feed: str
    label: str = ""
    price_per_tonne: float = 0.0
    package_kg: float | None = None
    stock_kg: float | None = None
    min_share: float | None = None
    max_share: float | None = None
    home_grown: bool = False
    organic: bool | None = None
    quoted_on: date | None = None
    supplier: str = ""
    price_low_per_tonne: float | None = None
    price_high_per_tonne: float | None = None
    freight_per_tonne: float = 0.0
    protein_pct: float | None = None
    from_date: date | None = None
    until_date: date | None = None
    lead_days: int = 0


@dataclass(frozen=True, slots=True)
class OwnFigure:
    """A farm's own figure of a feed; `value` and `sd` in `unit`, the library's unit where it knows the nutrient."""

    place: Place
    feed: str
    nutrient: str
    value: float
    unit: str
    basis: str
    sd: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class OwnRequirement:
    """A farm's own requirement; bounds in `unit` (per day: g, mg, IU or kcal)."""

    place: Place
    stage: str
    nutrient: str
    minimum: float | None
    maximum: float | None
    unit: str
    per: str  # kg, mcal, day
    source: str = ""
    approved_by: str = ""
    approved_on: date | None = None


@dataclass(frozen=True, slots=True)
class OwnLimit:
    place: Place
    stage: str  # a stage id or "all"
    feed: str
    min_share: float | None = None
    max_share: float | None = None
    reason: str = ""
    approved_by: str = ""
    approved_on: date | None = None


@dataclass(frozen=True, slots=True)
class Group:
    place: Place
    group: str
    stage: str
    head: int = 0
    from_date: date | None = None
    to_date: date | None = None
    feed_kg_per_head_per_day: float | None = None
    housing: str = ""  # indoor, outdoor, pasture; blank: indoor

    def fed_between(self, first: date, last: date) -> bool:
        """Whether it is fed on any day from the first to the last."""
        return (self.from_date is None or self.from_date <= last) and (self.to_date is None or first <= self.to_date)


@dataclass(frozen=True, slots=True)
class HerdStep:
    """A step in the life of a line; `then` is empty, `again` or a line, `brings` a line or empty."""

    place: Place
    line: str
    step: str
    stage: str
    days: int
    losses: float = 0.0  # 0 to 1 over the step
    feed_kg_per_head_per_day: float | None = None
    then: str = ""
    brings: str = ""
    per_head: float = 0.0
    housing: str = ""


@dataclass(frozen=True, slots=True)
class Arrival:
    """Animals that begin a step on a day, and again every so many days; `times` None: to the end of the plan."""

    place: Place
    line: str
    step: str
    on: date
    head: int
    every_days: int | None = None
    times: int | None = 1


@dataclass(frozen=True, slots=True)
class Crop:
    """What could be sown: kilograms a hectare, money per tonne of seed; `beside_others` 1 where nothing is known."""

    place: Place
    crop: str
    yield_kg_per_ha: float
    yield_low_kg_per_ha: float | None = None
    yield_high_kg_per_ha: float | None = None
    seed_price_per_tonne: float = 0.0
    seed_kg_per_ha: float = 0.0
    beside_others: float = 1.0
    min_share: float = 0.0
    max_share: float = 1.0
    cleaning_cost_per_tonne: float = 0.0


@dataclass(frozen=True, slots=True)
class Weighed:
    """A line of what the crew really weighed; `sure` where its unit stands beside it, or where the scale was read."""

    place: Place
    sheet: str
    made_on: date | None
    feed: str
    mass_kg: float
    batch: str = ""
    lot: str = ""
    sure: bool = False


class FlowKind(StrEnum):
    """How something came to the farm or went, in the order in which it counts within a day."""

    DELIVERED = "delivered"
    MIXED = "mixed"
    SOLD = "sold"
    THROWN_AWAY = "thrown_away"
    COUNTED = "counted"


@dataclass(frozen=True, slots=True)
class Flow:
    """What came or went of a bin or an offer on a day (None: nobody wrote it down), or what was counted that evening.

    `batches` is how many batches took it, `lot` the delivery it is of, `where` the cell that says so.
    """

    name: str
    kind: FlowKind
    on: date | None
    kg: float
    batches: int = 0
    lot: str = ""
    where: str = ""


@dataclass(frozen=True, slots=True)
class Signed:
    """A ration that a nutritionist approved."""

    place: Place
    ration: str
    signed_by: str
    licence: str
    signed_on: date
    valid_until: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Book:
    """One farm, one book."""

    path: Path
    farm: Settings
    bins: tuple[Bin, ...] = ()
    samples: tuple[Sample, ...] = ()
    sorted: tuple[SortedCrop, ...] = ()
    sown: tuple[SownCrop, ...] = ()
    assays: tuple[Assay, ...] = ()
    supplements: tuple[Offer, ...] = ()
    own_feeds: tuple[OwnFigure, ...] = ()
    own_stages: tuple[OwnRequirement, ...] = ()
    own_limits: tuple[OwnLimit, ...] = ()
    groups: tuple[Group, ...] = ()
    actual: tuple[Weighed, ...] = ()
    lots: tuple[Lot, ...] = ()
    herd: tuple[HerdStep, ...] = ()
    arrivals: tuple[Arrival, ...] = ()
    crops: tuple[Crop, ...] = ()
    signed: tuple[Signed, ...] = ()
    moved: tuple[Flow, ...] = ()  # counted, thrown away, sold, by the sheet `actual`
    flows: tuple[Flow, ...] = ()  # all that came and went, by the farm's record too; put there once it is read
    left_out: frozenset[tuple[str, date]] = frozenset()  # lots asked to be left out: line, day they begin; on no sheet

    def samples_of(self, bin_id: str) -> list[Sample]:
        """The samples of a bin, oldest first; one without a day counts as older than all."""
        return sorted((row for row in self.samples if row.bin == bin_id), key=lambda row: row.taken_on or date.min)
