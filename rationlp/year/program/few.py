"""Few mixes: one mix for several stages, and the choice of at most so many.

Mixes that suit several stages are found by merging stages two by two, the merger that costs least first; which of all
mixes are made is an integer program over the columns found. Where the solver proves its answer it is the cheapest of
these mixes; the cost of the year with any number of mixes bounds what others could still save.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from rationlp.rations.solve.model import Answer
from rationlp.rations.solve.solver import solve_whole
from rationlp.year.program.kitchen import FoundMix, Kitchen, Shares, joint_cost, joint_mix, same_mix
from rationlp.year.program.search import Search

GAP = 1e-6
"""Of the cost: a choice of mixes so near the best is called the best."""
NODES = 4_000
PAIRS_PER_STAGE = 2
"""So many pairs of stages for each stage have their shared mix looked at, the cheapest to merge first."""
ROUNDS = 4
"""So often the mixes chosen are made anew at the prices of their own plan."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Mixes chosen (by their places in the master), the cost of the year with them, and whether that is proved."""

    places: tuple[int, ...]
    cost: float
    proved: bool
    feeds_all: bool
    used: int


def add_shared_mixes(search: Search) -> None:
    """Let mixes in that serve a stage all year, and several stages, at the prices of the plan as it stands."""
    prices = search.master.prices().of_supply
    kitchens = list(_all_year(search))
    plain = {name: price + search.master.mixing for name, price in search.master.prices_per_tonne.items()}
    for kitchen in kitchens:
        for asked in (prices, plain):
            mix = kitchen.mix_at(asked).mix
            if mix is not None:
                search.add(mix)
    _merge(search, kitchens, prices)


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


def _merge(search: Search, kitchens: Sequence[Kitchen], prices: Mapping[str, float]) -> None:
    """Merge sets of stages bottom-up, the cheapest merger first; let in the mix of every set on the way, and those of
    the pairs that cost least to merge."""
    asked = _Mergers(search, kitchens, prices)
    sets: list[tuple[int, ...]] = [(i,) for i in range(len(kitchens)) if asked.cost((i,)) is not None]
    pairs = sorted(
        (extra, (*one, *other))
        for one, other in combinations(sets, 2)
        if (extra := asked.extra(one, other)) is not None
    )
    wanted = [pair for _, pair in pairs[: PAIRS_PER_STAGE * len(kitchens)]]
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
        wanted.append(sets[-1])
    for places in dict.fromkeys(wanted):
        mix = joint_mix(_most_first(search, [kitchens[i] for i in places]), prices)
        if mix is not None:
            search.add(mix)


class _Mergers:
    """What it costs at these prices to feed sets of stages one mix, each asked once."""

    def __init__(self, search: Search, kitchens: Sequence[Kitchen], prices: Mapping[str, float]):
        self._search, self._kitchens, self._prices = search, kitchens, prices
        self._known: dict[tuple[int, ...], float | None] = {}

    def extra(self, one: tuple[int, ...], other: tuple[int, ...]) -> float | None:
        """What merging two sets costs; None where they have no mix in common."""
        joint = self.cost(tuple(sorted((*one, *other))))
        return None if joint is None else joint - (self.cost(one) or 0.0) - (self.cost(other) or 0.0)

    def cost(self, places: tuple[int, ...]) -> float | None:
        """What a set's feed of the year costs as one mix."""
        if places not in self._known:
            kitchens = [self._kitchens[i] for i in places]
            found = joint_cost(_most_first(self._search, kitchens), self._prices)
            if found is None:
                self._known[places] = None
            else:
                first, *_ = _most_first(self._search, kitchens)
                mix = FoundMix(found[0], {k.stage.stage: (k.formula, Answer(())) for k in (first, *kitchens)})
                self._known[places] = _cost(self._search, mix, kitchens, self._prices)
        return self._known[places]


def _most_first(search: Search, kitchens: Sequence[Kitchen]) -> list[Kitchen]:
    """The kitchens in the order of what their stages eat: the mix is cheapest for the first."""
    eaten: dict[str, float] = {}
    for demand in search.demands:
        eaten[demand.stage] = eaten.get(demand.stage, 0.0) + demand.units
    return sorted(kitchens, key=lambda kitchen: -eaten[kitchen.stage.stage])


def _cost(search: Search, mix: FoundMix, kitchens: Sequence[Kitchen], prices: Mapping[str, float]) -> float:
    """What these stages' feed of the year costs as this mix."""
    per_tonne = sum(share * prices[name] for name, share in mix.shares)
    stages = {(kitchen.stage.stage, kitchen.by_weight) for kitchen in kitchens}
    eaten = [demand.tonnes(mix) for demand in search.demands if (demand.stage, demand.by_weight) in stages]
    return per_tonne * sum(eaten)


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
        found = choose(search, most, change_cost)
    return found


def keep(search: Search, choice: Choice) -> None:
    """Let only the mixes of a choice be fed, and solve."""
    search.allow(choice.places)
    search.master.run()


