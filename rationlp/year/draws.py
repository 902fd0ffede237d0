"""What prices, yields, bins and losses may do to the year: its mixes, shared out anew in each draw.

Prices are drawn from the triangle of price_low, price and price_high, the tonnes in a bin from their normal, its energy
from the spread of its estimate (of a leaner bin more is eaten), the losses of a step of the herd from the binomial of
its head. A bin that is filled after the plan begins holds what the field gives: its tonnes also go with the yields of
its crops, each from the triangle of yield_low, yield and yield_high of the sheet crops. The same seed draws the same
years.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from rationlp.book.records import Book, Crop
from rationlp.herd.moves import fed_animals
from rationlp.numbers import Floats
from rationlp.year.days import by_day, runs_out_on, used_of
from rationlp.year.model import DrawnBin, Draws, Year
from rationlp.year.program.demands import with_reserve
from rationlp.year.program.kitchen import FoundMix
from rationlp.year.program.master import Demand, Master
from rationlp.year.program.search import Search
from rationlp.year.program.supplies import Supply

LEAST_ENERGY = 0.5
"""Times the energy that was thought: a mix has no less, however wide the spread."""
LOW, HIGH = 10, 90
"""Percent of the draws that lie below the two ends of a range."""


def draw_years(year: Year, count: int, seed: int = 1) -> Draws:
    """The year in so many draws, only amounts and purchases adjusted; the plan stays as it was.

    Of a plan of few mixes its own are fed, of one of any number every mix that was found for it and may be fed.

    Raises SolverError.
    """
    search, rng = year.search, np.random.default_rng(seed)
    costs, emptied = [], {s.name: list[int]() for s in search.supplies if s.is_bin}
    lost, planned, barred = 0, search.allowed, dict(search.barred)
    packages = search.master.packages
    if packages is not None:
        search.allow(None if year.few.cost_of_any is None else planned)
    for _ in range(count):
        tonnes = _draw(search, rng)
        search.run_without_stops()
        if search.master.unfed():
            lost += 1
            continue
        costs.append(search.master.answer.cost + sum(search.master.left_over().values()))
        days = by_day(search.master.portions(), search.master.supplies, search.season)
        for name, found in emptied.items():
            on = runs_out_on(used_of(name, days, search.season), tonnes[name], search.season)
            found.append(search.season.days if on is None else search.season.place(on))
    search.barred = barred
    search.allow(planned, packages)
    _as_it_was(search.master, search.supplies)
    low, middle, high = _range(costs) if costs else (None, None, None)
    bins = tuple(_bin(name, found, search) for name, found in emptied.items())
    return Draws(count, seed, 1 - lost / count, low, middle, high, bins)


def _range(costs: list[float]) -> tuple[float, float, float]:
    low, middle, high = np.percentile(costs, [LOW, 50, HIGH])
    return float(low), float(middle), float(high)


def _bin(name: str, found: list[int], search: Search) -> DrawnBin:
    if not found:
        return DrawnBin(name, None, None, None)
    places = np.percentile(found, [LOW, 50, HIGH], method="nearest")
    days = [search.season.day(int(p)) if p < search.season.days else None for p in places]
    return DrawnBin(name, days[0], days[1], days[2])


def _draw(search: Search, rng: np.random.Generator) -> Mapping[str, float]:
    """Put a draw into the master; the tonnes drawn of each bin."""
    master, tonnes, off = search.master, {}, {}
    prices = {s.name: _price(s, rng) for s in search.supplies}
    master.reprice(prices)
    for name in master.limited:
        master.set_tonnes(name, master.supplies[name].mean_tonnes or 0.0)
    yields = {row.crop: _yield(row, rng) for row in search.farm.book.crops}
    for supply in (s for s in search.supplies if s.is_bin):
        grown = _harvest(supply, yields) if supply.first > 0 and _is_filled_later(supply, search) else 1.0
        tonnes[supply.name] = max(grown * float(rng.normal(supply.mean_tonnes or 0.0, supply.sd)), 0.0)
        off[supply.name] = float(rng.normal())
        if supply.name in master.limited:
            master.set_tonnes(supply.name, tonnes[supply.name])
    master.set_energy(lambda demand, mix: _energy(search, demand, mix, off))
    losses = dict(_losses(search.farm.book, rng))
    if losses:
        drawn_animals = fed_animals(search.farm.book, search.season, losses)
        head = {fed.group: fed.head for fed in with_reserve(search.farm, search.season, drawn_animals)}
        for row, demand in enumerate(search.demands):
            drawn = head.get(demand.fed.group)
            master.set_needed(row, _times(demand.fed.head, drawn, demand.window))
    return tonnes


def _energy(search: Search, demand: Demand, mix: FoundMix, off: Mapping[str, float]) -> float:
    """Times the energy that the plan takes a mix to have, with the energy of each bin `off` by so many deviations."""
    energy = search.farm.stage(demand.stage).energy
    if demand.by_weight or energy is None:
        return 1.0
    supplies = search.master.supplies
    held = sum(share * supplies[name].candidate.values[energy] for name, share in mix.shares)
    more = sum(
        share * off[name] * max(supplies[name].candidate.spread.covariance_of(energy, energy), 0.0) ** 0.5
        for name, share in mix.shares
        if name in off
    )
    return float(max(1 + more / held, LEAST_ENERGY))


def _is_filled_later(supply: Supply, search: Search) -> bool:
    """Whether the grain of a bin is still in the field when the plan begins."""
    row = next(row for row in search.farm.book.bins if row.bin == supply.name)
    return row.filled_on is not None and row.filled_on > search.season.first


def _harvest(supply: Supply, yields: Mapping[str, float]) -> float:
    """Times the harvest that was thought, by the crops of the bin; 1 for crops of which no yields are known."""
    shares = supply.candidate.feeds
    return sum(share * yields.get(crop, 1.0) for crop, share in shares.items()) / (sum(shares.values()) or 1.0)


def _yield(crop: Crop, rng: np.random.Generator) -> float:
    """Times the yield that is expected of a crop."""
    thought = crop.yield_kg_per_ha
    low, high = min(crop.yield_low_kg_per_ha or thought, thought), max(crop.yield_high_kg_per_ha or thought, thought)
    return float(rng.triangular(low, thought, high)) / thought if low < high else 1.0


def _times(planned: Floats, drawn: Floats | None, window: range) -> float:
    """How many times the planned head-days of a window were drawn."""
    days = slice(window[0], window[-1] + 1)
    return 0.0 if drawn is None else float(drawn[days].sum() / planned[days].sum())


def _price(supply: Supply, rng: np.random.Generator) -> float:
    price, offer = supply.price_per_tonne, supply.offer
    low = price if offer is None or offer.price_low_per_tonne is None else offer.price_low_per_tonne
    high = price if offer is None or offer.price_high_per_tonne is None else offer.price_high_per_tonne
    return float(rng.triangular(low, min(max(price, low), high), high)) if low < high else price


def _losses(book: Book, rng: np.random.Generator) -> Iterator[tuple[tuple[str, str], float]]:
    """Losses drawn for each step that has any, out of the head that arrives in its line at once."""
    head = {row.line: row.head for row in book.arrivals}
    for step in book.herd:
        if step.losses:
            many = max(head.get(step.line, 0), 10)
            yield (step.line, step.step), float(rng.binomial(many, step.losses)) / many


def _as_it_was(master: Master, supplies: tuple[Supply, ...]) -> None:
    master.reprice({s.name: s.price_per_tonne for s in supplies})
    for name in master.limited:
        master.set_tonnes(name, master.supplies[name].tonnes or 0.0)
    for row in range(len(master.demands)):
        master.set_needed(row, 1.0)
    master.set_energy(lambda demand, mix: 1.0)
    master.run()
