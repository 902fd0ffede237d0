"""Few mixes: one mix for several stages, and the choice of at most so many.

Mixes that suit several stages are found by merging stages two by two, the merger that costs least first; which of all
mixes are made is an integer program over the columns found. Where the solver proves its answer it is the cheapest of
these mixes; the cost of the year with any number of mixes bounds what others could still save.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from rationlp.errors import given
from rationlp.rations.solve.model import Answer
from rationlp.year.program.choice import BESIDE, GAP, THOROUGH, Choice, Effort, as_it_stands, bought_whole, chosen
from rationlp.year.program.kitchen import FoundMix, Kitchen, joint_cost, joint_mix
from rationlp.year.program.master import Demand
from rationlp.year.program.pooled import (
    Fare,
    better_fares,
    cheapest_fares,
    kitchens_of,
    merged,
    pooled,
    pooled_mixes,
    split_in_time,
    units_of,
)
from rationlp.year.program.search import Search

PAIRS_PER_STAGE = 2
"""So many pairs of stages for each stage have their shared mix looked at, the cheapest to merge first."""
ROUNDS = 4
"""So often the mixes chosen are made anew at the prices of their own plan."""


def add_shared_mixes(search: Search, most: int | None = None) -> None:
    """Let mixes in that serve a stage all year, and several stages, at the prices of the plan as it stands; and those
    that so many mixes, one fewer and one more are when they share what is scarce; where stages cannot be merged down to
    so many, those of the fewest that they can."""
    prices = search.master.prices().of_supply
    kitchens = list(_all_year(search))
    plain = {name: price + search.master.mixing for name, price in search.master.prices_per_tonne.items()}
    for kitchen in kitchens:
        for asked in (prices, plain):
            mix = kitchen.mix_at(asked).mix
            if mix is not None:
                search.add(mix)
    asked_of = _Mergers(search, kitchens, prices)
    levels = _merge(search, asked_of)
    if most is not None:
        reached = max(most, min(levels, default=most))
        for count in (reached, reached - 1, reached + 1):
            same = [asked_of.fare(places) for places in levels.get(count, ())]
            fewer = [asked_of.fare(places) for places in levels.get(count - 1, ())]
            for mix in pooled_mixes(search, cheapest_fares(search, [same, *split_in_time(fewer)])):
                search.add(mix)


def _all_year(search: Search) -> Iterator[Kitchen]:
    """For each stage its ration from what can be had whenever it is fed."""
    keys: dict[tuple[str, bool], frozenset[str]] = {}
    for demand in search.demands:
        key = (demand.stage, demand.by_weight)
        keys[key] = keys.get(key, demand.names) & demand.names
    for (stage, weight), names in keys.items():
        kitchen = search.kitchen((stage, weight, names))
        if kitchen is not None:
            yield kitchen


def _merge(search: Search, asked: _Mergers) -> Mapping[int, Sequence[tuple[int, ...]]]:
    """Merge sets of stages bottom-up, the cheapest merger first; let in the mix of every set on the way, and those of
    the pairs that cost least to merge. The sets by how many there were."""
    kitchens = asked.kitchens
    sets: list[tuple[int, ...]] = [(i,) for i in range(len(kitchens)) if asked.cost((i,)) is not None]
    pairs = sorted(
        (extra, (*one, *other))
        for one, other in combinations(sets, 2)
        if (extra := asked.extra(one, other)) is not None
    )
    wanted = [pair for _, pair in pairs[: PAIRS_PER_STAGE * len(kitchens)]]
    levels = {len(sets): sets}
    while len(sets) > 1:
        found = [
            (extra, one, other)
            for one, other in combinations(sets, 2)
            if (extra := asked.extra(one, other)) is not None
        ]
        if not found:
            break
        _, one, other = min(found)
        sets = [held for held in sets if held not in (one, other)] + [tuple(sorted((*one, *other)))]
        levels[len(sets)] = sets
        wanted.append(sets[-1])
    for places in dict.fromkeys(wanted):
        mix = joint_mix(_most_first(search, [kitchens[i] for i in places]), asked.prices)
        if mix is not None:
            search.add(mix)
    return levels


class _Mergers:
    """What it costs at these prices to feed sets of stages one mix, each asked once."""

    def __init__(self, search: Search, kitchens: Sequence[Kitchen], prices: Mapping[str, float]):
        self.kitchens, self.prices = kitchens, prices
        self._search = search
        self._known: dict[tuple[int, ...], tuple[FoundMix, float] | None] = {}

    def extra(self, one: tuple[int, ...], other: tuple[int, ...]) -> float | None:
        """What merging two sets costs; None where they have no mix in common."""
        joint = self.cost(tuple(sorted((*one, *other))))
        return None if joint is None else joint - (self.cost(one) or 0.0) - (self.cost(other) or 0.0)

    def cost(self, places: tuple[int, ...]) -> float | None:
        """What a set's feed of the year costs as one mix; None where it has none."""
        found = self._asked(places)
        return None if found is None else found[1]

    def fare(self, places: tuple[int, ...]) -> Fare:
        """Who eats of the mix of a set that has one."""
        mix, _ = given(self._asked(places), "a mix of the set")
        return Fare(mix, tuple((demand, demand.tonnes(mix)) for demand in self._eaters(places)))

    def _asked(self, places: tuple[int, ...]) -> tuple[FoundMix, float] | None:
        if places not in self._known:
            kitchens = _most_first(self._search, [self.kitchens[i] for i in places])
            found, self._known[places] = joint_cost(kitchens, self.prices), None
            if found is not None:
                mix = FoundMix(found[0], {k.stage.stage: (k.formula, Answer(())) for k in kitchens})
                per_tonne = sum(share * self.prices[name] for name, share in mix.shares)
                tonnes = sum(demand.tonnes(mix) for demand in self._eaters(places))
                self._known[places] = mix, per_tonne * tonnes
        return self._known[places]

    def _eaters(self, places: tuple[int, ...]) -> list[Demand]:
        stages = {(self.kitchens[i].stage.stage, self.kitchens[i].by_weight) for i in places}
        return [demand for demand in self._search.demands if (demand.stage, demand.by_weight) in stages]