def choose(search: Search, most: int | None, change_cost: float = 0.0) -> Choice:
    """The cheapest plan of at most `most` mixes, each of which costs `change_cost`.

    Its mixes are made anew at the prices of the plan until that brings nothing more. The master is left with them.
    """
    best = _chosen(search, most, change_cost)
    for _ in range(ROUNDS):
        if not best.places or not _made_anew(search, best):
            break
        found = _chosen(search, most, change_cost)
        better = found.cost < best.cost - GAP * abs(best.cost)
        best = found if found.cost <= best.cost else best
        if not better:
            break
    keep(search, best)
    return best


def _made_anew(search: Search, choice: Choice) -> bool:
    """Make the chosen mixes anew at the prices of the plan made of them; whether a new one came of it."""
    keep(search, choice)
    prices, portions = search.master.prices().of_supply, search.master.portions()
    found = False
    for place in choice.places:
        mix = search.master.mixes[place]
        fed = {p.demand.stage for p in portions if p.mix is mix} or set(mix.stages)
        rows = [d for d in search.demands if d.stage in fed]
        names = frozenset.intersection(*(d.names for d in rows)) if rows else frozenset()
        keys = dict.fromkeys((d.stage, d.by_weight, names) for d in rows)
        kitchens = [kitchen for key in keys if (kitchen := search.kitchen(key)) is not None]
        if len(kitchens) == 1:
            made = kitchens[0].mix_at(prices).mix
            found = (made is not None and search.add(made)) or found
        elif kitchens:
            joint = joint_mix(_most_first(search, kitchens), prices)
            found = (joint is not None and search.add(joint)) or found
    search.allow()
    return found


def _chosen(search: Search, most: int | None, change_cost: float) -> Choice:
    """The integer program over the mixes known: which are made, who eats how much of them."""
    master = search.master
    entries = [e for e in master.entries if same_mix(master.mixes[e[2]].shares) not in search.barred]
    made: dict[Shares, int] = {}
    for _, _, place in entries:
        made.setdefault(same_mix(master.mixes[place].shares), len(made))
    amounts, demands, whole = len(entries), len(search.demands), len(made)
    which = [made[same_mix(master.mixes[place].shares)] for _, _, place in entries]
    costs = [
        master.demands[row].tonnes(master.mixes[p]) * master.cost_per_tonne(master.mixes[p]) for _, row, p in entries
    ]
    most_missed = sum(master.demands[row].tonnes(master.mixes[p]) for _, row, p in entries)
    costs += [master.unfed_cost(demand) for demand in search.demands] + [change_cost] * whole + [master.penalty]
    columns = [(0.0, 1.0, False)] * (amounts + demands) + [(0.0, 1.0, True)] * whole + [(0.0, most_missed, False)]
    rows: list[tuple[Mapping[int, float], float | None, float | None]] = []
    for row in range(demands):
        fed = {i: 1.0 for i, (_, r, _) in enumerate(entries) if r == row}
        rows.append(({**fed, amounts + row: 1.0}, 1.0, 1.0))
    rows += [(terms, None, right) for terms, right in _limits(search, entries)]
    if master.home_grown:
        rows.append(({**_grown(search, entries), len(columns) - 1: -1.0}, None, 0.0))
    rows += [({i: 1.0, amounts + demands + which[i]: -1.0}, None, 0.0) for i in range(amounts)]
    if most is not None:
        rows.append(({amounts + demands + z: 1.0 for z in range(whole)}, None, float(most)))
    scale = max(sum(d.units for d in search.demands), 1.0)
    found = solve_whole(costs, columns, rows, gap=GAP * max(abs(search.bound), scale), nodes=NODES)
    if not found.found:
        return Choice((), float("inf"), False, False, 0)
    held = found.solution.amounts
    chosen = {z for z in range(whole) if held[amounts + demands + z] > 0.5}
    used = {which[i] for i in range(amounts) if held[i] > 1e-9} & chosen
    places = tuple(sorted({place for (_, _, place), z in zip(entries, which, strict=True) if z in used}))
    unfed = any(held[amounts + row] > 1e-7 for row in range(demands))
    proved = found.solution.status == "optimal"
    return Choice(places, found.solution.objective, proved, not unfed, len(used))


def _limits(search: Search, entries: Sequence[tuple[int, int, int]]) -> Iterator[tuple[Mapping[int, float], float]]:
    """What is used of each limited supply, with what there is of it."""
    master = search.master
    tonnes = [master.demands[row].tonnes(master.mixes[place]) for _, row, place in entries]
    for name in master.limited:
        terms = {}
        for i, (_, _, place) in enumerate(entries):
            share = dict(master.mixes[place].shares).get(name, 0.0)
            if share:
                terms[i] = share * tonnes[i]
        if terms:
            yield terms, master.supplies[name].tonnes or 0.0


def _grown(search: Search, entries: Sequence[tuple[int, int, int]]) -> dict[int, float]:
    """By how many tonnes each entry misses the home-grown share asked for."""
    master = search.master
    return {
        i: -master.demands[row].tonnes(master.mixes[p]) * (master.grown_share(master.mixes[p]) - master.home_grown)
        for i, (_, row, p) in enumerate(entries)
    }
