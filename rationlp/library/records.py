"""The rows of the feed library's tables, one record per CSV file.

The column names of a file are the field names of its record; `tables.py` says which record reads which file. Cells are
checked against the annotations by pydantic when the CSV is read (`stored/csv_tables.py`).
Composition is on dry matter; premixes are per kilogram of the premix as sold; requirements are per kilogram
of feed as fed at 90 % dry matter, or per animal and day.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from rationlp.errors import given
from rationlp.library.stored.cells import BlankIsNone, Split, Within

How = Literal["page", "dataset", "abstract", "memory", "computed", "analogy", "common practice"]
Words = Annotated[tuple[str, ...], Split()]
NonNegative = Annotated[Annotated[float, Within(ge=0, allow_inf_nan=False)] | None, BlankIsNone()]
YesNo = Literal["yes", "no", ""]


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryRow:
    """A row of a library table: unknown columns are refused, rows never change once read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Nutrient(LibraryRow):
    """A nutrient id with its unit and label; the one table that drives reading, checks and output."""

    nutrient: str
    label: str
    unit: str  # unit of the as-fed concentration: %, mg/kg, IU/kg, kcal/kg
    kind: Literal[
        "proximate",
        "fatty_acid",
        "mineral",
        "trace_mineral",
        "vitamin",
        "amino_acid",
        "digestible_amino_acid",
        "energy",
        "coefficient",
        "toxin",
    ]
    sum_of: Words = ()  # parts that add up to it ...
    weights: Words = ()  # ... each times its weight; empty: once
    part_of: str = ""  # the nutrient of which it is the digestible part ...
    coefficient: str = ""  # ... and the coefficient (%) that says how much
    met_by: Literal["ration", "premix", "not_tabled"] = "ration"
    if_unknown: Literal["none", ""] = ""  # none: a feed without a figure holds none (milk sugar is in milk alone)
    note: str = ""

    @property
    def parts(self) -> dict[str, float]:
        """The parts of a sum with what one unit of each brings to it."""
        weights = map(float, self.weights) if self.weights else (1.0,) * len(self.sum_of)
        return dict(zip(self.sum_of, weights, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed(LibraryRow):
    """A crop of the field or a feed that is bought."""

    feed: str
    label: str
    group: str  # cereal, pulse, oilseed, protein_meal, mineral, premix, ...
    origin: Literal["crop", "purchased"]
    botanical_name: str = ""
    processing: str = ""
    dry_matter_pct: Annotated[float, Within(gt=0, le=100)]
    bulk_density_kg_m3: NonNegative = None
    thousand_kernel_weight_g: NonNegative = None
    usual_package: str = ""
    us_organic: str = ""
    us_organic_rule: str = ""
    eu_organic: str = ""
    animal_origin: YesNo = ""
    premix_species: Words = ()  # for premixes: swine, sow, poultry, layer (which stages' `premix` it serves)
    premix_covers: Words = ()  # for premixes: vitamins, trace_minerals
    premix_inclusion_pct: NonNegative = None  # stated inclusion in the whole ration
    note: str = ""
    source: str
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure(LibraryRow):
    """One figure of composition, on dry matter (a coefficient in percent of the nutrient)."""

    feed: str
    nutrient: str
    value: Annotated[float, Within(ge=0, allow_inf_nan=False)]
    unit: str
    sd: NonNegative = None
    source: str
    how: How
    equation: str = ""  # of a computed figure: the expression that returns it (expressions.py)
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate(LibraryRow):
    """By which published equation a figure moves when the farm has assayed what it depends on.

    The change of the equation is added to the table's figure. The nearest word decides: feed, family, group, `all`.
    """

    feeds: str  # a feed, a family, a group (cereal, pulse, ...) or all
    nutrient: str  # an energy, or `amino_acids`
    equation: str  # an expression (expressions.py); for amino_acids the line they follow (equations.amino_acids.GRAINS)
    source: str
    how: How
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PremixFigure(LibraryRow):
    """What a kilogram of a premix, as sold, adds."""

    feed: str
    nutrient: str
    value: Annotated[float, Within(ge=0, allow_inf_nan=False)]
    unit: str  # mg/kg, IU/kg
    source: str
    how: How
    equation: str = ""  # of a computed amount: the expression that returns it
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage(LibraryRow):
    """A life stage: which animal, how it is fed, from which energy its needs are counted."""

    stage: str
    label: str
    species: Literal["swine", "chicken", "turkey", "duck"]
    kind: str  # nursery, grower, finisher, gestation, lactation, boar, pullet, layer, broiler, ...
    weight_from_kg: NonNegative = None
    weight_to_kg: NonNegative = None
    age_from_wk: NonNegative = None
    age_to_wk: NonNegative = None
    daily_feed_g: NonNegative = None  # as fed, at the reference energy
    fed: Literal["to_appetite", "by_weight"]
    energy: str  # nutrient id of the energy the requirements follow
    energy_floor_pct: Annotated[float, Within(gt=0, le=100)]  # least energy, in percent of the reference energy
    energy_floor_source: str
    energy_floor_how: How
    scopes: Words  # where limits and ceilings come from, nearest first: hen_peak layer_white layer poultry all
    premix: str  # which premixes serve it: swine, sow, poultry, layer
    animals_of: str = ""  # which animals the needs were found on: birds of the table of 1994
    today: Words = ()  # the stages of today's animals that stand beside an older table
    source: str
    how: How
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement(LibraryRow):
    """What a stage needs of one nutrient."""

    stage: str
    nutrient: str
    minimum: NonNegative = None
    maximum: NonNegative = None
    unit: str  # %, mg/kg, IU/kg, kcal/kg; per day: g, mg, IU, kcal
    per: Literal["kg", "day"]
    use: Literal["row", "reference_energy", "check"]  # check: a rival or older figure, kept to compare
    source: str
    how: How
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Housing(LibraryRow):
    """What animals outdoors eat more than indoors, in percent, and what they take from the pasture, with the spread."""

    scope: str
    housing: Literal["outdoor", "pasture"]
    feed_low_pct: NonNegative = None
    feed_pct: NonNegative = None
    feed_high_pct: NonNegative = None
    pasture_low: NonNegative = None
    pasture: NonNegative = None
    pasture_high: NonNegative = None
    pasture_unit: str = ""  # g of dry matter (a head and day), % of what they eat
    source: str
    how: How
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ceiling(LibraryRow):
    """A safe maximum of a nutrient in the complete feed as fed; of a balance the range it should stay in."""

    scope: str
    nutrient: str
    minimum: NonNegative = None  # the lower end of a range
    maximum: Annotated[float, Within(ge=0)]
    unit: str
    per: Literal["kg", "day"] = "kg"  # day: of the table's daily feed, and moves with what a group eats
    safe_maximum: NonNegative = None  # of a row per day: what a kg may hold at most, however little is eaten
    kind: Literal["safety", "practice", "legal"]
    jurisdiction: Words = ()  # us, eu, canada; empty: everywhere
    use: Literal["row", "check", "told", "added"]  # check: a note where passed; told: a warning; added: of premixes
    probability_pct: NonNegative = None  # at least this chance of keeping it, where a ration is made with a confidence
    source: str
    how: How
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio(LibraryRow):
    """Bounds on one nutrient over another, both in the same unit."""

    scope: str
    numerator: str
    denominator: str
    minimum: NonNegative = None
    maximum: NonNegative = None
    kind: Literal["safety", "practice"]
    use: Literal["row", "check"]
    source: str
    how: How
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyMember(LibraryRow):
    """Which feeds a cap written for `barley` or `added_fat` speaks of."""

    family: str
    feed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedLimit(LibraryRow):
    """Evidence on how much of a feed or crop an animal may be given."""

    feed: str  # a feed or a family
    scope: str
    max_pct: NonNegative = None
    evidence: Literal[
        "legal_max",
        "recommended",
        "rule_of_thumb",
        "practice",
        "joint",
        "processing",
        "caution",
        "legal_note",
        "trial",  # trial: computed from trials.csv, never a row of the table
    ]
    safety: YesNo = "no"
    jurisdiction: Words = ()
    certification: Words = ()  # us_organic, eu_organic; empty: whatever the certificate
    treatment: str = ""
    reason: str
    source: str
    how: How
    note: str = ""
    variety: str = ""  # holds only where the farm says that the feed is of this one; not:x where it does not


@dataclass(frozen=True, slots=True, kw_only=True)
class PlausibleBound(LibraryRow):
    """What the trade uses at most: a row of every ration, and the first to give way where no mix can keep it."""

    scope: str
    measure: str  # a family, a feed or a nutrient
    at_most_pct: float
    beyond: Literal["ask", "stop"]  # what a mix beyond it is: for a nutritionist to decide, or not to be fed
    source: str
    how: How
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution(LibraryRow):
    """A sentence of warning and where it belongs: always, sheets, bins, or a scope, feed or family."""

    caution: str
    shown_with: Words
    text: str
    source: str
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Source(LibraryRow):
    """Where figures come from; `short` is what a sentence calls it."""

    source: str
    short: str = ""
    citation: str
    url: str = ""
    kind: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrganicRule(LibraryRow):
    """A number or a prohibition of an organic regulation."""

    jurisdiction: str
    rule: str
    number: str = ""
    unit: str = ""
    citation: str = ""
    source: str
    url: str = ""
    how: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageFact(LibraryRow):
    """Moisture and temperature of safe storage by crop."""

    crop: str
    topic: str
    horizon: str = ""
    max_moisture_pct: str = ""
    temperature: str = ""
    value: str = ""
    source: str
    how: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Price(LibraryRow):
    """A published price of the past, to give a first idea of costs; a farm's own quotes beat it."""

    feed: str
    price: Annotated[float, Within(ge=0)]
    unit: str  # as quoted: short_ton, cwt_100_lb
    currency: str
    quoted_on: str  # a date, or a year and month
    certification: Literal["conventional", "organic"]
    price_per_tonne: Annotated[float, Within(ge=0)]  # per metric tonne, same currency
    stand_in: YesNo = ""  # yes: quoted for a near relative of the feed
    source: str
    how: How
    note: str = ""


def _sd_at(row: LotVariation | LabVariation, value: float) -> float:
    """The standard deviation that a row says of a nutrient or result of that value, in its unit."""
    return row.sd if row.sd is not None else given(row.cv_pct, "a spread: neither sd nor cv_pct") / 100 * value


@dataclass(frozen=True, slots=True, kw_only=True)
class LotVariation(LibraryRow):
    """How far lots of a crop lie apart in a nutrient, where `composition` has no `sd` of its own."""

    feeds: str  # a feed, a family, a group (cereal, pulse, oilseed) or all; the nearest decides
    nutrient: str  # a nutrient, or a kind of nutrient
    of: Literal["whole", "beside"]  # all of the spread, or what remains beside the nutrient it follows
    sd: NonNegative = None  # in the nutrient's unit, on dry matter
    cv_pct: NonNegative = None  # or in percent of the mean
    source: str
    how: How
    note: str = ""

    sd_at = _sd_at


@dataclass(frozen=True, slots=True, kw_only=True)
class LabVariation(LibraryRow):
    """How far one laboratory result lies from the truth, beside what the laboratory says itself."""

    nutrient: str  # a nutrient, a kind of nutrient, or all
    method: Words = ()  # words that must stand in the assay's method; empty: any method
    sd: NonNegative = None  # in the nutrient's unit
    cv_pct: NonNegative = None  # or in percent of the result
    source: str
    how: How
    note: str = ""

    sd_at = _sd_at


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbePattern(LibraryRow):
    """Where and how often to take grain for one sample."""

    situation: Literal["stream", "standing", "mycotoxins"]
    from_tonnes: Annotated[float, Within(ge=0)]
    probes: Annotated[int, Within(ge=1)]
    where: str
    source: str
    how: How
    note: str = ""
