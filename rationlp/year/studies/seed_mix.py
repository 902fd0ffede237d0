"""Next season's seed mix: shares of the land that make the bin nearest to what the animals of the year need.

The year is planned with one bin of what the shares would yield, in place of today's. A mix is better where less is to
be bought and mixed, once the seed is paid: what the herd eats of the grain is worth what it spares. What it does not
eat is counted at what today's bins bring on the farm, whatever its crops: nothing is known of the price of each crop.
The land is that which grew today's bins.
Better shares are looked for by moving land from crop to crop in ever smaller parts; how often is limited by a number
of plans, never by a clock, so that the answer is the same everywhere; it is a good mix, not a proved best one.

Yields beside each other: `beside_others` of the book, yield in the mix over yield alone on the same land. Summed over
the shares it is the land equivalent ratio (memory: R. Mead, R. W. Willey, The concept of a "land equivalent ratio" and
advantages in yields from intercropping, Experimental Agriculture 16, 1980). Nothing is known here of rotation, disease,
lodging or ripening together: an agronomist and the local rules decide.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from rationlp.book.records import Crop, Offer, Place
from rationlp.errors import Problem, RequestError
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate, offer_candidates
from rationlp.feeds.spread import Spread
from rationlp.herd.moves import Fed, fed_animals
from rationlp.herd.season import Season, season_of
from rationlp.numbers import Floats
from rationlp.year.program.kitchen import KG_PER_TONNE
from rationlp.year.program.master import Master
from rationlp.year.program.search import search_of
from rationlp.year.program.supplies import Supply, supplies_of

STEPS = (0.2, 0.1, 0.05)
"""Parts of the land that are moved from one crop to another, the large ones first."""
MOST_PLANS = 60
DRAWS = 10
MAIN = 0.04
"""Stages that eat less of the feed than this do not decide about the field while shares are looked for."""
MOST_YIELD, NEAR = 2.0, 1 / 16
"""Times its yield, up to which a crop that is not in the mix is looked at again, and how closely."""
TRIAL = 0.05
NAME = "next"

CAUTION = (
    "This is arithmetic on your yields and this herd. Rotation, disease, ripening together and what may be sown are "
    "for an agronomist and your local rules to decide."
)


def land_equivalent_ratio(mixed: Mapping[str, float], alone: Mapping[str, float]) -> float:
    """Land that sole crops need for what one unit of mixed land yields: the sum of yield in the mix over yield alone.

    Source (memory): Mead and Willey 1980, Experimental Agriculture 16.
    """
    return sum(mixed[crop] / alone[crop] for crop in mixed)


@dataclass(frozen=True, slots=True)
class SownShare:
    """A crop of the mix: share of the land, of the seed and of the harvest (0 to 1), hectares, kilograms of seed."""

    crop: str
    share: float
    seed_share: float
    harvest_share: float
    hectares: float
    seed_kg: float
    today: float  # share of the land that grew today's bins


@dataclass(frozen=True, slots=True)
class SeedMix:
    """Shares for next season; the gain is over today's shares, per hectare, with the seed paid.

    `gains` are the same in draws of the yields; `comes_in` says at how many times its yield a crop at its least share
    would pay for more land, within NEAR, None beyond what was looked at. `left_tonnes` of the harvest nobody eats; they
    are counted at `price_per_tonne`. `unfed` are groups that its grain, or that of today's shares, cannot feed: then
    the gain counts what they lack far above any feed.
    """

    crops: tuple[SownShare, ...]
    hectares: float
    gain_per_hectare: float
    gains: tuple[float, ...]
    land_equivalent_ratio: float
    comes_in: tuple[tuple[str, float | None], ...]
    harvest_tonnes: float
    left_tonnes: float
    price_per_tonne: float
    unfed: tuple[str, ...] = ()

    @property
    def sure(self) -> float:
        """The part of the draws in which the mix gains over today's."""
        return sum(gain > 0 for gain in self.gains) / len(self.gains)


@dataclass(slots=True)
class _Field:
    """Land, crops and the year that is fed from it; money is per year, lower is better."""

    farm: Farm
    season: Season
    animals: tuple[Fed, ...]
    main: tuple[Fed, ...]
    offers: tuple[Supply, ...]
    crops: tuple[Crop, ...]
    candidates: Mapping[str, Candidate]
    price_per_tonne: float
    hectares: float
    plans: int = 0
    known: dict[tuple[float, ...], float] = field(default_factory=dict)

    def money(self, shares: Sequence[float], times: Sequence[float] | None = None, whole: bool = False) -> float:
        """The year's feed, less what the whole harvest would bring, and the seed; yields `times` those of the book."""
        times = times or [1.0] * len(self.crops)
        key = (*shares, *times, float(whole))
        if key not in self.known:
            self.plans += 1
            harvest = self.harvest(shares, times)
            seed = sum(
                self.hectares * share * crop.seed_kg_per_ha * crop.seed_price_per_tonne / KG_PER_TONNE
                for share, crop in zip(shares, self.crops, strict=True)
            )
            fed = self.fed_from(harvest, self.animals if whole else self.main).answer.cost
            self.known[key] = fed - self.price_per_tonne * sum(harvest) + seed
        return self.known[key]

    def harvest(self, shares: Sequence[float], times: Sequence[float] | None = None) -> list[float]:
        """Tonnes of each crop; yields `times` those of the book."""
        times = times or [1.0] * len(self.crops)
        return [
            self.hectares * share * crop.yield_kg_per_ha * crop.beside_others * many / KG_PER_TONNE
            for share, crop, many in zip(shares, self.crops, times, strict=True)
        ]

    def fed_from(self, harvest: Sequence[float], animals: Sequence[Fed]) -> Master:
        """The year of these animals with this grain, tonnes by crop, in one bin."""
        total = sum(harvest)
        blend = {crop.crop: tonnes / total for crop, tonnes in zip(self.crops, harvest, strict=True) if tonnes}
        candidate = blended(blend, self.candidates, self.price_per_tonne)
        last = self.season.days - 1
        bin_ = Supply(candidate, True, self.price_per_tonne, total, total, 0.0, 0, last)
        search = search_of(self.farm, self.season, animals, [bin_, *self.offers])
        search.converge()
        return search.master


