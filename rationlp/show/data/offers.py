"""Offers as JSON: the keys of the interface, and more beside them."""

from __future__ import annotations

from typing import Any

from rationlp.book.records import Book
from rationlp.cautions import REVIEW
from rationlp.offers.model import Sweep
from rationlp.offers.study import Study


def offers_document(book: Book, study: Study) -> dict[str, Any]:
    """`offers --format json`. Money is per metric tonne in `currency`, farm figures over all groups of the book."""
    return {
        "book": str(book.path),
        "farm": book.farm.name,
        "currency": book.farm.currency,
        "review": REVIEW,
        "rations": [
            {
                "stage": r.stage,
                "bin": r.bin,
                "status": r.status,
                "objective": r.objective,
                "cost_per_tonne": r.cost_per_tonne,
                "cost_per_gcal": r.cost_per_gcal,
                "shortfalls": r.shortfalls,
                "conflict": r.conflict,
                "findings": r.findings,
                "mix": {line.offer: line.share for line in r.mix if line.share},
            }
            for r in (case.ration for case in study.cases)
        ],
        "offers": [line for lines in study.worths for line in lines],
        "all_groups": study.stakes,
        "comparisons": study.comparisons,
        "what_if": study.what_ifs,
        "grain": study.grain,
        "grain_plan": study.plans,
        "equal_mixes": study.equals,
        "price_risk": study.risks,
        "price_risk_all_groups": study.farm_risks,
        "sweep": [_sweep(sweep) for sweep in study.sweeps],
    }


def _sweep(sweep: Sweep) -> dict[str, Any]:
    return {
        "stage": sweep.stage,
        "bin": sweep.bin,
        "offer": sweep.offer,
        "objective": sweep.objective,
        "other": sweep.other,
        "other_price": sweep.other_price,
        "breakpoints": sweep.breakpoints,
        "points": sweep.points,
        "pieces": sweep.pieces,
    }
