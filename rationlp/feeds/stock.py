"""What is left of a bin or an offer: what there was, less what went, set right by every count."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from rationlp.book.records import Flow, FlowKind

ORDER = {kind: place for place, kind in enumerate(FlowKind)}
SAME = 0.005
"""A count within this part of what the record has is no difference to look for (common practice)."""


@dataclass(frozen=True, slots=True)
class Count:
    """What was counted, and what the record had that day; None where it had nothing to compare."""

    on: date | None
    kg: float
    expected_kg: float | None

    @property
    def off_kg(self) -> float | None:
        """By how much there was more (or less, below 0) than the record has; 0 where that is no difference."""
        if self.expected_kg is None:
            return None
        off = self.kg - self.expected_kg
        return 0.0 if abs(off) <= SAME * abs(self.expected_kg) else off


@dataclass(frozen=True, slots=True)
class Stock:
    """A bin or an offer, in kg. `start_kg` is what the book says there is to have (None: no end, or not known),
    `left_kg` what is left of that; `on_farm_kg` what lies on the farm, None where nothing tells."""

    name: str
    label: str
    is_bin: bool
    start_kg: float | None
    left_kg: float | None
    on_farm_kg: float | None
    delivered_kg: float = 0.0
    mixed_kg: float = 0.0
    sold_kg: float = 0.0
    thrown_away_kg: float = 0.0
    batches: int = 0
    counts: tuple[Count, ...] = ()

    @property
    def taken_kg(self) -> float:
        """All that went."""
        return self.mixed_kg + self.sold_kg + self.thrown_away_kg


def stock_of(
    name: str,
    label: str,
    start_kg: float | None,
    flows: Iterable[Flow],
    *,
    is_bin: bool = False,
    since: date | None = None,
    quoted_on: date | None = None,
) -> Stock:
    """The stock of a bin or an offer after `flows`, of which those before `since` (the day a bin was filled) are
    of what was there before.

    What there is to have of an offer is as of the day it was quoted on: what went before that is of an earlier quote.
    What was delivered is part of what there is to have, so it lies on the farm and adds nothing to that. A count is of
    the evening: it sets right what lies on the farm, and what is to be had by the same difference.
    """
    mine = [each for each in flows if each.name == name and not (since and each.on and each.on < since)]
    mine.sort(key=lambda each: (each.on or date.min, ORDER[each.kind]))
    delivered = [each for each in mine if each.kind is FlowKind.DELIVERED]
    lies = 0.0 if delivered else start_kg
    left, counts, totals = start_kg, list[Count](), dict.fromkeys(FlowKind, 0.0)
    for each in mine:
        totals[each.kind] += each.kg
        change = each.kg if each.kind is FlowKind.DELIVERED else -each.kg
        if each.kind is FlowKind.COUNTED:
            expected = lies if lies is not None and lies >= 0 else None  # below 0 it began after the first batches
            counts.append(Count(each.on, each.kg, expected))
            lies, change = each.kg, 0.0 if expected is None else each.kg - expected
        elif lies is not None:
            lies += change
        of_this_quote = quoted_on is None or each.on is None or each.on >= quoted_on
        if left is not None and of_this_quote and each.kind is not FlowKind.DELIVERED:
            left += change
    return Stock(
        name,
        label,
        is_bin,
        start_kg,
        left,
        lies,
        totals[FlowKind.DELIVERED],
        totals[FlowKind.MIXED],
        totals[FlowKind.SOLD],
        totals[FlowKind.THROWN_AWAY],
        sum(each.batches for each in mine),
        tuple(counts),
    )
