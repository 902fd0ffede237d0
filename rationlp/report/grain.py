"""The bins: the sort as bars with their ±, the figures that matter, what to know of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rationlp.bins import BinEstimate
from rationlp.bins.model import Gravity
from rationlp.farm import Farm
from rationlp.numbers import percent
from rationlp.report.plots import Bar, Plot, bars
from rationlp.show.text.bin import WEIGHED
from rationlp.units import Z90


@dataclass(frozen=True, slots=True)
class BinPart:
    """A bin with its picture; `told` are its findings by weight: a word for how much each matters, and the sentence."""

    estimate: BinEstimate
    weighed: str
    picture: Plot
    told: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]


WORDS = {Gravity.DANGER: "DANGER", Gravity.WARNING: "Look at this"}


def bin_parts(farm: Farm, names: Sequence[str]) -> tuple[BinPart, ...]:
    """The bins of these names."""
    return tuple(_part(farm.bin(name)) for name in names)


def _part(estimate: BinEstimate) -> BinPart:
    rows = [
        Bar(
            crop.label.split(" (")[0],
            100 * crop.share,
            100 * (crop.share - Z90 * crop.sd),
            100 * (crop.share + Z90 * crop.sd),
            f"{percent(crop.share, 1)} ± {percent(Z90 * crop.sd, 1)} %",
        )
        for crop in estimate.crops
    ]
    words = "; ".join(f"{row.label} {row.words}" for row in rows)
    notices = estimate.notices_by_weight
    return BinPart(
        estimate,
        WEIGHED[estimate.evidence],
        bars(f"Crops in {estimate.label}", f"Shares by mass with their ±: {words}.", rows),
        tuple((WORDS[found.severity], found.text) for found in notices if found.severity in WORDS),
        tuple(found.text for found in notices if found.severity not in WORDS),
    )