def _most_first(search: Search, kitchens: Sequence[Kitchen]) -> list[Kitchen]:
    """The kitchens in the order of what their stages eat: the mix is cheapest for the first."""
    eaten: dict[str, float] = {}
    for demand in search.demands:
        eaten[demand.stage] = eaten.get(demand.stage, 0.0) + demand.units
    return sorted(kitchens, key=lambda kitchen: -eaten[kitchen.stage.stage])


def choose_enough(search: Search, most: int | None, change_cost: float = 0.0) -> Choice:
    """The choice of at most `most` mixes, or of the fewest more that feed everybody.

    Somebody who cannot be fed by any number of mixes is for `most` as it is.
    """
    search.allow()
    search.master.run()
    everybody = not search.master.unfed()
    found = choose(search, most, change_cost)
    while most is not None and everybody and not found.feeds_all and most < len(search.master.mixes):
        most += 1
        found = choose(search, most, change_cost, known=found)
    return found


def keep(search: Search, choice: Choice) -> None:
    """Let only the mixes of a choice be fed, out of its packages, and solve."""
    search.allow(choice.places, choice.packages or None)
    search.master.run()
    search.master.buy_no_more_than_needed()


def worth_with(search: Search, choice: Choice) -> Mapping[str, float]:
    """What one more tonne of what is scarce would save with the mixes made anew of it; the master has the plan."""
    found = pooled(search, _fares(search, choice))
    return found.worth if found is not None else {}


def add_merged(search: Search, choice: Choice) -> None:
    """Let in the mixes of a plan in which two of these mixes are made one: the cheapest such plan that is found."""
    if len(choice.places) < 2:
        return
    keep(search, choice)
    prices, fares = search.master.prices().of_supply, _fares(search, choice)
    ways = [
        (extra, place, way)
        for place, way in enumerate(merged(fares))
        if (extra := _cost_at(search, way[0], prices)) is not None
    ]
    own = [_cost_at(search, fare, prices) or 0.0 for fare in fares]
    apart = [one + other for one, other in combinations(own, 2)]
    order = sorted(ways, key=lambda each: (each[0] - apart[each[1]], each[1]))
    for mix in pooled_mixes(search, cheapest_fares(search, [way for _, _, way in order])):
        search.add(mix)
    search.allow()


def _cost_at(search: Search, fare: Fare, prices: Mapping[str, float]) -> float | None:
    """About what the feed of all that eat of one mix costs at these prices; None where they have none in common."""
    kitchens = kitchens_of(search, fare)
    found = joint_cost(kitchens, prices)
    return None if found is None else found[1] * units_of(fare, kitchens[0].formula.program)


