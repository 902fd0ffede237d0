"""Prices that nobody knows for sure: many draws, the cost they lead to, and a purchase that is good in most of them.

An offer with a low, a likely and a high price is drawn from the triangle between them; others stay at their price.
Offers move apart from each other, or partly together (`together`, the correlation of a Gaussian copula: market
prices of feeds rise and fall with each other). The same draws go through all rations, so that the farm's cost adds up.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from statistics import NormalDist

import numpy as np

from rationlp.book.records import Book, Offer
from rationlp.errors import InputError, Problem
from rationlp.offers.live_ration import LiveRation, in_mix
from rationlp.offers.model import FarmRisk, OfferChance, PriceRisk
from rationlp.offers.purchases import tonnes_fed

WITHIN_PCT = 1.0
"""A mix is good in a draw if it costs at most so much more than the best mix of that draw."""
PERCENTILES = (5, 25, 50, 75, 95)


def price_draws(book: Book, count: int, seed: int = 1, together: float = 0.0) -> dict[str, np.ndarray]:
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


def _uniform(score: np.ndarray) -> np.ndarray:
    """The standard normal distribution function (tabulated finely; exact to 1e-8)."""
    at = np.linspace(-8, 8, 20001)
    return np.interp(score, at, [NormalDist().cdf(z) for z in at.tolist()])


def triangular(uniform: np.ndarray, low: float, likely: float, high: float) -> np.ndarray:
    """The quantiles of a triangular distribution (its distribution function is a square on each side of the peak)."""
    if high <= low:
        return np.full(len(uniform), likely)
    peak = (likely - low) / (high - low)
    rising = low + np.sqrt(uniform * (high - low) * (likely - low))
    falling = high - np.sqrt((1 - uniform) * (high - low) * (high - likely))
    return np.where(uniform < peak, rising, falling)


def price_risks(
    cases: Sequence[LiveRation], book: Book, drawn: dict[str, np.ndarray], done: Callable[[], None] = lambda: None
) -> tuple[list[PriceRisk], list[FarmRisk]]:
    """Every ration over the draws, and the farm by bin. `done` is called after each ration. Raises SolverError."""
    offers = {offer.offer: offer for offer in book.supplements}
    risks, parts = [], []
    tonnes = tonnes_fed(cases, book)
    for case, fed in zip(cases, tonnes, strict=True):
        if case.priced is not None:
            risk, best, steady = _risk(case, offers, drawn)
            risks.append(risk)
            parts.append((case, fed, best, steady, risk))
        done()
    bins = dict.fromkeys(case.formula.bin for case, fed, *_ in parts if fed)
    return risks, [_farm(name, [part for part in parts if part[0].formula.bin == name and part[1]]) for name in bins]


def _risk(
    case: LiveRation, offers: dict[str, Offer], drawn: dict[str, np.ndarray]
) -> tuple[PriceRisk, np.ndarray, np.ndarray]:
    """The ration over the draws; the cost per tonne of the best mix and of the steady mix in each."""
    count = len(next(iter(drawn.values())))
    prices = np.column_stack([drawn.get(c.name, np.full(count, c.price_per_tonne)) for c in case.formula.candidates])
    which = case.priced.answers(prices)
    places, sizes = np.unique(which, return_counts=True)
    corners = np.array([case.priced.corners[place].amounts for place in places])
    mixes = _distinct(np.vstack([case.held, corners]))
    costs = prices @ mixes.T * case.per_tonne
    best = np.minimum(
        (prices * np.array([case.priced.corners[i].amounts for i in which])).sum(axis=1) * case.per_tonne,
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
    return risk, best, costs[:, steady]


def _distinct(mixes: np.ndarray) -> np.ndarray:
    """Each mix once (several bases hold one mix), the first one first."""
    _, first = np.unique(np.round(mixes, 9), axis=0, return_index=True)
    return mixes[np.sort(first)]


def _shares(case: LiveRation, amounts: np.ndarray) -> dict[str, float]:
    shares = (amounts / amounts.sum()).tolist()
    return {c.name: share for c, share in zip(case.formula.candidates, shares, strict=True) if in_mix(share)}


def _chances(
    case: LiveRation, offers: dict[str, Offer], shares: np.ndarray, sizes: np.ndarray
) -> tuple[OfferChance, ...]:
    """`sizes` says in how many draws each row of `shares` is the best mix."""
    found = []
    for index, candidate in enumerate(case.formula.candidates):
        often = int(sizes @ in_mix(shares[:, index]))
        if candidate.name in offers and often:
            low, likely, high = limits(offers[candidate.name])
            mean = float(sizes @ shares[:, index]) / int(sizes.sum())
            percent = 100 * often / int(sizes.sum())
            found.append(OfferChance(candidate.name, candidate.label, low, likely, high, percent, mean))
    return tuple(sorted(found, key=lambda chance: (-chance.in_mix_pct, -chance.mean_share)))


def _farm(name: str, parts: list[tuple[LiveRation, float, np.ndarray, np.ndarray, PriceRisk]]) -> FarmRisk:
    best = sum(fed * costs for _, fed, costs, _, _ in parts)
    steady = sum(fed * costs for _, fed, _, costs, _ in parts)
    purchase: dict[str, float] = {}
    for case, fed, _, _, risk in parts:
        for candidate in case.formula.candidates:
            share = risk.steady_mix.get(candidate.name)
            if share and not candidate.feed.startswith("bin:"):
                purchase[candidate.name] = purchase.get(candidate.name, 0.0) + fed * share
    return FarmRisk(
        bin=name,
        draws=len(best),
        tonnes=sum(fed for _, fed, *_ in parts),
        mean=float(best.mean()),
        sd=float(best.std()),
        percentiles={f"p{p}": float(np.percentile(best, p)) for p in PERCENTILES},
        within_pct=WITHIN_PCT,
        good_pct=100 * float((steady <= best * (1 + WITHIN_PCT / 100) + 1e-9).mean()),
        purchase=dict(sorted(purchase.items(), key=lambda item: -item[1])),
    )
