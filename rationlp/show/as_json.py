"""Answers as JSON, with the keys of the interface and more beside them."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from rationlp.bins import BinEstimate
from rationlp.book.records import Book
from rationlp.cautions import REVIEW, bin_cautions
from rationlp.errors import Problem
from rationlp.library import Library
from rationlp.rations.model import Ration


def write_json(document: dict[str, Any]) -> None:
    """One JSON document on stdout; NaN and infinity, which JSON does not know, become null."""
    json.dump(_plain(document), sys.stdout, indent=1, ensure_ascii=False, allow_nan=False)
    sys.stdout.write("\n")


def ration_document(book: Book, rations: Sequence[Ration]) -> dict[str, Any]:
    """`ration --format json`."""
    return {
        "book": str(book.path),
        "farm": book.farm.name,
        "currency": book.farm.currency,
        "review": REVIEW,
        "rations": [ration_object(ration) for ration in rations],
    }


def ration_object(ration: Ration) -> dict[str, Any]:
    """One ration with the fixed keys; shares 0 to 1, money per tonne."""
    data = asdict(ration)
    data["energy_kcal_kg"] = data.pop("energy_unit_kcal_kg")
    for line in data["requirements"]:
        line["binding"] = line["binding"] or None
    return data


def bin_document(book: Book, estimates: Sequence[BinEstimate], library: Library) -> dict[str, Any]:
    """`bin --format json`."""
    return {
        "book": str(book.path),
        "farm": book.farm.name,
        "review": REVIEW,
        "bins": [_bin_object(estimate, library) for estimate in estimates],
    }


def _bin_object(estimate: BinEstimate, library: Library) -> dict[str, Any]:
    return {
        "bin": estimate.bin,
        "label": estimate.label,
        "tonnes": estimate.tonnes,
        "sample": estimate.sample,
        "taken_on": estimate.taken_on.isoformat() if estimate.taken_on else None,
        "dry_matter_pct": estimate.dry_matter_pct,
        "dry_matter_from": estimate.moisture_from,
        "crops": [asdict(crop) for crop in estimate.crops],
        "nutrients": [
            {"nutrient": n.nutrient, "label": n.label, "unit": n.unit, "basis": "as_fed", "value": n.value,
             "from": n.origin}
            for n in estimate.nutrients
        ],
        "findings": list(estimate.findings),
        "cautions": list(bin_cautions({crop.crop: crop.share for crop in estimate.crops}, library)),
    }  # fmt: skip


def check_document(problems: Sequence[Problem]) -> dict[str, Any]:
    """`check --format json`."""
    return {"problems": [asdict(problem) for problem in problems]}


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value
