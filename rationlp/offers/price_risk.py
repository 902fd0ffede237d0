"""Prices that nobody knows for sure: many draws, the cost they lead to, and a purchase that is good in most of them.

An offer with a low, a likely and a high price is drawn from the triangle between them; others stay at their price.
Offers move apart from each other, or partly together (`together`, the correlation of a Gaussian copula: market
prices of feeds rise and fall with each other). The same draws go through all rations, so that the farm's cost adds up.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from rationlp.book.records import Book, Offer
from rationlp.errors import InputError, Problem
from rationlp.numbers import Floats, Places, largest_first
from rationlp.offers.live_ration import LiveRation, in_mix, shares_of
from rationlp.offers.model import FarmRisk, OfferChance, PriceRisk
from rationlp.offers.purchases import tonnes_fed
from rationlp.rations.answer.mix import IN_MIX

WITHIN_PCT = 1.0
"""A mix is good in a draw if it costs at most so much more than the best mix of that draw."""
PERCENTILES = (5, 25, 50, 75, 95)


def price_draws(book: Book, count: int, seed: int = 1, together: float = 0.0) -> dict[str, Floats]:
    """`count` prices per tonne of every offer, by offer. Raises InputError if no offer has a low or a high price.

    `together` is the correlation between the prices of any two offers, 0 to 1.
    """
    if not any(_is_open(offer) for offer in book.supplements):
        raise InputError(
            [
                Problem(
                    "error",
                    "supplements",
                    "",
                    "no offer with a price_low or a price_high",
                    "the least and the most that the price of some offers may come to",
                    "Fill in the columns price_low and price_high for the offers whose price is not settled.",
                )
            ]
        )
    generator = np.random.default_rng(seed)
    common = generator.standard_normal(count)
    drawn = {}
    for offer in book.supplements:
        own = generator.standard_normal(count)  # drawn for every offer, so that adding a price moves no other draw
        if _is_open(offer):
            score = np.sqrt(together) * common + np.sqrt(1 - together) * own
            drawn[offer.offer] = triangular(_uniform(score), *limits(offer))
        else:
            drawn[offer.offer] = np.full(count, offer.price_per_tonne)
    return drawn


def _is_open(offer: Offer) -> bool:
    low, likely, high = limits(offer)
    return low < likely or likely < high


def limits(offer: Offer) -> tuple[float, float, float]:
    """Low, likely and high price per tonne; one that is not given is the likely one."""
    likely = offer.price_per_tonne
    low = likely if offer.price_low_per_tonne is None else offer.price_low_per_tonne
    high = likely if offer.price_high_per_tonne is None else offer.price_high_per_tonne
    return low, likely, high


def _uniform(score: Floats) -> Floats:
    """The standard normal distribution function (tabulated finely; exact to 1e-8)."""
    at = np.linspace(-8, 8, 20001)
    return np.interp(score, at, [NormalDist().cdf(z) for z in at.tolist()])


def triangular(uniform: Floats, low: float, likely: float, high: float) -> Floats:
    """The quantiles of a triangular distribution (its distribution function is a square on each side of the peak)."""
    if high <= low:
        return np.full(len(uniform), likely)
    peak = (likely - low) / (high - low)
    rising = low + np.sqrt(uniform * (high - low) * (likely - low))
    falling = high - np.sqrt((1 - uniform) * (high - low) * (high - likely))
    return np.where(uniform < peak, rising, falling)


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """A ration over the draws: what is told of it, and the cost per tonne of the best and of the steady mix in each."""

    case: LiveRation
    risk: PriceRisk
    best: Floats
    steady: Floats


def farm_risks(drawn: Sequence[Drawn], book: Book) -> list[FarmRisk]:
    """The feed of the groups over the draws, by bin."""
    tonnes = tonnes_fed([each.case for each in drawn], book)
    parts = [(each, fed) for each, fed in zip(drawn, tonnes, strict=True) if fed]
    bins = dict.fromkeys(each.case.formula.bin for each, _ in parts)
    return [_farm(name, [part for part in parts if part[0].case.formula.bin == name]) for name in bins]


def price_risk(case: LiveRation, book: Book, drawn: Mapping[str, Floats]) -> Drawn:
    """A ration over the draws of `price_draws`. Raises SolverError."""
    offers = {offer.offer: offer for offer in book.supplements}
    count = len(next(iter(drawn.values())))
    prices = np.column_stack([drawn.get(c.name, np.full(count, c.price_per_tonne)) for c in case.formula.candidates])
    which = case.live.answers(prices)
    places, sizes = np.unique(which, return_counts=True)
    corners = np.array([case.live.corners[place].amounts for place in places])
    mixes = _distinct(np.vstack([case.held, corners]))
    costs = prices @ mixes.T * case.per_tonne
    best = np.minimum(
        (prices * np.array([case.live.corners[i].amounts for i in which])).sum(axis=1) * case.per_tonne,
        costs.min(axis=1),
    )
    good = costs <= best[:, None] * (1 + WITHIN_PCT / 100) + 1e-9
    order = np.lexsort((costs.mean(axis=0), -good.mean(axis=0)))
    steady = int(order[0])
    shares = corners / corners.sum(axis=1, keepdims=True)
    risk = PriceRisk(
        stage=case.formula.stage.stage,
        bin=case.formula.bin,
        draws=count,
        mean=float(best.mean()),
        sd=float(best.std()),
        percentiles={f"p{p}": float(np.percentile(best, p)) for p in PERCENTILES},
        offers=_chances(case, offers, shares, sizes),
        mixes=len(mixes),
        within_pct=WITHIN_PCT,
        good_pct=100 * float(good[:, steady].mean()),
        steady_cost=float(costs[:, steady].mean()),
        steady_mix=_shares(case, mixes[steady]),
        today_good_pct=100 * float(good[:, 0].mean()),
    )
    return Drawn(case, risk, best, costs[:, steady])


def _distinct(mixes: Floats) -> Floats:
    """Each mix once (several bases hold one mix), the first one first."""
    _, first = np.unique(np.round(mixes, 9), axis=0, return_index=True)
    return mixes[np.sort(first)]


def _shares(case: LiveRation, amounts: Floats) -> dict[str, float]:
    shares = shares_of(amounts).tolist()
    return {c.name: share for c, share in zip(case.formula.candidates, shares, strict=True) if in_mix(share)}


def _chances(case: LiveRation, offers: dict[str, Offer], shares: Floats, sizes: Places) -> tuple[OfferChance, ...]:
    """`sizes` says in how many draws each row of `shares` is the best mix."""
    found = []
    for index, candidate in enumerate(case.formula.candidates):
        often = int(sizes @ (shares[:, index] > IN_MIX))
        if candidate.name in offers and often:
            low, likely, high = limits(offers[candidate.name])
            mean = float(sizes @ shares[:, index]) / int(sizes.sum())
            percent = 100 * often / int(sizes.sum())
            found.append(OfferChance(candidate.name, candidate.label, low, likely, high, percent, mean))
    return tuple(sorted(found, key=lambda chance: (-chance.in_mix_pct, -chance.mean_share)))


def _farm(name: str, parts: Sequence[tuple[Drawn, float]]) -> FarmRisk:
    best = sum((fed * each.best for each, fed in parts), np.zeros_like(parts[0][0].best))
    steady = sum((fed * each.steady for each, fed in parts), np.zeros_like(parts[0][0].steady))
    purchase: dict[str, float] = {}
    for each, fed in parts:
        for candidate in each.case.formula.candidates:
            share = each.risk.steady_mix.get(candidate.name)
            if share and not candidate.feed.startswith("bin:"):
                purchase[candidate.name] = purchase.get(candidate.name, 0.0) + fed * share
    return FarmRisk(
        bin=name,
        draws=len(best),
        tonnes=sum(fed for _, fed in parts),
        mean=float(best.mean()),
        sd=float(best.std()),
        percentiles={f"p{p}": float(np.percentile(best, p)) for p in PERCENTILES},
        within_pct=WITHIN_PCT,
        good_pct=100 * float((steady <= best * (1 + WITHIN_PCT / 100) + 1e-9).mean()),
        purchase=dict(sorted(purchase.items(), key=lambda item: largest_first(item[1]))),
    )
