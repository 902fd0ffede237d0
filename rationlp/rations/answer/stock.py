"""What the groups want of each bin and offer, and what one batch takes, against what there is."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

from rationlp.book_units import units_of
from rationlp.farm import Farm
from rationlp.rations.answer.farm_totals import group_feed
from rationlp.rations.answer.model import Ration
from rationlp.reasons import Kind, Reason, Severity


def with_stock(farm: Farm, rations: Sequence[Ration]) -> list[Ration]:
    """The rations, each with a reason for every bin and offer of which the groups want more than there is.

    Rations from different bins are alternatives: what the groups want is counted for each bin (or bins together) by
    itself, over all stages that are among the rations. It is told and does not change whether a mix may be fed.
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
    units = units_of(farm.settings)
    for name, wanted in _wanted(farm, rations).items():
        there = _there(farm, name)
        if there is not None and wanted > there * (1 + 1e-9):
            label = next(line.label for r in rations for line in r.mix if line.offer == name)
            yield Reason(
                Kind.STOCK,
                Severity.FEED,
                f"The groups fed from {' and '.join(rations[0].bins) or 'these offers'} want {units.bulk(wanted)} of "
                f"{label}; there is {units.bulk(there)}.",
                feed=name,
                unit="t",
                value=wanted,
                limit=there,
            )


def _short_of_a_batch(farm: Farm, ration: Ration, told: Collection[str | None]) -> Iterator[Reason]:
    """A reason for each bin and offer, but those `told`, of which one batch takes more than there is."""
    units, batch = units_of(farm.settings), farm.settings.batch_kg
    for line in ration.mix:
        there = None if line.offer in told else _there(farm, line.offer)
        taken = line.share * batch / 1000
        if there is not None and taken > there * (1 + 1e-9):
            yield Reason(
                Kind.STOCK,
                Severity.FEED,
                f"A batch of {units.weight(batch)} takes {units.weight(taken * 1000)} of {line.label}; there is "
                f"{units.weight(there * 1000)}.",
                feed=line.offer,
                unit="t",
                value=taken,
                limit=there,
            )


def _wanted(farm: Farm, rations: Sequence[Ration]) -> dict[str, float]:
    """Tonnes of each bin and offer over the days of all groups whose stage has a ration."""
    by_stage = {ration.stage: ration for ration in rations}
    wanted: dict[str, float] = {}
    for group in farm.book.groups:
        ration = by_stage.get(group.stage)
        tonnes = group_feed(group, ration).tonnes if ration else None
        for line in ration.mix if ration and tonnes else ():
            wanted[line.offer] = wanted.get(line.offer, 0.0) + line.share * (tonnes or 0.0)
    return wanted


def _there(farm: Farm, name: str) -> float | None:
    """Tonnes in a bin or of an offer; None where the book sets no end."""
    if name in {row.bin for row in farm.book.bins}:
        return farm.bin(name).tonnes
    offer = next((row for row in farm.book.supplements if row.offer == name), None)
    return None if offer is None or offer.stock_kg is None else offer.stock_kg / 1000
