"""The farm as a whole: how much of each ration its groups eat, and what that makes of cost and home-grown feed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rationlp.book.records import Book, Group
from rationlp.errors import given
from rationlp.rations.answer.model import Ration

DAYS_OF_A_YEAR = 365


@dataclass(frozen=True, slots=True)
class GroupFeed:
    """What one group eats of a ration over its days. `tonnes` is None where the feed per day is not known."""

    group: str
    stage: str
    bin: str
    days: int
    tonnes: float | None


@dataclass(frozen=True, slots=True)
class FarmTotal:
    """All groups fed from one bin (or bins together)."""

    bin: str
    tonnes: float
    cost: float
    home_grown_share: float
    left_out: tuple[str, ...]  # groups without a ration or without a known intake


def group_days(group: Group) -> int:
    """Days from the first to the last of the group, both counted; a year where the book gives no end."""
    if group.from_date is None or group.to_date is None:
        return DAYS_OF_A_YEAR
    return max((group.to_date - group.from_date).days + 1, 0)


def group_feed(group: Group, ration: Ration) -> GroupFeed:
    """The tonnes of `ration` that `group` eats: its own feed per head and day, else the ration's."""
    per_day = group.feed_kg_per_head_per_day or ration.feed_kg_per_head_per_day
    days = group_days(group)
    tonnes = None if per_day is None else group.head * days * per_day / 1000
    return GroupFeed(group.group, group.stage, ration.bin, days, tonnes)


def farm_totals(book: Book, rations: Sequence[Ration]) -> list[FarmTotal]:
    """For each bin that the rations are made from: tonnes, cost and home-grown share over all groups of the book."""
    totals = []
    for bin_name in dict.fromkeys(ration.bin for ration in rations):
        by_stage = {ration.stage: ration for ration in rations if ration.bin == bin_name and ration.mix}
        tonnes = cost = grown = 0.0
        left_out = []
        for group in book.groups:
            ration = by_stage.get(group.stage)
            fed = group_feed(group, ration).tonnes if ration else None
            if ration is None or fed is None:
                left_out.append(group.group)
                continue
            tonnes += fed
            cost += fed * given(ration.cost_per_tonne, f"the cost of the mix for {ration.stage}")
            grown += fed * given(ration.home_grown_share, f"the home-grown share of the mix for {ration.stage}")
        if tonnes:
            totals.append(FarmTotal(bin_name, tonnes, cost, grown / tonnes, tuple(left_out)))
    return totals
