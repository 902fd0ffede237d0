"""The JSON answers that look over time or over many farms: a new sample, a trace, the feed year, many books."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import NotRequired  # pydantic reads no other before Python 3.12

from typing_extensions import TypedDict

from rationlp.rations.answer.model import Shortfall, Status
from rationlp.reasons import Verdict
from rationlp.resample.change import ShareChange
from rationlp.resample.not_judged import NotJudged
from rationlp.show.schema.shapes import RationObject
from rationlp.year.model import (
    Draws,
    FewMixes,
    LeftOver,
    OnFarm,
    Purchase,
    RunsOut,
    Sale,
    Stock,
    Unfed,
    Use,
    WayOut,
    Worth,
)
from rationlp.year.studies.change import YearChange
from rationlp.year.studies.frontier import GrownShare
from rationlp.year.studies.seed_mix import SownShare
from rationlp.year.studies.separate import Separated


class SampleOf(TypedDict):
    """A sample and its day."""

    sample: str
    taken_on: date | None


class Moved(TypedDict):
    """A crop or nutrient before and after; `sd` is of the change."""

    crop: NotRequired[str]
    nutrient: NotRequired[str]
    label: str
    unit: str
    before: float
    after: float
    change: float
    sd: float | None
    p_value: float | None
    more_than_chance: bool


class RequirementNow(TypedDict):
    """A requirement of a mix with what the bin holds now, or held then."""

    nutrient: str
    unit: str
    minimum: float | None
    maximum: float | None
    gives: float | None
    meets: bool | None
    probability: float | None


class MixObject(TypedDict):
    """A mix with what the bin holds now, or held then."""

    status: Status
    verdict: Verdict
    missed: Sequence[str]
    chance_pct: float | None
    cost_per_tonne: float | None
    cost_per_gcal: float | None
    home_grown_share: float | None
    mix: Mapping[str, float]
    requirements: Sequence[RequirementNow]
    shortfalls: Sequence[Shortfall]


class MixChangeObject(TypedDict):
    """One ration in use, before and after."""

    stage: str
    label: str
    bin: str
    old_mix_from: str
    sheet: str
    holds: bool
    old_mix_then: MixObject | None
    old_mix_now: MixObject | None
    new_mix: MixObject | None
    smallest_change: MixObject | None
    exchanged: float | None
    saves_per_tonne: float | None
    no_longer_on_offer: Sequence[str]
    reprint: bool
    verdict: Verdict
    advice: str
    shares: Sequence[ShareChange]


class Reprint(TypedDict):
    """A mix sheet to print again."""

    stage: str
    bin: str
    sheet: str


class ResampleDocument(TypedDict):
    """What a new sample changes."""

    book: str
    farm: str
    currency: str
    review: str
    bin: str
    before: SampleOf
    after: SampleOf
    more_than_chance: bool
    sentence: str
    crops: Sequence[Moved]
    nutrients: Sequence[Moved]
    rations: Sequence[MixChangeObject]
    reprint: Sequence[Reprint]
    not_judged: Sequence[NotJudged]
    year: NotRequired[YearChange]


TracedPartObject = TypedDict(
    "TracedPartObject",
    {
        "feed": str,
        "offer": str,
        "label": str,
        "lot": str | None,
        "bin": str | None,
        "sample": str | None,
        "kg": float,
        "home_grown": bool,
        "from": str,
    },
)


class TracedBatchObject(TypedDict):
    """A batch, when it can have been eaten, by whom, and what went in."""

    batch: str
    number: int | None
    sheet: str
    made_on: date | None
    stage: str
    groups: Sequence[str]
    heads: Mapping[str, float]
    eaten_from: date | None
    eaten_to: date | None
    likely_from: date | None
    likely_to: date | None
    certain: bool
    judged_on: str | None
    verdict: Verdict
    faults: Sequence[str]
    parts: Sequence[TracedPartObject]


class TraceDocument(TypedDict):
    """Where feed came from and where it went; masses in kg."""

    book: str
    review: str
    asked_kg: float
    notes: Sequence[str]
    batches: Sequence[TracedBatchObject]


class OfferShare(TypedDict):
    """A part of a mix, 0 to 1."""

    offer: str
    share: float


class YearMix(TypedDict):
    """A mix of the year; tonnes are metric."""

    mix: str
    stage: str
    stages: Sequence[str]
    groups: Sequence[str]
    bins: Sequence[str]
    parts: Sequence[OfferShare]
    tonnes: float
    cost_per_tonne: float
    first_fed: date
    verdict: Verdict


class AnimalsOfMonth(TypedDict):
    """Head on average, and the tonnes they eat."""

    month: str
    group: str
    stage: str
    head: float
    tonnes: float


class NextSample(TypedDict):
    """A bin and the day to sample it again."""

    bin: str
    on: date


class ComesIn(TypedDict):
    """At how many times its yield a crop left out would pay; null: at none that was looked at."""

    crop: str
    times_its_yield: float | None


class SeedMixGain(TypedDict):
    """What next season's seed mix brings over today's."""

    per_hectare: float
    in_draws: Sequence[float]
    sure: float
    hectares: float
    land_equivalent_ratio: float
    comes_in: Sequence[ComesIn]
    harvest_tonnes: float
    left_tonnes: float
    price_per_tonne: float
    unfed: Sequence[str]
    caution: str


class YearAsked(TypedDict, total=False):
    """What was asked beside the plan; `left_over` where the farm asks for whole packages."""

    left_over: Sequence[LeftOver]
    change: YearChange
    home_grown_frontier: Sequence[GrownShare]
    separate: Sequence[Separated]
    seed_mix: Sequence[SownShare]
    seed_mix_gain: SeedMixGain


YearPlan = TypedDict(
    "YearPlan",
    {
        "book": str,
        "currency": str,
        "from": date,
        "to": date,
        "cost": float,
        "bound": float,
        "home_grown_share": float,
        "bought_tonnes": float,
        "bought_cost": float,
        "mixes": Sequence[YearMix],
        "uses": Sequence[Use],
        "purchases": Sequence[Purchase],
        "on_farm": Sequence[OnFarm],
        "stocks": Sequence[Stock],
        "runs_out": Sequence[RunsOut],
        "worth_of_last_tonne": Sequence[Worth],
        "sales": Sequence[Sale],
        "few_mixes": FewMixes,
        "animals": Sequence[AnimalsOfMonth],
        "draws": Draws | None,
        "unfed": Sequence[Unfed],
        "ways_out": Sequence[WayOut],
        "next_sample": Sequence[NextSample],
        "verdict": Verdict,
        "notes": Sequence[str],
        "cautions": Sequence[str],
    },
)


class YearDocument(YearPlan, YearAsked):
    """The feed year; tonnes are metric."""


class ManyDocument(TypedDict):
    """One book of many; one object a line."""

    book: str
    ok: bool
    rations: Sequence[RationObject]
    error: str | None
    farm: str
    currency: str
    version: str
    units: str
