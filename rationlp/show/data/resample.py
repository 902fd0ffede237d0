"""A new sample as JSON and as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rationlp.book.records import Book
from rationlp.cautions import REVIEW
from rationlp.resample.change import MixAt, MixChange, Resample
from rationlp.resample.moved import Moved
from rationlp.year.model import Year
from rationlp.year.studies.change import year_change

if TYPE_CHECKING:
    import pandas as pd

    from rationlp.show.schema import later


def resample_document(book: Book, found: Resample, years: tuple[Year, Year] | None = None) -> later.ResampleDocument:
    """`resample --format json`, with `years`, the rest of the year before and after, where they were asked for.

    Shares are 0 to 1 as fed, money is per metric tonne in `currency`, sd one standard deviation.
    """
    move = found.move
    told: later.ResampleDocument = {
        "book": str(book.path),
        "farm": book.farm.name,
        "currency": book.farm.currency,
        "review": REVIEW,
        "bin": move.bin,
        "before": {"sample": move.before.sample, "taken_on": move.before.taken_on},
        "after": {"sample": move.after.sample, "taken_on": move.after.taken_on},
        "more_than_chance": move.more_than_chance,
        "sentence": move.sentence,
        "crops": [{"crop": line.name, **_moved(line)} for line in move.lines if line.kind == "crop"],
        "nutrients": [{"nutrient": line.name, **_moved(line)} for line in move.lines if line.kind == "nutrient"],
        "rations": [_change(change) for change in found.changes],
        "reprint": [{"stage": c.stage, "bin": c.bin, "sheet": c.sheet} for c in found.changes if c.reprint],
        "not_judged": found.not_judged,
    }
    if years is not None:
        told["year"] = year_change(*years)
    return told


def _moved(line: Moved) -> later.Moved:
    return {
        "label": line.label,
        "unit": "share" if line.kind == "crop" else line.unit,
        "before": line.before,
        "after": line.after,
        "change": line.change,
        "sd": line.sd,
        "p_value": line.p_value,
        "more_than_chance": line.more_than_chance,
    }


def _change(change: MixChange) -> later.MixChangeObject:
    return {
        "stage": change.stage,
        "label": change.stage_label,
        "bin": change.bin,
        "old_mix_from": change.from_kept or "calculated from the old sample",
        "sheet": change.sheet,
        "holds": change.old_now.holds,
        "old_mix_then": _mix_at(change.old_then),
        "old_mix_now": _mix_at(change.old_now),
        "new_mix": _mix_at(change.new),
        "smallest_change": _mix_at(change.smallest),
        "exchanged": change.exchanged,
        "saves_per_tonne": change.saves_per_tonne,
        "no_longer_on_offer": change.gone,
        "reprint": change.reprint,
        "verdict": change.old_now.ration.verdict,
        "advice": change.advice,
        "shares": change.shares,
    }


def _mix_at(at: MixAt | None) -> later.MixObject | None:
    if at is None:
        return None
    ration = at.ration
    return {
        "status": ration.status,
        "verdict": ration.verdict,
        "missed": at.missed,
        "chance_pct": at.chance_pct,
        "cost_per_tonne": ration.cost_per_tonne,
        "cost_per_gcal": ration.cost_per_gcal,
        "home_grown_share": ration.home_grown_share,
        "mix": {line.offer: line.share for line in ration.mix if line.share},
        "requirements": [
            {
                "nutrient": line.nutrient,
                "unit": line.unit,
                "minimum": line.minimum,
                "maximum": line.maximum,
                "gives": line.gives,
                "meets": line.meets,
                "probability": line.probability,
            }
            for line in ration.requirements
        ],
        "shortfalls": ration.shortfalls,
    }


def resample_frame(found: Resample) -> pd.DataFrame:
    """A row for each ingredient of each ration, with what is said of the ration beside it."""
    import pandas as pd

    rows = []
    for change in found.changes:
        head = [
            change.stage,
            change.bin,
            change.from_kept,
            change.old_now.holds,
            "; ".join(change.old_now.missed),
            change.old_now.chance_pct,
            change.reprint,
        ]
        rows += [[*head, line.offer, line.label, line.old, line.new, line.smallest] for line in change.shares]
    columns = [
        "stage",
        "bin",
        "old_mix_from",
        "holds",
        "missed",
        "chance_pct",
        "reprint",
        "offer",
        "label",
        "old_share",
        "new_share",
        "smallest_change_share",
    ]
    return pd.DataFrame(rows, columns=columns)