def choose(
    search: Search, most: int | None, change_cost: float = 0.0, thorough: bool = True, known: Choice | None = None
) -> Choice:
    """The cheapest plan of at most `most` mixes, each of which costs `change_cost`.

    Its mixes are made anew, at the prices of the plan and together, until that brings nothing more; if `thorough` then
    with demands moved from one mix to another. The master is left with them. `known` is a plan of no more mixes.
    """
    effort = THOROUGH if thorough else BESIDE
    best = _settled(search, chosen(search, most, change_cost, known, effort), most, change_cost, effort)
    if thorough and most is not None and best.places:
        keep(search, best)
        fares = _fares(search, best)
        moved = better_fares(search, fares)
        if moved is not fares and any([search.add(mix) for mix in pooled_mixes(search, moved)]):
            search.allow()
            best = _settled(search, _better(best, chosen(search, most, change_cost, best)), most, change_cost)
    keep(search, best)
    return best


def _settled(search: Search, best: Choice, most: int | None, change_cost: float, effort: Effort = THOROUGH) -> Choice:
    """A choice after its mixes were made anew as long as that makes it cheaper."""
    for _ in range(ROUNDS):
        if not best.places or not _made_anew(search, best):
            break
        found = chosen(search, most, change_cost, best, effort)
        saved = best.cost - found.cost
        best = _better(best, found)
        if saved <= GAP * abs(best.cost):
            break
    search.allow()
    return best


def _better(one: Choice, other: Choice) -> Choice:
    return other if other.cost <= one.cost else one


def in_whole_packages(search: Search, choice: Choice | None) -> Choice:
    """A choice (None: the plan of any number of mixes, as the master has it) bought in whole packages, which are paid;
    the master is left with it.

    Its mixes are made anew at what a tonne of each offer costs that is used, with what is left over of its packages
    (memory: D. Kim, P. Pardalos, A solution approach to the fixed charge network flow problem using a dynamic slope
    scaling procedure, Operations Research Letters 24, 1999), then of the packages that are paid already.
    """
    search.allow(None if choice is None else choice.places)
    search.master.run()
    master, most = search.master, None if choice is None else choice.used
    known = as_it_stands(search)
    best = replace(known, cost=known.cost + sum(master.left_over().values()), packages=master.needed())
    used, mixes = master.used_of_packed(), {*best.places}
    spread = {name: cost / used[name] for name, cost in master.left_over().items() if used[name]}
    prices = {name: price + spread.get(name, 0.0) for name, price in master.prices().of_supply.items()}
    for again in range(ROUNDS):
        made, first = [_made_at(search, fare, prices) for fare in _fares(search, best)], len(master.mixes)
        if not any([search.add(mix) for mix in made if mix is not None]) and again:
            break
        mixes |= {*range(first, len(master.mixes))}
        before, best = best.cost, bought_whole(search, most, mixes, best)
        keep(search, best)
        if again and before - best.cost <= GAP * abs(best.cost):
            break
        prices = dict(master.prices().of_supply)
    return best


def _made_anew(search: Search, choice: Choice) -> bool:
    """Make the chosen mixes anew: each at the prices of the plan made of them, and all together with what is scarce
    shared out among them; whether a new one came of it."""
    keep(search, choice)
    prices, fares = search.master.prices().of_supply, _fares(search, choice)
    made = [mix for fare in fares if (mix := _made_at(search, fare, prices)) is not None]
    made += pooled_mixes(search, fares)
    added = [search.add(mix) for mix in made]
    search.allow()
    return any(added)


def _fares(search: Search, choice: Choice) -> list[Fare]:
    """Who eats of each mix of the plan; what is unfed is to eat of the one that feeds most of it."""
    eaters: dict[int, list[tuple[Demand, float]]] = {place: [] for place in choice.places}
    places = {id(search.master.mixes[place]): place for place in choice.places}
    portions = search.master.portions()
    for portion in portions:
        eaters[places[id(portion.mix)]].append((portion.demand, portion.tonnes))
    for demand, part in search.master.unfed():
        own = [p for p in portions if p.demand is demand or p.demand.fed is demand.fed]
        fit = [places[id(p.mix)] for p in sorted(own, key=lambda p: -p.part)]
        fit += [place for place in choice.places if demand.stage in search.master.mixes[place].answers]
        if fit:
            eaters[fit[0]].append((demand, part * demand.tonnes(search.master.mixes[fit[0]])))
    return [Fare(search.master.mixes[place], tuple(fed)) for place, fed in eaters.items() if fed]


def _made_at(search: Search, fare: Fare, prices: Mapping[str, float]) -> FoundMix | None:
    """The mix for those that eat of one, at these prices; None where none is found."""
    kitchens = kitchens_of(search, fare)
    if len(kitchens) == 1:
        return kitchens[0].mix_at(prices).mix
    return joint_mix(kitchens, prices) if kitchens else None
