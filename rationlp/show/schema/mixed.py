"""The JSON answers about mixing: mix sheets and what was really weighed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import NotRequired  # pydantic reads no other before Python 3.12

from typing_extensions import TypedDict

from rationlp.errors import Problem
from rationlp.rations.answer.model import Ration, Status
from rationlp.reasons import Verdict
from rationlp.sheets.weights.whole_program import Tool


class SheetLine(TypedDict):
    """One weight of a mix sheet, in `unit` of the document."""

    section: str
    offer: str | None
    label: str
    mass: float
    holds: float
    weigh_on: Tool | None
    then_reads: NotRequired[float]


class SheetObject(TypedDict):
    """One mix sheet."""

    sheet: str
    id: str
    ration: str
    stage: str
    bin: str
    status: str
    verdict: Verdict
    batch: float
    batches: int
    first_batch: int
    rounding_cost_per_batch: float
    misses: Sequence[str]
    eaten_by: Sequence[str]
    only_for: str
    carry_over: Sequence[str]
    mix_as_number: int
    counts_in_what_to_buy: bool
    notes: Sequence[str]
    bucket: Sequence[SheetLine]
    mixer: Sequence[SheetLine]
    labels: Sequence[str]


class UnmadeSheet(TypedDict):
    """A ration without a sheet, and why."""

    sheet: str
    id: str
    stage: str
    bin: str
    status: Status
    verdict: Verdict
    reasons: Sequence[str]


class SheetsDocument(TypedDict):
    """Mix sheets; masses in `unit`."""

    book: str
    farm: str
    book_version: str
    currency: str
    unit: str
    output: str
    review: str
    sheets: Sequence[SheetObject]
    unmade: Sequence[UnmadeSheet]
    cautions: Sequence[str]


class WeighedObject(TypedDict):
    """What was asked for and what went in."""

    offer: str
    label: str
    asked_kg: float
    weighed_kg: float
    off_pct: float | None
    fault: str | None


class JudgedBatch(TypedDict):
    """A batch as it was mixed; `size` is its mass over that of its sheet."""

    sheet: str
    batch: str
    made_on: date | None
    stage: str
    bin: str
    verdict: Verdict
    total_kg: float
    size: float
    lines: Sequence[WeighedObject]
    faults: Sequence[str]
    remedies: Sequence[str]
    cautions: Sequence[str]
    label: str
    ration: Ration


class StockObject(TypedDict):
    """A bin or an offer; null: not known."""

    name: str
    label: str
    is_bin: bool
    start_kg: float | None
    taken_kg: float
    left_kg: float | None
    on_farm_kg: float | None
    delivered_kg: float
    sold_kg: float
    thrown_away_kg: float
    batches: int
    note: str


class MixerLimit(TypedDict):
    """A published limit of the coefficient of variation."""

    limit: str
    at_most_pct: float
    kept: bool


class MixerTest(TypedDict):
    """Samples of one tracer in one batch."""

    tracer: str
    values: Sequence[float]
    mean: float
    sd: float
    cv_pct: float
    advice: str
    limits: Sequence[MixerLimit]
    notes: Sequence[str]


class ActualDocument(TypedDict):
    """What was really weighed."""

    book: str
    farm: str
    review: str
    batches: Sequence[JudgedBatch]
    stock: Sequence[StockObject]
    mixer_tests: Sequence[MixerTest]
    lots: Mapping[str, str]
    warnings: Sequence[Problem]
