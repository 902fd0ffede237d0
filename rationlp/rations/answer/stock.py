"""What the groups want of each bin and offer, and what one batch takes, against what is left by the farm's record."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import TypeGuard

from rationlp.book.records import FlowKind, Group
from rationlp.book_units import units_of
from rationlp.farm import Farm
from rationlp.rations.answer.farm_totals import group_feed
from rationlp.rations.answer.model import Ration
from rationlp.reasons import Kind, Reason, Severity
from rationlp.units import KG_PER_TONNE


def with_stock(farm: Farm, rations: Sequence[Ration]) -> list[Ration]:
    """The rations, each with a reason for every bin and offer of which the groups want more than there is.

    Where batches are in the farm's record, it is what they want after the last of them, against what these left.
    Rations from different bins are alternatives: what the groups want is counted for each bin (or bins together) by
    itself, over all stages that are among the rations. Where the groups want no more than there is, one batch may:
    groups can be small or not in the book. It is told and does not change whether a mix may be fed.
    """
    short = {bins: list(_short(farm, [r for r in rations if r.bins == bins])) for bins in {r.bins for r in rations}}
    found = []
    for ration in rations:
        used = {line.offer for line in ration.mix if line.share}
        reasons = [reason for reason in short[ration.bins] if reason.feed in used]
        reasons += _short_of_a_batch(farm, ration, {reason.feed for reason in reasons})
        found.append(replace(ration, verdict=ration.verdict.plus(reasons)) if reasons else ration)
    return found


def _short(farm: Farm, rations: Sequence[Ration]) -> Iterator[Reason]:
    """A reason for each bin and offer that these rations want more of than there is."""
    units, last = units_of(farm.settings), _last_day(farm)
    then = f", after {farm.settings.day(last)}," if last else ""
    for name, wanted in _wanted(farm, rations, last).items():
        there = _there(farm, name)
        if _is_short(there, wanted):
            label = next(line.label for r in rations for line in r.mix if line.offer == name)
            text = (
                f"The groups fed from {' and '.join(rations[0].bins) or 'these offers'} want{then} "
                f"{units.amount(wanted)} of {label}; {'by the record ' if last else ''}there is {units.amount(there)}."
            )
            yield _told(name, text, wanted, there)


def _short_of_a_batch(farm: Farm, ration: Ration, told: Collection[str | None]) -> Iterator[Reason]:
    """A reason for each bin and offer, but those `told`, of which one batch takes more than there is."""
    units, batch = units_of(farm.settings), farm.settings.batch_kg
    for line in ration.mix:
        there = None if line.offer in told else _there(farm, line.offer)
        taken = line.share * batch / KG_PER_TONNE
        if _is_short(there, taken):
            text = (
                f"A batch of {units.weight(batch)} takes {units.weight(taken * KG_PER_TONNE)} of {line.label}; there "
                f"is {units.weight(there * KG_PER_TONNE)}."
            )
            yield _told(line.offer, text, taken, there)


def _is_short(there: float | None, wanted: float) -> TypeGuard[float]:
    """Whether what is there has an end and is less than what is wanted."""
    return there is not None and wanted > there * (1 + 1e-9)


def _told(name: str, text: str, wanted: float, there: float) -> Reason:
    """A stock that is too little, in tonnes: it is told and weighs nothing."""
    return Reason(Kind.STOCK, Severity.FEED, text, feed=name, unit="t", value=wanted, limit=there)


def _last_day(farm: Farm) -> date | None:
    """The day of the last batch of the farm's record."""
    return max((each.on for each in farm.book.flows if each.kind is FlowKind.MIXED and each.on), default=None)


def _after(group: Group, last: date | None) -> Group | None:
    """The group over its days after the last batch; None where it has left by then."""
    if last is None or (group.from_date is not None and group.from_date > last):
        return group
    if group.to_date is not None and group.to_date <= last:
        return None
    return replace(group, from_date=last + timedelta(days=1))


def _wanted(farm: Farm, rations: Sequence[Ration], last: date | None) -> dict[str, float]:
    """Tonnes of each bin and offer over the days of all groups whose stage has a ration, after the day `last`."""
    by_stage = {ration.stage: ration for ration in rations}
    wanted: dict[str, float] = {}
    for group in filter(None, (_after(group, last) for group in farm.book.groups)):
        ration = by_stage.get(group.stage)
        tonnes = group_feed(group, ration).tonnes if ration else None
        for line in ration.mix if ration and tonnes else ():
            wanted[line.offer] = wanted.get(line.offer, 0.0) + line.share * (tonnes or 0.0)
    return wanted


def _there(farm: Farm, name: str) -> float | None:
    """Tonnes left in a bin or of an offer; None where the book sets no end."""
    left = farm.stock(name).left_kg
    return None if left is None else max(left, 0.0) / KG_PER_TONNE
