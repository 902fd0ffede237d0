"""What there is to feed: bins and offers, with their tonnes, their prices and the days on which they can be had."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from itertools import pairwise
from math import ceil

from rationlp.book.records import Offer
from rationlp.errors import BookError, Problem
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate
from rationlp.feeds.stock import Stock
from rationlp.herd.season import Season
from rationlp.rations.solve.chance import margin_multiplier
from rationlp.units import BOOK_PRICE_MASS_KG, KG_PER_TONNE
from rationlp.year.program.drawn import drawn_before
from rationlp.year.program.keeping import keeps_until

NO_PART = 4e-6
"""Of a package: a tenth of a gram of one of 25 kg."""


@dataclass(frozen=True, slots=True)
class Supply:
    """A bin or an offer. Tonnes are None where there is no end to it; `first` and `last` are days of the season.

    `tonnes` are counted on, `mean_tonnes` are the best estimate, `sd` its standard deviation. A bin's price is what its
    grain brings on the farm: the sale price less the cost of selling. `on_farm` are tonnes of an offer that were
    delivered and lie there when the plan begins. `package` are the tonnes of one package where whole ones are paid, 0
    where what is used is.
    """

    candidate: Candidate = field(repr=False)
    is_bin: bool
    price_per_tonne: float
    tonnes: float | None
    mean_tonnes: float | None
    sd: float
    first: int
    last: int
    offer: Offer | None = field(default=None, repr=False)
    on_farm: float = 0.0
    package: float = 0.0

    def packages(self, used: float) -> int:
        """The fewest whole packages with which so many tonnes of it are there, beside what lies on the farm."""
        return whole_packages(used - self.on_farm, self.package)

    def left_over(self, used: float) -> float:
        """Tonnes left over in its last package when so many are used."""
        bought = max(used - self.on_farm, 0.0)
        return self.packages(used) * self.package - bought if self.package else 0.0

    @property
    def name(self) -> str:
        """The bin or offer."""
        return self.candidate.name

    @property
    def label(self) -> str:
        """Its name for people."""
        return self.candidate.label


def whole_packages(tonnes: float, package: float) -> int:
    """The fewest packages of so many tonnes each that hold all of it; a share of one that no scale shows is none."""
    return max(ceil(tonnes / package - NO_PART), 0)


def mixing_cost_per_tonne(farm: Farm) -> float:
    """Grinding and mixing of a tonne of feed."""
    return _per_tonne(farm.settings.mixing_cost, farm)


def selling_cost_per_tonne(farm: Farm) -> float:
    """Hauling and selling of a tonne of grain."""
    return _per_tonne(farm.settings.selling_cost, farm)


def _per_tonne(cost: float | None, farm: Farm) -> float:
    """A cost of the sheet `farm`, which is for the book's mass of prices."""
    return (cost or 0.0) * KG_PER_TONNE / BOOK_PRICE_MASS_KG[farm.settings.units]


def supplies_of(farm: Farm, season: Season, bins: Sequence[str] = ()) -> list[Supply]:
    """The bins (by default all) and the offers, as much as is left of them when the plan begins.

    Raises RequestError, BookError for bins of unknown mass, InputError for a record that cannot be read.
    """
    estimates = farm.bins(bins)
    unknown = [estimate.bin for estimate in estimates if estimate.tonnes is None]
    if unknown:
        raise BookError([_unknown_mass(farm, name) for name in unknown])
    stood = drawn_before(farm, season.first).stocks
    found = [*_bins(farm, season, [estimate.bin for estimate in estimates]), *_offers(farm, season)]
    return [_left_of(supply, stood.get(supply.name)) for supply in found]


def _left_of(supply: Supply, stock: Stock | None) -> Supply:
    """A supply as it stands after what came and went; how much less than the mean is counted on stays as it was.

    Of an offer there is what lies on the farm, also where more was delivered than the book says there is to have.
    """
    if stock is None:
        return supply
    told = bool(stock.delivered_kg or stock.counts)  # else what there is to have need not lie on the farm
    supply = replace(supply, on_farm=max(stock.on_farm_kg or 0.0, 0.0) / KG_PER_TONNE if told else 0.0)
    if stock.left_kg is None or supply.tonnes is None or supply.mean_tonnes is None:
        return supply
    left = max(stock.left_kg / KG_PER_TONNE, supply.on_farm)
    counted_on = left - (supply.mean_tonnes - supply.tonnes)
    return replace(supply, tonnes=max(counted_on, 0.0), mean_tonnes=max(left, 0.0))


def _bins(farm: Farm, season: Season, names: Sequence[str]) -> Iterator[Supply]:
    selling = selling_cost_per_tonne(farm)
    confidence = farm.settings.confidence_pct / 100
    for row in (row for row in farm.book.bins if row.bin in names):
        estimate, candidate = farm.bin(row.bin), farm.bin_candidate(row.bin)
        mean, sd = estimate.tonnes or 0.0, estimate.tonnes_sd or 0.0
        keeps = keeps_until(estimate, row.filled_on, farm.library)
        first = row.opened_on or row.filled_on
        yield Supply(
            candidate,
            is_bin=True,
            price_per_tonne=max(candidate.price_per_tonne - selling, 0.0),
            tonnes=max(mean - margin_multiplier(confidence) * sd, 0.0),
            mean_tonnes=mean,
            sd=sd,
            first=max(season.place(first), 0) if first else 0,
            last=min(season.place(keeps), season.days - 1) if keeps else season.days - 1,
        )


def _offers(farm: Farm, season: Season) -> Iterator[Supply]:
    rows = {row.offer: row for row in farm.book.supplements}
    whole = farm.settings.whole_packages == "yes"
    for candidate in farm.candidates:
        offer = rows[candidate.name]
        lead = timedelta(days=offer.lead_days)
        first = season.place(offer.from_date + lead) if offer.from_date else 0
        last = season.place(offer.until_date + lead) if offer.until_date else season.days - 1
        stock = None if offer.stock_kg is None else offer.stock_kg / KG_PER_TONNE
        yield Supply(
            candidate,
            is_bin=False,
            price_per_tonne=candidate.price_per_tonne,
            tonnes=stock,
            mean_tonnes=stock,
            sd=0.0,
            first=max(first, 0),
            last=min(last, season.days - 1),
            offer=offer,
            package=(offer.package_kg or 0.0) / KG_PER_TONNE if whole and candidate.price_per_tonne else 0.0,
        )


def windows_of(supplies: Sequence[Supply], season: Season) -> list[range]:
    """The stretches of days between which something can be had anew or no more."""
    breaks = {0, season.days}
    for supply in supplies:
        breaks |= {min(max(day, 0), season.days) for day in (supply.first, supply.last + 1)}
    days = sorted(breaks)
    return [range(first, after) for first, after in pairwise(days)]


def had_in(window: range, supplies: Sequence[Supply]) -> frozenset[str]:
    """The names of what can be had on every day of a window: nothing of which there is none."""
    there = (s for s in supplies if s.tonnes is None or s.tonnes > 0)
    return frozenset(s.name for s in there if s.first <= window[0] and s.last >= window[-1])


def _unknown_mass(farm: Farm, name: str) -> Problem:
    place = next(row.place for row in farm.book.bins if row.bin == name)
    expected = "the mass, or diameter (or length and width), wall_depth, peak_height and test_weight"
    do = "Weigh or measure the bin: a year cannot be planned on grain that nobody has counted."
    return Problem("error", "bins", place.cell("mass"), f"no tonnes known of the bin {name!r}", expected, do)
