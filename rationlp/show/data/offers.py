"""Offers as JSON (the keys of the interface, and more beside them) and as pandas frames."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

from rationlp.book.records import Book
from rationlp.cautions import REVIEW
from rationlp.offers.model import OfferWorth, PriceRisk, Sweep
from rationlp.offers.study import Study

if TYPE_CHECKING:
    import pandas as pd

    from rationlp.show.schema.shapes import OffersDocument, SweepObject


def offers_document(book: Book, study: Study) -> OffersDocument:
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
                "verdict": r.verdict,
                "objective": r.objective,
                "cost_per_tonne": r.cost_per_tonne,
                "cost_per_gcal": r.cost_per_gcal,
                "shortfalls": r.shortfalls,
                "conflict": r.conflict,
                "findings": r.findings,
                "failure": case.failure or r.failure,
                "mix": {line.offer: line.share for line in r.mix if line.share},
            }
            for case in study.rations
            for r in (case.ration,)
        ],
        "offers": [line for lines in study.worths for line in lines],
        "all_groups": study.purchases,
        "comparisons": study.comparisons,
        "what_if": study.what_ifs,
        "grain": study.grain,
        "grain_plan": study.plans,
        "equal_mixes": study.equals,
        "price_risk": study.risks,
        "price_risk_all_groups": study.farm_risks,
        "sweep": [_sweep(sweep) for sweep in study.sweeps],
    }


def _sweep(sweep: Sweep) -> SweepObject:
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


def study_frame(study: Study) -> pd.DataFrame:
    """The sweep if one was asked for, else the draws of prices, else every offer in every ration."""
    if study.sweeps:
        return sweep_frame(study.sweeps)
    if study.risks:
        return risk_frame(study.risks)
    return offers_frame(study)


def offers_frame(study: Study) -> pd.DataFrame:
    """A row for each offer in each ration; several names stand in one cell with blanks between."""
    import pandas as pd

    columns = [item.name for item in fields(OfferWorth)]
    rows = [[_cell(getattr(line, name)) for name in columns] for lines in study.worths for line in lines]
    return pd.DataFrame(rows, columns=columns)


def _cell(value: object) -> object:
    if isinstance(value, tuple):
        return " ".join(str(part[0]) if isinstance(part, tuple) else str(part) for part in value)
    return value


def sweep_frame(sweeps: tuple[Sweep, ...]) -> pd.DataFrame:
    """A row for each price of each ration; the share of every offer that is in any mix has a column of its own."""
    import pandas as pd

    names = list(dict.fromkeys(name for sweep in sweeps for piece in sweep.pieces for name in piece.mix))
    rows = []
    for sweep in sweeps:
        mixes = [[piece.mix.get(name, 0.0) for name in names] for piece in sweep.pieces]
        head = [sweep.stage, sweep.bin, sweep.offer]
        for p in sweep.points:
            row = [*head, p.price, sweep.other, sweep.other_price, p.cost_per_tonne, p.cost_per_gcal, p.share, p.piece]
            rows.append([*row, *mixes[p.piece]])
    columns = [
        "stage",
        "bin",
        "offer",
        "price",
        "other",
        "other_price",
        "cost_per_tonne",
        "cost_per_gcal",
        "share",
        "piece",
    ]
    return pd.DataFrame(rows, columns=[*columns, *(f"share of {name}" for name in names)])


def risk_frame(risks: tuple[PriceRisk, ...]) -> pd.DataFrame:
    """A row for each offer of each ration, with the cost of the ration over the draws."""
    import pandas as pd

    rows = [
        {
            "stage": r.stage,
            "bin": r.bin,
            "draws": r.draws,
            "mean_cost": r.mean,
            "sd": r.sd,
            **r.percentiles,
            "good_pct": r.good_pct,
            "offer": o.offer,
            "price_low": o.price_low,
            "price": o.price,
            "price_high": o.price_high,
            "in_mix_pct": o.in_mix_pct,
            "mean_share": o.mean_share,
            "steady_share": r.steady_mix.get(o.offer, 0.0),
        }
        for r in risks
        for o in r.offers
    ]
    return pd.DataFrame(rows)