def seed_mix(farm: Farm, seed: int = 1) -> SeedMix:
    """A better seed mix for this herd on the land of today's bins. Raises RequestError, BookError, SolverError."""
    ground = _field(farm)
    today = _today(farm, ground.crops)
    start = _within(today, ground.crops)
    best = _searched(ground, start)
    gain = (ground.money(today, whole=True) - ground.money(best, whole=True)) / ground.hectares
    rng = np.random.default_rng(seed)
    draws = [_drawn(ground.crops, rng) for _ in range(DRAWS)]
    gains = tuple((ground.money(today, times) - ground.money(best, times)) / ground.hectares for times in draws)
    least = [i for i, crop in enumerate(ground.crops) if best[i] <= crop.min_share]
    mixed = {c.crop: share * c.yield_kg_per_ha * c.beside_others for c, share in zip(ground.crops, best, strict=True)}
    alone = {crop.crop: crop.yield_kg_per_ha for crop in ground.crops}
    harvest = ground.harvest(best)
    fed, before = ground.fed_from(harvest, ground.animals), ground.fed_from(ground.harvest(today), ground.animals)
    return SeedMix(
        _sown(ground, best, today),
        ground.hectares,
        gain,
        gains,
        land_equivalent_ratio(mixed, alone),
        tuple((ground.crops[i].crop, _comes_in(ground, best, i)) for i in least),
        sum(harvest),
        max(sum(harvest) - sum(p.tonnes * dict(p.mix.shares).get(NAME, 0.0) for p in fed.portions()), 0.0),
        ground.price_per_tonne,
        tuple(dict.fromkeys(demand.fed.group for demand, _ in (*fed.unfed(), *before.unfed()))),
    )


def _field(farm: Farm) -> _Field:
    crops = farm.book.crops
    if len(crops) < 2:
        found, do = f"{len(crops)} crops on the sheet crops", "Fill in what could be sown, with its yield."
        raise RequestError([Problem("error", "seed_mix", "", found, "at least two crops", do)])
    season = season_of(farm.book)
    supplies = supplies_of(farm, season)
    bins = [s for s in supplies if s.is_bin]
    if not bins:
        found, do = "no bins", "Enter the bins of this season: their grain says how much land there is."
        raise RequestError([Problem("error", "seed_mix", "", found, "at least one bin", do)])
    offers = tuple(replace(s, first=0, last=season.days - 1) for s in supplies if not s.is_bin)
    tonnes = sum(s.mean_tonnes or 0.0 for s in bins)
    price = sum((s.mean_tonnes or 0.0) * s.price_per_tonne for s in bins) / tonnes
    made = offer_candidates(
        replace(farm.book, supplements=tuple(Offer(Place(), row.crop, row.crop, home_grown=True) for row in crops)),
        farm.library,
    )
    animals = tuple(fed_animals(farm.book, season))
    hectares = sum(_grown(farm, crops))
    candidates = {row.crop: candidate for row, candidate in zip(crops, made, strict=True)}
    return _Field(farm, season, animals, _main(animals), offers, crops, candidates, price, hectares)


def _main(animals: Sequence[Fed]) -> tuple[Fed, ...]:
    """Those with many head-days; the smallest groups decide nothing about a field."""
    whole = sum(fed.head_days for fed in animals)
    return tuple(fed for fed in animals if fed.head_days >= MAIN * whole) or tuple(animals)


def _grown(farm: Farm, crops: Sequence[Crop]) -> list[float]:
    """Hectares of each crop that grew what lies in today's bins."""
    grown = dict.fromkeys((row.crop for row in crops), 0.0)
    for bin_ in farm.bins():
        for crop in bin_.crops:
            if crop.crop in grown:
                grown[crop.crop] += (bin_.tonnes or 0.0) * crop.share
    return [grown[row.crop] * KG_PER_TONNE / (row.yield_kg_per_ha * row.beside_others) for row in crops]


