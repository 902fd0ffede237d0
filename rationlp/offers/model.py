"""What is said of offers, and its money and mass in words.

Shares are 0 to 1 of the as-fed mix, prices and costs are money per metric tonne.
"""

from __future__ import annotations

from dataclasses import dataclass

from rationlp.book.records import Settings
from rationlp.units import BOOK_PRICE_MASS_KG, KG_PER_TONNE

PRICE_MASS = {"metric": "tonne", "us": "short ton"}


@dataclass(frozen=True, slots=True)
class OfferWorth:
    """One offer in one ration.

    Attributes
    ----------
    enters_below : the offer is in the mix at any price below this, all other prices as they are; None if it is in at
        any price (`indispensable`) or out at any price
    mix_stays_from, mix_stays_to : today's mix is the cheapest while the price is between these; None without end
    worth : the price that decides: where it enters if it is out, where it starts to leave if it is in
    cost_without : cost per tonne of the ration made without it; None if there is none
    cost_without_per_gcal : the same per Gcal, where the stage has an energy
    saves_per_tonne : what a tonne of today's mix saves against the feed that would take its place without the offer (as
        much energy where the ration is cheapest by energy, else as many tonnes)
    worth_used : price plus saving per tonne of the offer itself: what the tonnes in today's mix are worth on average
    gives_way_to : offers with a larger share just above `mix_stays_to`
    displaces : offers with a smaller share once it enters, or just below `mix_stays_from`
    replaced_by : (offer, gain of share) in the ration made without it, largest gain first
    """

    stage: str
    bin: str
    offer: str
    feed: str
    label: str
    price: float
    in_mix: bool
    share: float
    enters_below: float | None
    mix_stays_from: float | None
    mix_stays_to: float | None
    worth: float | None
    cost_without: float | None
    cost_without_per_gcal: float | None
    saves_per_tonne: float | None
    worth_used: float | None
    indispensable: bool
    gives_way_to: tuple[str, ...] = ()
    displaces: tuple[str, ...] = ()
    replaced_by: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class EqualMixes:
    """How far shares can go in mixes that cost the same as today's within `tolerance` (a fraction of the cost).

    `spans` are (offer, least share, share today, largest share), those that can move the most first. `nearest` is the
    mix among them that differs least from the last mix made, as (offer, share), empty if no mix was kept.
    """

    stage: str
    bin: str
    tolerance: float
    spans: tuple[tuple[str, float, float, float], ...]
    last_mix: str = ""
    nearest: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class WhatIf:
    """A feed that nobody quotes in one ration: the price below which it would be bought, and its share then."""

    feed: str
    label: str
    stage: str
    bin: str
    enters_below: float | None
    share: float | None
    displaces: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Purchase:
    """An offer over all groups of the book, fed from one bin (or bins together).

    `tonnes` to buy and `cost` at today's price; `at_stake` is the money that the groups' feed would cost more without
    it, over the days the book gives them, None if some ration cannot be made without it (`needed_by`). `second_best`
    are (offer, tonnes more) in the rations made without it. `enters_below` is the highest price at which it would come
    into any ration, for an offer that is in none.
    """

    bin: str
    offer: str
    label: str
    price: float
    tonnes: float
    cost: float
    at_stake: float | None
    needed_by: tuple[str, ...]
    second_best: tuple[tuple[str, float], ...]
    stays_from: float | None
    stays_to: float | None
    enters_below: float | None
    enters_in: str
    packages: int | None
    stock_tonnes: float | None


@dataclass(frozen=True, slots=True)
class Quote:
    """One of several offers that are compared per unit of what they bring.

    `per_unit` is money per kilogram (per Mcal for energy) by nutrient; `worth_low`, `worth_high` the prices below which
    it is used, over the rations that could use it, the other quotes staying on offer.
    """

    offer: str
    feed: str
    label: str
    supplier: str
    price: float
    freight: float
    package_kg: float | None
    organic: bool | None
    dry_matter_pct: float | None
    crude_protein_pct: float | None
    per_unit: dict[str, float]
    worth_low: float | None
    worth_high: float | None
    used_in: int
    rations: int


