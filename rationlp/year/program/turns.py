"""Bins opened one after another, where the farm cannot draw from two: the order, and the day of each change.

A bin is there from the day it is opened to the day the next one is; with these days known the year is planned as ever.
The days are sought by moving each change to and fro, by weeks first and by days in the end, as long as that makes the
year cheaper. That is a search, not a proof: what the year costs with all bins open bounds it from below.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise, permutations

from rationlp.farm import Farm
from rationlp.herd.moves import Fed
from rationlp.herd.season import Season
from rationlp.year.program.kitchen import FoundMix, Kitchen
from rationlp.year.program.search import KitchenKey, Search, search_of
from rationlp.year.program.supplies import Supply

STEPS = (28, 7, 2, 1)
"""Days by which a change is moved."""
PLANS = 48
"""So many plans are looked at, at most: a limit by work."""
EVERY_ORDER = 3
"""Of so many bins every order is looked at; of more the one in which they keep."""
CHEAPER = 1e-7


@dataclass(slots=True)
class Turns:
    """The year asked for its cost with other days of change; rations and mixes are kept from one to the next."""

    farm: Farm
    season: Season
    animals: Sequence[Fed]
    supplies: Sequence[Supply]
    home_grown: float
    plans: int = 0
    kitchens: dict[KitchenKey, Kitchen] = field(default_factory=dict)
    mixes: list[FoundMix] = field(default_factory=list)

    def plan(self, supplies: Sequence[Supply]) -> Search:
        """The cheapest year of any number of mixes from these supplies."""
        search = search_of(self.farm, self.season, self.animals, supplies, self.home_grown)
        search.kitchens = self.kitchens
        for mix in self.mixes:
            search.add(mix)
        search.converge()
        self.mixes = list(search.master.mixes)
        self.plans += 1
        return search

    def cost(self, order: Sequence[str], changes: Sequence[int]) -> float:
        """What the year costs with the bins in this order and these days of change."""
        return self.plan(opened_in_turn(self.supplies, order, changes)).master.answer.cost


def in_turn(
    farm: Farm, season: Season, animals: Sequence[Fed], supplies: Sequence[Supply], home_grown: float = 0.0
) -> tuple[list[Supply], float]:
    """The supplies with the days on which each bin is open, and a cost that no plan goes below. Raises SolverError."""
    bins = [s for s in supplies if s.is_bin and s.tonnes]
    asked = Turns(farm, season, animals, supplies, home_grown)
    bound = asked.plan(supplies).bound
    if len(bins) < 2:
        return list(supplies), bound
    _, order, changes = min(
        (asked.cost(order, changes), order, changes)
        for order in _orders(bins)
        for changes in [_first_changes(order, bins, season)]
    )
    best = asked.cost(order, changes)
    for step in STEPS:
        better = True
        while better and asked.plans < PLANS:
            better = False
            for moved in _moved(changes, step, season.days):
                cost = asked.cost(order, moved)
                if cost < best * (1 - CHEAPER):
                    best, changes, better = cost, moved, True
                    break
    return opened_in_turn(supplies, order, changes), bound


def opened_in_turn(supplies: Sequence[Supply], order: Sequence[str], changes: Sequence[int]) -> list[Supply]:
    """The supplies, each bin there from its change to the next one alone; a bin out of the order is not there."""
    days = dict(zip(order, pairwise([0, *changes, max(s.last for s in supplies) + 1]), strict=True))
    found = []
    for supply in supplies:
        first, after = days.get(supply.name, (0, 0))
        if supply.is_bin:
            supply = replace(supply, first=max(supply.first, first), last=min(supply.last, after - 1))
        found.append(supply)
    return found


def _orders(bins: Sequence[Supply]) -> Iterator[tuple[str, ...]]:
    kept = sorted(bins, key=lambda s: (s.last, s.first, s.name))
    yield from permutations([s.name for s in kept]) if len(bins) <= EVERY_ORDER else [tuple(s.name for s in kept)]


def _first_changes(order: Sequence[str], bins: Sequence[Supply], season: Season) -> tuple[int, ...]:
    """Days of change that give each bin a part of the year like its part of the grain."""
    tonnes = {s.name: s.tonnes or 0.0 for s in bins}
    whole, passed, found = sum(tonnes.values()), 0.0, []
    for name in order[:-1]:
        passed += tonnes[name]
        found.append(round(season.days * passed / whole))
    return tuple(found)


def _moved(changes: tuple[int, ...], step: int, days: int) -> Iterator[tuple[int, ...]]:
    """Every change moved to and fro by so many days, in the order of the bins still."""
    for place in range(len(changes)):
        for by in (step, -step):
            moved = list(changes)
            moved[place] += by
            if moved == sorted(moved) and moved[0] >= 0 and moved[-1] <= days:
                yield tuple(moved)
