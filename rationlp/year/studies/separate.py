"""What it is worth to take the crops of a bin apart: the year with its crops by themselves, against the year as it is.

The grain stays what it is: the crops together have the composition of the bin. A separated crop is not pure and some of
it is lost (PURITY, LOST: common practice of cleaning plants, no publication; ask the cleaner for his own). What is
lost is missed at what the grain brings on the farm; what the crops would bring if sold apart is not counted. They are
as organic as the bin: grain of the farm's own, which its certificate covers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rationlp.book.columns import FOREIGN_MATTER
from rationlp.book.records import Offer, Place
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate, offer_candidates
from rationlp.herd.moves import fed_animals
from rationlp.herd.season import Season, season_of
from rationlp.year.program.search import search_of
from rationlp.year.program.supplies import Supply, supplies_of

PURITY, LOST = 0.95, 0.02
LEAST_SHARE = 0.02
"""A crop of less of the bin is not worth a pass through the cleaner."""


@dataclass(frozen=True, slots=True)
class Separated:
    """Crops taken out of a bin; worth per tonne that goes through the cleaner, after the cost of cleaning."""

    bin: str
    crops: tuple[str, ...]
    tonnes: float
    worth_per_tonne: float
    cleaning_cost: float


def worth_of_separating(farm: Farm, bins: Sequence[str] = (), home_grown: float = 0.0) -> list[Separated]:
    """For each bin all crops apart, then each by itself. Raises BookError, RequestError, SolverError."""
    season = season_of(farm.book)
    supplies = supplies_of(farm, season, bins)
    today = _cost(farm, season, supplies, home_grown)
    found = []
    for bin_ in (s for s in supplies if s.is_bin and s.tonnes):
        others, whole = [s for s in supplies if s is not bin_], bin_.tonnes or 0.0
        for crops, cleaning, made in _ways(farm, bin_):
            lost = whole - sum(s.tonnes or 0.0 for s in made)
            saved = today - _cost(farm, season, [*others, *made], home_grown)
            worth = (saved - cleaning - lost * bin_.price_per_tonne) / whole
            found.append(Separated(bin_.name, crops, whole, worth, cleaning))
    return found


def _cost(farm: Farm, season: Season, supplies: Sequence[Supply], home_grown: float) -> float:
    """What the year costs with any number of mixes."""
    search = search_of(farm, season, fed_animals(farm.book, season), supplies, home_grown)
    search.converge()
    return search.master.answer.cost


def _ways(farm: Farm, bin_: Supply) -> Iterator[tuple[tuple[str, ...], float, list[Supply]]]:
    """What is taken out, what cleaning it costs, and what there is then in place of the bin; none of a single crop."""
    streams = crop_streams(farm, bin_)
    if len(streams) < 2:
        return
    costs = {crop: _cleaning(farm, crop) * (stream.tonnes or 0.0) for crop, stream in streams.items()}
    yield tuple(streams), sum(costs.values()), list(streams.values())
    for crop, stream in streams.items():
        yield (crop,), costs[crop], [stream, without_crop(bin_, stream, crop)]


def _cleaning(farm: Farm, crop: str) -> float:
    return next((row.cleaning_cost_per_tonne for row in farm.book.crops if row.crop == crop), 0.0)


def crop_streams(farm: Farm, bin_: Supply) -> dict[str, Supply]:
    """The crops of a bin apart, so that together they are the bin: each carries what the bin is beside its tables."""
    held = bin_.candidate
    crops = {crop: share for crop, share in held.feeds.items() if share >= LEAST_SHARE and crop != FOREIGN_MATTER}
    offers = tuple(Offer(Place(), f"{held.name}: {crop}", crop, home_grown=True, organic=True) for crop in crops)
    made = offer_candidates(replace(farm.book, supplements=offers), farm.library)
    figures = dict(zip(crops, made, strict=True))
    whole = sum(crops.values())
    found = {}
    for crop, candidate in figures.items():
        values = {}
        for nutrient, value in candidate.values.items():
            if nutrient not in held.values or any(nutrient not in other.values for other in figures.values()):
                continue
            mean = sum(crops[other] * figures[other].values[nutrient] for other in crops) / whole
            apart = max(value + held.values[nutrient] - mean, 0.0)
            values[nutrient] = PURITY * apart + (1 - PURITY) * held.values[nutrient]
        stream = replace(
            candidate,
            price_per_tonne=held.price_per_tonne,
            values=values,
            feeds=_purity(crop, held),
            contaminants=held.contaminants,
            reasons=held.reasons,
        )
        tonnes = (bin_.tonnes or 0.0) * crops[crop] / whole * (1 - LOST)
        found[crop] = replace(bin_, candidate=stream, is_bin=False, tonnes=tonnes, mean_tonnes=tonnes)
    return found


def _purity(crop: str, held: Candidate) -> dict[str, float]:
    """The crop, and what of the bin comes along with it."""
    feeds = {other: (1 - PURITY) * share for other, share in held.feeds.items()}
    return {**feeds, crop: feeds.get(crop, 0.0) + PURITY}


def without_crop(bin_: Supply, stream: Supply, crop: str) -> Supply:
    """What is left of a bin when a stream of a crop was taken out of it."""
    held, taken = bin_.candidate, held_share(bin_, crop)
    left = 1 - taken
    values = {
        nutrient: max((value - taken * stream.candidate.values[nutrient]) / left, 0.0)
        for nutrient, value in held.values.items()
        if nutrient in stream.candidate.values
    }
    feeds = {
        other: max(share - taken * stream.candidate.feeds.get(other, 0.0), 0.0) / left
        for other, share in held.feeds.items()
    }
    rest = replace(held, name=f"{held.name} without {crop}", values=values, feeds=feeds)
    tonnes = (bin_.tonnes or 0.0) * left
    return replace(bin_, candidate=rest, is_bin=False, tonnes=tonnes, mean_tonnes=tonnes)


def held_share(bin_: Supply, crop: str) -> float:
    """Share of a bin's grain that a stream of a crop takes along, before what is lost."""
    crops = [share for name, share in bin_.candidate.feeds.items() if share >= LEAST_SHARE and name != FOREIGN_MATTER]
    return bin_.candidate.feeds[crop] / sum(crops)