def _today(farm: Farm, crops: Sequence[Crop]) -> tuple[float, ...]:
    """Shares of the land that grew today's bins. Raises RequestError where none of the crops is in them."""
    grown = _grown(farm, crops)
    if not sum(grown):
        found, do = "none of the crops is in a bin", "Add the crops of today's bins to the sheet crops."
        raise RequestError([Problem("error", "seed_mix", "", found, "a crop that was grown", do)])
    return tuple(area / sum(grown) for area in grown)


def _within(shares: Sequence[float], crops: Sequence[Crop]) -> tuple[float, ...]:
    """The shares brought within the bounds of the book, what is over or missing spread over the room there is."""
    held = [min(max(share, crop.min_share), crop.max_share) for share, crop in zip(shares, crops, strict=True)]
    missing = 1 - sum(held)
    room = [crop.max_share - h if missing > 0 else h - crop.min_share for h, crop in zip(held, crops, strict=True)]
    whole = sum(room)
    return tuple(h + missing * r / whole for h, r in zip(held, room, strict=True)) if whole else tuple(held)


def _searched(ground: _Field, start: tuple[float, ...]) -> tuple[float, ...]:
    """Move land from crop to crop while that saves money."""
    best, crops = start, ground.crops
    for step in STEPS:
        better = True
        while better and ground.plans < MOST_PLANS:
            better = False
            for i in range(len(crops)):
                for j in range(len(crops)):
                    part = min(step, best[i] - crops[i].min_share, crops[j].max_share - best[j])
                    if i == j or part < step / 2 or ground.plans >= MOST_PLANS:
                        continue
                    moved = tuple(s + part * ((k == j) - (k == i)) for k, s in enumerate(best))
                    if ground.money(moved) < ground.money(best) - 1e-6:
                        best, better = moved, True
    return best


def _comes_in(ground: _Field, best: Sequence[float], place: int) -> float | None:
    """At how many times its yield a crop that is at its least share would pay for some land."""
    largest = max(range(len(best)), key=lambda i: best[i] - ground.crops[i].min_share)
    part = min(TRIAL, best[largest] - ground.crops[largest].min_share)
    moved = [s + part * ((k == place) - (k == largest)) for k, s in enumerate(best)]

    def pays(many: float) -> bool:
        times = [many if k == place else 1.0 for k in range(len(best))]
        return ground.money(moved, times) < ground.money(tuple(best), times) - 1e-6

    if not pays(MOST_YIELD):
        return None
    low, high = 1.0, MOST_YIELD
    while high - low > NEAR:
        middle = (low + high) / 2
        low, high = (low, middle) if pays(middle) else (middle, high)
    return high


def _drawn(crops: Sequence[Crop], rng: np.random.Generator) -> list[float]:
    """Yields of a year over those expected, each from the triangle of its low, expected and high."""
    found = []
    for crop in crops:
        low = (crop.yield_low_kg_per_ha or crop.yield_kg_per_ha) / crop.yield_kg_per_ha
        high = (crop.yield_high_kg_per_ha or crop.yield_kg_per_ha) / crop.yield_kg_per_ha
        found.append(float(rng.triangular(low, 1.0, high)) if low < high else 1.0)
    return found


def _sown(ground: _Field, best: Sequence[float], today: Sequence[float]) -> tuple[SownShare, ...]:
    seeds = [share * crop.seed_kg_per_ha for share, crop in zip(best, ground.crops, strict=True)]
    grown = [s * crop.yield_kg_per_ha * crop.beside_others for s, crop in zip(best, ground.crops, strict=True)]
    return tuple(
        SownShare(
            crop.crop,
            share,
            seed / sum(seeds) if sum(seeds) else 0.0,
            harvest / sum(grown),
            ground.hectares * share,
            ground.hectares * seed,
            before,
        )
        for crop, share, seed, harvest, before in zip(ground.crops, best, seeds, grown, today, strict=True)
    )


@dataclass(frozen=True, slots=True)
class _BlendSpread(Spread):
    """The spread of a blend of crops whose lots differ independently of each other."""

    parts: tuple[tuple[float, Spread], ...]

    def covariance_of(self, first: str, second: str) -> float:
        return sum(share**2 * spread.covariance_of(first, second) for share, spread in self.parts)

    def matrix(self, names: tuple[str, ...]) -> Floats:
        found: Floats = np.sum([share**2 * spread.matrix(names) for share, spread in self.parts], axis=0)
        return found


def blended(shares: Mapping[str, float], candidates: Mapping[str, Candidate], price_per_tonne: float) -> Candidate:
    """Grain of these crops (shares of the harvest, 0 to 1) as something to feed, by their figures alone."""
    parts = [(share, candidates[crop]) for crop, share in shares.items()]
    known = set.intersection(*(set(candidate.values) for _, candidate in parts))
    first = parts[0][1]
    return replace(
        first,
        name=NAME,
        feed=f"bin:{NAME}",
        label="Next season's grain",
        group="bin",
        price_per_tonne=price_per_tonne,
        values={nutrient: sum(share * c.values[nutrient] for share, c in parts) for nutrient in known},
        feeds=dict(shares),
        spread=_BlendSpread(tuple((share, candidate.spread) for share, candidate in parts)),
        reasons=(),
    )