@dataclass(frozen=True, slots=True)
class Comparison:
    """Quotes for one feed (or those named), the best buy first, and in a sentence why."""

    feed: str
    quotes: tuple[Quote, ...]
    verdict: str


@dataclass(frozen=True, slots=True)
class GrainWorth:
    """Bin grain in one ration. `worth` is what the grain in today's mix is worth as feed per tonne of it, on average;
    `leaves_at` the price at which the mix would hold less of it, `enters_below` that at which it would hold any."""

    bin: str
    stage: str
    share: float
    sale_price: float | None
    worth: float | None
    leaves_at: float | None
    enters_below: float | None
    indispensable: bool
    verdict: str


@dataclass(frozen=True, slots=True)
class GrainPlan:
    """What to do with the grain of one bin, over all groups of the book and all bins.

    Tonnes: in the bin, to feed to groups that eat from the first day of the book's groups on, to hold for groups that
    come later, and left over. `last_tonne_worth` is what one tonne more in it would save as feed, or bring if sold.
    """

    bin: str
    tonnes: float | None
    feed: float
    hold: float
    sell: float | None
    sale_price: float | None
    last_tonne_worth: float | None
    verdict: str


@dataclass(frozen=True, slots=True)
class Piece:
    """Prices between which one mix is the cheapest, and its cost at both ends, in the unit of the sweep's objective."""

    price_from: float
    price_to: float
    cost_from: float
    cost_to: float
    share: float
    mix: dict[str, float]


@dataclass(frozen=True, slots=True)
class SweepPoint:
    """One price of a sweep. `piece` is the place of its mix in the sweep's pieces."""

    price: float
    cost_per_tonne: float
    cost_per_gcal: float | None
    share: float
    piece: int


@dataclass(frozen=True, slots=True)
class Sweep:
    """One ration against the price of one offer, others as they are (`other` and `other_price` for a row of a grid).

    `objective` is per_tonne or per_energy: what is least at every price, so that only this cost has no jumps.
    """

    stage: str
    bin: str
    offer: str
    objective: str
    points: tuple[SweepPoint, ...]
    pieces: tuple[Piece, ...]
    breakpoints: tuple[float, ...]
    other: str | None = None
    other_price: float | None = None


@dataclass(frozen=True, slots=True)
class OfferChance:
    """An offer over the draws: how often it is in the mix, its average share, the prices it was drawn from."""

    offer: str
    label: str
    price_low: float
    price: float
    price_high: float
    in_mix_pct: float
    mean_share: float


@dataclass(frozen=True, slots=True)
class PriceRisk:
    """The cost of one ration over the draws, and the one mix that is good in most of them.

    Costs per tonne of today's energy (per tonne where the ration is cheapest per tonne). `good_pct` is the part of the
    draws in which `steady_mix` costs at most `within_pct` percent more than the best mix of that draw.
    """

    stage: str
    bin: str
    draws: int
    mean: float
    sd: float
    percentiles: dict[str, float]
    offers: tuple[OfferChance, ...]
    mixes: int
    within_pct: float
    good_pct: float
    steady_cost: float
    steady_mix: dict[str, float]
    today_good_pct: float


@dataclass(frozen=True, slots=True)
class FarmRisk:
    """All groups fed from one bin: the cost of their feed over the draws, and a purchase that is good in most of them.

    `purchase` is tonnes by offer if every ration keeps its steady mix.
    """

    bin: str
    draws: int
    tonnes: float
    mean: float
    sd: float
    percentiles: dict[str, float]
    within_pct: float
    good_pct: float
    purchase: dict[str, float]


def price_words(per_tonne: float, farm: Settings) -> str:
    """Money per tonne as money for the mass that the book's prices are for: `369.93`."""
    return f"{per_tonne * BOOK_PRICE_MASS_KG[farm.units] / KG_PER_TONNE:,.2f}"


def price_a(per_tonne: float, farm: Settings) -> str:
    """The same with the mass: `369.93 a tonne`."""
    return f"{price_words(per_tonne, farm)} a {PRICE_MASS[farm.units]}"
