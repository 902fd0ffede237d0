"""Answers as JSON, with the keys of the interface and more beside them."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping, Sequence
from dataclasses import is_dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rationlp.book.records import Book
from rationlp.cautions import REVIEW, bin_cautions
from rationlp.errors import Problem
from rationlp.farm import Farm
from rationlp.library import Library
from rationlp.rations.answer.farm_totals import farm_totals
from rationlp.rations.answer.ids import book_version, ration_id
from rationlp.rations.answer.model import Ration
from rationlp.reasons import Reason, Verdict
from rationlp.units import Z90

if TYPE_CHECKING:
    from rationlp.bins import BinEstimate, NutrientValue
    from rationlp.bins.precision import SamplingAdvice
    from rationlp.rations.studies.missing_offer import MissingOffer
    from rationlp.show.schema.shapes import (
        Asked,
        BinDocument,
        BinObject,
        CheckDocument,
        CovarianceObject,
        ErrorDocument,
        NutrientObject,
        RationDocument,
        ReasonObject,
        VerdictObject,
    )


SCHEMA_VERSION = 1
"""Goes up when a key that programs rely on changes its meaning."""


def write_json(document: Mapping[str, object]) -> None:
    """One JSON document on stdout; dataclasses become objects with the names of their fields as keys."""
    answer = {"schema_version": SCHEMA_VERSION, **document}
    sys.stdout.write(json.dumps(answer, default=json_fields, ensure_ascii=False, allow_nan=False))
    sys.stdout.write("\n")


def plain_document(document: Mapping[str, object]) -> dict[str, Any]:
    """An answer as it stands in JSON, in plain dicts and lists."""
    plain: dict[str, Any] = json.loads(json.dumps({"schema_version": SCHEMA_VERSION, **document}, default=json_fields))
    return plain


def json_fields(value: Any) -> Any:
    """What JSON has no form for, in forms that it has: records with the names of their fields as keys, days as text."""
    if isinstance(value, Verdict):
        return verdict_object(value)
    if isinstance(value, Reason):
        return reason_object(value)
    if is_dataclass(value):
        fields = {name: getattr(value, name) for name in value.__dataclass_fields__}
        return {"bin": value.bin, **fields} if "bins" in fields and hasattr(value, "bin") else fields
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} has no place in JSON")


def error_document(problems: Sequence[Problem], words: str, exit_code: int) -> ErrorDocument:
    """A mistake, in place of the answer."""
    return {"error": words, "exit_code": exit_code, "problems": problems}


def check_document(book: Path, problems: Sequence[Problem]) -> CheckDocument:
    """`check --format json`."""
    return {"book": str(book), "problems": problems}


def verdict_object(verdict: Verdict) -> VerdictObject:
    """The same object wherever a ration, sheet or batch is spoken of."""
    return {
        "verdict": verdict.severity,
        "words": verdict.headline,
        "probability_all": verdict.probability_all,
        "reasons": [reason_object(reason) for reason in verdict.reasons],
    }


def reason_object(reason: Reason) -> ReasonObject:
    """A reason of a verdict; `verdict` is how much it weighs by itself."""
    return {
        "kind": reason.kind,
        "verdict": reason.severity,
        "text": reason.text,
        "nutrient": reason.nutrient,
        "feed": reason.feed,
        "unit": reason.unit,
        "value": reason.value,
        "limit": reason.limit,
        "source": reason.source,
    }


def ration_document(
    book: Book,
    rations: Sequence[Ration],
    prices: Sequence[Sequence[tuple[float, float | None]]] = (),
    missing: Sequence[MissingOffer | None] = (),
) -> RationDocument:
    """`ration --format json`; for each ration what more confidence costs (by its objective) and the missing offer."""
    return {
        "book": str(book.path),
        "farm": book.farm.name,
        "currency": book.farm.currency,
        "review": REVIEW,
        "farm_totals": farm_totals(book, rations),
        "book_version": book_version(book),
        "rations": [
            {
                "id": ration_id(ration, book),
                **json_fields(ration),
                "confidence_prices": [{"confidence_pct": pct, "cost": cost} for pct, cost in levels],
                "missing_offer": offer,
            }
            for ration, levels, offer in zip(
                rations,
                [*prices, *[()] * (len(rations) - len(prices))],
                [*missing, *[None] * (len(rations) - len(missing))],
                strict=True,
            )
        ],
    }


def asked_object(asked: Sequence[str], today: Sequence[Ration]) -> Asked:
    """What was asked with `--price` and `--set`, and what the rations are without it, beside the answer."""
    return {
        "asked": list(asked),
        "today": [
            {
                "stage": ration.stage,
                "bin": ration.bin,
                "verdict": ration.verdict.severity,
                "cost_per_tonne": ration.cost_per_tonne,
                "cost_per_gcal": ration.cost_per_gcal,
                "home_grown_share": ration.home_grown_share,
                "mix": {line.offer: line.share for line in ration.mix if line.share},
            }
            for ration in today
        ],
    }


def bin_document(farm: Farm, estimates: Sequence[BinEstimate], advice: Sequence[SamplingAdvice] = ()) -> BinDocument:
    """`bin --format json`. An `sd` is one standard deviation; `low_90` and `high_90` hold 9 of 10."""
    return {
        "book": str(farm.book.path),
        "farm": farm.book.farm.name,
        "review": REVIEW,
        "bins": [_bin_object(estimate, farm.library, advice) for estimate in estimates],
    }


def _bin_object(estimate: BinEstimate, library: Library, advice: Sequence[SamplingAdvice]) -> BinObject:
    return {
        "bin": estimate.bin,
        "label": estimate.label,
        "tonnes": estimate.tonnes,
        "tonnes_sd": estimate.tonnes_sd,
        "tonnes_from": estimate.tonnes_from,
        "sample": estimate.sample,
        "samples": list(estimate.samples),
        "taken_on": estimate.taken_on,
        "evidence": estimate.evidence,
        "dry_matter_pct": estimate.dry_matter_pct,
        "dry_matter_sd": estimate.dry_matter_sd,
        "dry_matter_from": estimate.moisture_from,
        "crops": list(estimate.crops),
        "nutrients": [_nutrient_object(line) for line in estimate.nutrients],
        "covariance": _covariance_object(estimate),
        "agreement": estimate.agreement,
        "drifts": list(estimate.drifts),
        "findings": list(estimate.findings),
        "notices": list(estimate.notices_by_weight),
        "precision": next((found for found in advice if found.bin == estimate.bin), None),
        "cautions": list(bin_cautions(estimate.shares, library)),
    }


def _covariance_object(estimate: BinEstimate) -> CovarianceObject:
    """The covariance of the nutrients listed, as fed, each entry in the product of their units."""
    known = {name: place for place, name in enumerate(estimate.nutrient_index)}
    names = [line.nutrient for line in estimate.nutrients if line.nutrient in known]
    if estimate.covariance is None:
        return {"nutrients": [], "matrix": []}
    places = [known[name] for name in names]
    return {"nutrients": names, "matrix": [[float(estimate.covariance[i, j]) for j in places] for i in places]}


def _nutrient_object(line: NutrientValue) -> NutrientObject:
    half = Z90 * line.sd
    return {
        "nutrient": line.nutrient,
        "label": line.label,
        "unit": line.unit,
        "value": line.value,
        "from": line.origin,
        "sd": line.sd,
        "low_90": max(line.value - half, 0.0),
        "high_90": line.value + half,
        "basis": "as_fed",
        "from_sort": line.from_sort,
        "from_sort_sd": line.from_sort_sd,
        "assay": line.assay,
        "assay_sd": line.assay_sd,
        "assay_weight": line.assay_weight,
    }
