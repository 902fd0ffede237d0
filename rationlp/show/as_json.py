"""Answers as JSON, with the keys of the interface and more beside them."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, is_dataclass
from datetime import date
from typing import Any

from rationlp.bins import BinEstimate
from rationlp.book.records import Book
from rationlp.cautions import REVIEW, bin_cautions
from rationlp.errors import Problem
from rationlp.library import Library
from rationlp.rations.farm import farm_totals
from rationlp.rations.model import Ration


def write_json(document: dict[str, Any]) -> None:
    """One JSON document on stdout; dataclasses become objects with the names of their fields as keys."""
    sys.stdout.write(json.dumps(document, default=_fields, ensure_ascii=False, allow_nan=False))
    sys.stdout.write("\n")


def _fields(value: Any) -> Any:
    if is_dataclass(value):
        return {name: getattr(value, name) for name in value.__dataclass_fields__}
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} has no place in JSON")


def ration_document(book: Book, rations: Sequence[Ration]) -> dict[str, Any]:
    """`ration --format json`."""
    return {
        "book": str(book.path),
        "farm": book.farm.name,
        "currency": book.farm.currency,
        "review": REVIEW,
        "farm_totals": farm_totals(book, rations),
        "rations": list(rations),
    }


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
