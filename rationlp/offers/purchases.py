"""Offers over all groups of the farm: tonnes to buy, money at stake, what is second best."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil

from rationlp.book.records import Book, Offer
from rationlp.errors import given
from rationlp.numbers import largest_first
from rationlp.offers.live_ration import LiveRation
from rationlp.offers.model import OfferWorth, Purchase
from rationlp.rations.answer.farm_totals import group_feed

LISTED = 3
"""How many second-best offers are kept."""


def tonnes_fed(cases: Sequence[LiveRation], book: Book) -> list[float]:
    """Tonnes of each ration that the groups of the book eat over their days, if they eat it all the time."""
    tonnes = []
    for case in cases:
        fed = [
            group_feed(group, case.ration).tonnes or 0.0
            for group in book.groups
            if group.stage == case.formula.stage.stage and case.priced is not None
        ]
        tonnes.append(sum(fed))
    return tonnes


def purchases(cases: Sequence[LiveRation], worths: Sequence[Sequence[OfferWorth]], book: Book) -> list[Purchase]:
    """Every offer over all groups, once for each bin the rations are made from; the dearest to do without first.

    `worths` are the offers of each case. Groups without a ration or a known intake do not count (the ration's farm
    totals name them).
    """
    tonnes = tonnes_fed(cases, book)
    found = []
    for bin_name in dict.fromkeys(case.formula.bin for case in cases):
        places = [i for i, case in enumerate(cases) if case.formula.bin == bin_name and tonnes[i]]
        if not places:
            continue
        rows = [
            _purchase(
                bin_name, offer, [(tonnes[i], line) for i in places for line in worths[i] if line.offer == offer.offer]
            )
            for offer in book.supplements
            if any(line.offer == offer.offer for i in places for line in worths[i])
        ]
        found += sorted(rows, key=lambda row: (not row.needed_by, -(row.at_stake or 0.0), -row.tonnes))
    return found


def _purchase(bin_name: str, offer: Offer, lines: Sequence[tuple[float, OfferWorth]]) -> Purchase:
    used = [(tonnes, line) for tonnes, line in lines if line.in_mix]
    idle = [(line.enters_below, line) for _, line in lines if not line.in_mix and line.enters_below is not None]
    bought = sum(tonnes * line.share for tonnes, line in used)
    needed_by = tuple(line.stage for _, line in used if line.indispensable)
    enters_below, first = max(idle, key=lambda pair: pair[0], default=(None, None))
    starts = [line.mix_stays_from for _, line in lines if line.mix_stays_from is not None]
    ends = [line.mix_stays_to for _, line in lines if line.mix_stays_to is not None]
    return Purchase(
        bin=bin_name,
        offer=offer.offer,
        label=lines[0][1].label,
        price=offer.price_per_tonne,
        tonnes=bought,
        cost=bought * offer.price_per_tonne,
        at_stake=None if needed_by else sum(tonnes * given(line.saves_per_tonne, "a saving") for tonnes, line in used),
        needed_by=needed_by,
        second_best=_second_best(used),
        stays_from=max(starts, default=None),
        stays_to=min(ends, default=None),
        enters_below=enters_below if not used else None,
        enters_in=first.stage if first and not used else "",
        packages=ceil(1000 * bought / offer.package_kg - 1e-9) if offer.package_kg and bought else None,
        stock_tonnes=None if offer.stock_kg is None else offer.stock_kg / 1000,
    )


def _second_best(used: Sequence[tuple[float, OfferWorth]]) -> tuple[tuple[str, float], ...]:
    """Tonnes that each other offer gains in the rations made without this one."""
    gains: dict[str, float] = {}
    for tonnes, line in used:
        for name, share in line.replaced_by:
            gains[name] = gains.get(name, 0.0) + tonnes * share
    return tuple(sorted(gains.items(), key=lambda item: largest_first(item[1]))[:LISTED])


def over_stock(purchase: Purchase) -> bool:
    """Whether the rations want more of an offer than there is."""
    return purchase.stock_tonnes is not None and purchase.tonnes > purchase.stock_tonnes + 1e-9


def weights_of(cases: Sequence[LiveRation], book: Book) -> Mapping[int, float]:
    """Tonnes by place of the case, or one for each where the book has no groups to feed."""
    tonnes = tonnes_fed(cases, book)
    return dict(enumerate(tonnes if any(tonnes) else [float(case.priced is not None) for case in cases]))
