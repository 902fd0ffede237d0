"""The JSON answers of the commands, key by key.

Shares are 0 to 1 as fed, money is per metric tonne in `currency`, masses say their unit. What a record of the program
already describes (a mix line, an offer's worth) stands here by its class; `made.py` turns all of it into JSON Schema.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import (
    Annotated,
    Any,
    NotRequired,  # pydantic reads no other before Python 3.12
)

from typing_extensions import TypedDict

from rationlp.bins.model import Agreement, BinFinding, CropShare, Drift, EvidenceKind
from rationlp.bins.precision import SamplingAdvice
from rationlp.errors import Problem
from rationlp.offers.model import (
    Comparison,
    EqualMixes,
    FarmRisk,
    GrainPlan,
    GrainWorth,
    OfferWorth,
    Piece,
    PriceRisk,
    Purchase,
    SweepPoint,
    WhatIf,
)
from rationlp.rations.answer.farm_totals import FarmTotal
from rationlp.rations.answer.model import Ration, Shortfall, Status
from rationlp.rations.studies.concentrate import Part
from rationlp.rations.studies.frontier import FrontierPoint
from rationlp.rations.studies.missing_offer import MissingOffer
from rationlp.reasons import Kind, Severity, Verdict
from rationlp.show.schema.merged import Merged


class ReasonObject(TypedDict):
    """One thing that decides whether a mix may be fed; `verdict` is how much it weighs by itself."""

    kind: Kind
    verdict: Severity
    text: str
    nutrient: str | None
    feed: str | None
    unit: str | None
    value: float | None
    limit: float | None
    source: str


class VerdictObject(TypedDict):
    """Whether a mix may be fed: `feed` once a nutritionist reviewed it, `ask` one first, `stop`: must not be fed."""

    verdict: Severity
    words: str
    probability_all: float | None
    reasons: Sequence[ReasonObject]


class ErrorDocument(TypedDict):
    """A mistake, in place of the answer."""

    error: str
    exit_code: int
    problems: Sequence[Problem]


class CheckDocument(TypedDict):
    """Every problem of a book."""

    book: str
    problems: Sequence[Problem]


class ConfidencePrice(TypedDict):
    """What a ration costs at more confidence, by its objective; null where no mix has it."""

    confidence_pct: float
    cost: float | None


class RationMore(TypedDict):
    """What stands beside a ration in a book."""

    id: str
    confidence_prices: Sequence[ConfidencePrice]
    missing_offer: MissingOffer | None


RationObject = Annotated[dict[str, Any], Merged(Ration, RationMore)]


class TodayRation(TypedDict):
    """A ration without what was asked."""

    stage: str
    bin: str
    verdict: Severity
    cost_per_tonne: float | None
    cost_per_gcal: float | None
    home_grown_share: float | None
    mix: Mapping[str, float]


class Asked(TypedDict):
    """What was asked with `--price` and `--set`, and the rations without it."""

    asked: Sequence[str]
    today: Sequence[TodayRation]


class RationDocument(TypedDict):
    """The least-cost rations."""

    book: str
    farm: str
    currency: str
    review: str
    farm_totals: Sequence[FarmTotal]
    book_version: str
    rations: Sequence[RationObject]
    asked: NotRequired[Sequence[str]]
    today: NotRequired[Sequence[TodayRation]]


class FrontierDocument(TypedDict):
    """Cost against home-grown share (`--frontier`)."""

    book: str
    currency: str
    review: str
    frontier: Sequence[FrontierPoint]


class UseObject(TypedDict):
    """How one stage is fed with a concentrate; shares of the whole ration, costs by `objective`."""

    stage: str
    stage_label: str
    bin: str
    inclusion: float
    grain: Sequence[Part]
    objective: str
    cost: float
    cost_of_own_ration: float
    premix_doses: float


class ConcentrateObject(TypedDict):
    """One mix of bought feeds and whom it serves."""

    concentrate: int
    cost_per_tonne: float
    parts: Sequence[Part]
    uses: Sequence[UseObject]
    unproven_pct: float


class Without(TypedDict):
    """A ration that meets not everything and has no concentrate."""

    stage: str
    bin: str
    status: Status


class ConcentrateDocument(TypedDict):
    """The bought part of the rations as mixes (`--concentrate`)."""

    book: str
    currency: str
    review: str
    concentrates: Sequence[ConcentrateObject]
    without: Sequence[Without]


NutrientObject = TypedDict(
    "NutrientObject",
    {
        "nutrient": str,
        "label": str,
        "unit": str,
        "value": float,
        "from": str,
        "sd": float,
        "low_90": float,
        "high_90": float,
        "basis": str,
        "from_sort": float | None,
        "from_sort_sd": float | None,
        "assay": float | None,
        "assay_sd": float | None,
        "assay_weight": float,
    },
)


class CovarianceObject(TypedDict):
    """How the nutrients vary together, as fed."""

    nutrients: Sequence[str]
    matrix: Sequence[Sequence[float]]


class BinObject(TypedDict):
    """What is in one bin. An `sd` is one standard deviation; `low_90` and `high_90` hold 9 of 10."""

    bin: str
    label: str
    tonnes: float | None
    tonnes_sd: float | None
    tonnes_from: str
    sample: str
    samples: Sequence[str]
    taken_on: date | None
    evidence: EvidenceKind
    dry_matter_pct: float
    dry_matter_sd: float
    dry_matter_from: str
    crops: Sequence[CropShare]
    nutrients: Sequence[NutrientObject]
    covariance: CovarianceObject
    agreement: Agreement
    drifts: Sequence[Drift]
    findings: Sequence[str]
    notices: Sequence[BinFinding]
    precision: SamplingAdvice | None
    cautions: Sequence[str]


class BinDocument(TypedDict):
    """What is in each bin."""

    book: str
    farm: str
    review: str
    bins: Sequence[BinObject]


class PricedRation(TypedDict):
    """A ration that offers were weighed in."""

    stage: str
    bin: str
    status: Status
    verdict: Verdict
    objective: str
    cost_per_tonne: float | None
    cost_per_gcal: float | None
    shortfalls: Sequence[Shortfall]
    conflict: Sequence[str]
    findings: Sequence[str]
    failure: str
    mix: Mapping[str, float]


class SweepObject(TypedDict):
    """One ration over the prices of an offer."""

    stage: str
    bin: str
    offer: str
    objective: str
    other: str | None
    other_price: float | None
    breakpoints: Sequence[float]
    points: Sequence[SweepPoint]
    pieces: Sequence[Piece]


class OffersDocument(TypedDict):
    """What each offer is worth."""

    book: str
    farm: str
    currency: str
    review: str
    rations: Sequence[PricedRation]
    offers: Sequence[OfferWorth]
    all_groups: Sequence[Purchase]
    comparisons: Sequence[Comparison]
    what_if: Sequence[WhatIf]
    grain: Sequence[GrainWorth]
    grain_plan: Sequence[GrainPlan]
    equal_mixes: Sequence[EqualMixes]
    price_risk: Sequence[PriceRisk]
    price_risk_all_groups: Sequence[FarmRisk]
    sweep: Sequence[SweepObject]
    asked: NotRequired[Sequence[str]]
    today: NotRequired[Sequence[TodayRation]]
