"""Which of the mixes known are made, and who eats how much of them: an integer program.

On a large farm not all of them are looked at: at what the year pays for bins and offers each mix has its cost for each
demand, and the few mixes that serve all at the least cost are sought by adding the one that saves most and by exchange
(memory: M. B. Teitz, P. Bart, Heuristic methods for estimating the generalized vertex median of a weighted graph,
Operations Research 16, 1968). The program is asked among these and those that come nearest to each of them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from rationlp.numbers import Floats
from rationlp.rations.solve.general.whole import Column, WholeRow, solve_whole
from rationlp.year.program.kitchen import Shares, same_mix
from rationlp.year.program.master import Packed
from rationlp.year.program.search import Search

GAP = 1e-6
"""Of the cost: a choice of mixes so near the best is called the best."""
NEAREST = 20
"""So many mixes for each likely one, itself among them, are looked at on a large farm."""
MANY = 1_500
"""Of so many parts of demands fed by mixes on the fewer branches are looked at, the more they are."""
EXCHANGES = 100
"""So often at most a likely mix is exchanged for a better one."""

Entry = tuple[int, int, int]
"""Column of the master, demand, mix."""


@dataclass(frozen=True, slots=True)
class Effort:
    """How much is looked at: so many branches, and so many parts of demands fed by mixes, of more those of likely mixes
    alone: a limit by work, never by a clock."""

    nodes: int
    entries: int

    def branches(self, entries: int) -> int:
        """How many branches of a program of so many parts: what one of them takes grows as the program does."""
        return self.nodes if entries <= MANY else int(self.nodes * (MANY / entries) ** 2) + 1


THOROUGH, BESIDE = Effort(4_000, 8_000), Effort(600, MANY)
"""For the plan itself, and for one with a mix fewer or more."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Mixes chosen (by their places in the master), the cost of the year with them, and whether that is proved.

    `packages` are those bought of each offer of which whole ones are paid, `eaten` the parts of each demand by demand
    and mix, `unfed` what is missing of each demand.
    """

    places: tuple[int, ...]
    cost: float
    proved: bool
    feeds_all: bool
    used: int
    packages: tuple[int, ...] = ()
    eaten: Mapping[tuple[int, int], float] = field(default_factory=dict, repr=False)
    unfed: tuple[float, ...] = field(default=(), repr=False)


@dataclass(frozen=True, slots=True)
class _Table:
    """What is looked at: parts of demands fed by mixes, with the number of the mix and its tonnes of a whole demand.

    `whole` says whether that is all there is.
    """

    entries: Sequence[Entry]
    which: Sequence[int]
    tonnes: Sequence[float]
    whole: bool

    @property
    def mixes(self) -> int:
        """How many different mixes there are."""
        return max(self.which, default=-1) + 1

    def of(self, kept: Collection[int]) -> _Table:
        """The table with these mixes alone, numbered anew in their order."""
        number = {mix: place for place, mix in enumerate(sorted(kept))}
        own = [i for i, mix in enumerate(self.which) if mix in number]
        return _Table(
            [self.entries[i] for i in own],
            [number[self.which[i]] for i in own],
            [self.tonnes[i] for i in own],
            self.whole and len(number) == self.mixes,
        )


def chosen(
    search: Search, most: int | None, change_cost: float, known: Choice | None = None, effort: Effort = THOROUGH
) -> Choice:
    """The integer program over the mixes known: which are made, who eats how much of them; sought from a choice known
    before."""
    table = _table(search)
    if len(table.entries) > effort.entries:
        costs, demands = _costs_at_the_prices(search, table), search.demands
        first = _median(costs, [search.master.unfed_cost(d) for d in demands], most, change_cost)
        table, known = _likely(table, costs, first, known), known or _served_by(search, table, first, change_cost)
    found = _solved(search, table, most, change_cost, known, effort.branches(len(table.entries)))
    return known if known is not None and known.cost < found.cost else found


def bought_whole(search: Search, most: int | None, mixes: Collection[int], known: Choice) -> Choice:
    """The cheapest plan of these mixes (by their places) in whole packages, of any number of mixes on a small farm that
    of all known; `known` is one of these mixes, in whole packages too."""
    table = _table(search)
    if most is not None or len(table.entries) > BESIDE.entries:
        table = table.of({mix for (_, _, place), mix in zip(table.entries, table.which, strict=True) if place in mixes})
    found = _solved(search, table, most, 0.0, known, BESIDE.branches(len(table.entries)), search.master.packed)
    return known if known.cost < found.cost else found


def as_it_stands(search: Search, change_cost: float = 0.0) -> Choice:
    """The answer of the master as a choice, each mix at `change_cost`; what it eats of packages as whole ones."""
    master, amounts = search.master, search.master.answer.amounts
    eaten = {(row, place): amounts[column] for column, row, place in master.entries if amounts[column] > 1e-9}
    used = {same_mix(master.mixes[place].shares) for _, place in eaten}
    cost = master.answer.cost + change_cost * len(used)
    fed = tuple(sorted({place for _, place in eaten}))
    return Choice(fed, cost, False, not master.unfed(), len(used), (), eaten, amounts[: len(search.demands)])


def _table(search: Search) -> _Table:
    """Every part of a demand that a mix may feed, those it is barred for left out."""
    master, made, keys = search.master, dict[Shares, int](), dict[int, Shares]()
    entries, which, tonnes = [], [], []
    for entry in master.entries:
        _, row, place = entry
        if place not in keys:
            keys[place] = same_mix(master.mixes[place].shares)
        if (keys[place], master.demands[row].stage) not in search.barred:
            entries.append(entry)
            which.append(made.setdefault(keys[place], len(made)))
            tonnes.append(master.demands[row].tonnes(master.mixes[place]))
    return _Table(entries, which, tonnes, True)


def _costs_at_the_prices(search: Search, table: _Table) -> Floats:
    """What each mix costs each demand at what the year pays for bins and offers; without end where it is not eaten."""
    prices = search.prices or search.master.prices().of_supply
    costs = np.full((len(search.demands), table.mixes), np.inf)
    per_tonne: dict[int, float] = {}
    for (_, row, place), mix, tonnes in zip(table.entries, table.which, table.tonnes, strict=True):
        if place not in per_tonne:
            per_tonne[place] = sum(share * prices[name] for name, share in search.master.mixes[place].shares)
        costs[row, mix] = per_tonne[place] * tonnes
    return costs


def _median(costs: Floats, unfed: Sequence[float], most: int | None, price: float) -> list[int]:
    """The few mixes that serve all demands at about the least cost, each of which costs `price` in work."""
    made, left = list[int](), np.asarray(unfed)
    while most is None or len(made) < most:
        saved = _saved(left, costs) - price
        best = int(saved.argmax()) if saved.size else 0
        if not saved.size or saved[best] <= 0:
            break
        made.append(best)
        left = np.minimum(left, costs[:, best])
    for _ in range(EXCHANGES):
        ways = [(_without(costs, unfed, made, out), out) for out in made]
        gains = [(float(_saved(rest, costs).max()) - float((rest - left).sum()), out, rest) for rest, out in ways]
        gain, out, rest = max(gains, key=lambda way: way[0], default=(0.0, 0, left))
        if gain <= GAP * abs(float(left.sum())):
            break
        better = int(_saved(rest, costs).argmax())
        made[made.index(out)] = better
        left = np.minimum(rest, costs[:, better])
    return made


def _saved(left: Floats, costs: Floats) -> Floats:
    """What each mix would save of what the demands cost so far; rounded, so that equal ones are equal everywhere."""
    saved: Floats = np.maximum(left[:, None] - costs, 0.0).sum(axis=0).round(6)
    return saved


def _without(costs: Floats, unfed: Sequence[float], made: Sequence[int], out: int) -> Floats:
    """What each demand costs without one of the mixes."""
    others = [mix for mix in made if mix != out]
    left: Floats = np.minimum(np.asarray(unfed), costs[:, others].min(axis=1, initial=np.inf))
    return left


def _likely(table: _Table, costs: Floats, first: Sequence[int], known: Choice | None) -> _Table:
    """The mixes that come nearest to each of the first ones for those that eat of it, and those of a choice known."""
    places = set(known.places) if known is not None else set()
    kept = {mix for (_, _, place), mix in zip(table.entries, table.which, strict=True) if place in places} | set(first)
    if first:
        eaten = costs[:, list(first)].argmin(axis=1)
        dear = np.where(np.isfinite(costs), costs, np.nan)
        worst = np.nan_to_num(np.nanmax(dear, axis=1, initial=0.0)) * 2
        for place in range(len(first)):
            rows = np.flatnonzero(eaten == place)
            own = np.where(np.isfinite(costs[rows]), costs[rows], worst[rows][:, None]).sum(axis=0).round(6)
            kept |= {int(mix) for mix in np.argsort(own, kind="stable")[:NEAREST]}
    return table.of(kept)


def _served_by(search: Search, table: _Table, mixes: Sequence[int], change_cost: float) -> Choice:
    """The plan of these mixes, as the master has it."""
    master, wanted = search.master, set(mixes)
    places = {place for (_, _, place), mix in zip(table.entries, table.which, strict=True) if mix in wanted}
    master.allow(places, search.barred)
    master.run()
    return as_it_stands(search, change_cost)


def _solved(
    search: Search,
    table: _Table,
    most: int | None,
    change_cost: float,
    known: Choice | None,
    nodes: int,
    packed: Sequence[Packed] = (),
) -> Choice:
    """The integer program over what is looked at; whole packages are paid of those `packed`."""
    master, entries, which = search.master, table.entries, table.which
    amounts, demands, whole = len(entries), len(search.demands), table.mixes
    per_tonne = master.paid_per_tonne if packed else master.cost_per_tonne
    costs = [t * per_tonne(master.mixes[p]) for t, (_, _, p) in zip(table.tonnes, entries, strict=True)]
    costs += [master.unfed_cost(demand) for demand in search.demands] + [change_cost] * whole + [master.penalty]
    columns: list[Column] = [(0.0, 1.0, place >= amounts + demands) for place in range(amounts + demands + whole)]
    columns.append((0.0, sum(table.tonnes), False))
    fed: list[dict[int, float]] = [{amounts + row: 1.0} for row in range(demands)]
    for i, (_, row, _) in enumerate(entries):
        fed[row][i] = 1.0
    rows: list[WholeRow] = [(terms, 1.0, 1.0) for terms in fed]
    rows += [(terms, None, right) for terms, right in _limits(search, table)]
    if master.home_grown:
        rows.append(({**dict(enumerate(_missed(search, table))), len(columns) - 1: -1.0}, None, 0.0))
    rows += [({i: 1.0, amounts + demands + which[i]: -1.0}, None, 0.0) for i in range(amounts)]
    if most is not None:
        rows.append(({amounts + demands + z: 1.0 for z in range(whole)}, None, float(most)))
    bought = _Bought.of(search, packed, table, len(columns))
    costs += bought.costs
    columns += bought.columns
    rows += bought.rows
    scale = max(sum(d.units for d in search.demands), 1.0)
    start = _start(search, known, table, bought) if known is not None and known.places else ()
    found = solve_whole(costs, columns, rows, gap=GAP * max(abs(search.bound), scale), nodes=nodes, start=start)
    if not found.found:
        return Choice((), float("inf"), False, False, 0)
    held = found.solution.amounts
    made = {z for z in range(whole) if held[amounts + demands + z] > 0.5}
    used = {which[i] for i in range(amounts) if held[i] > 1e-9} & made
    places = tuple(sorted({place for (_, _, place), z in zip(entries, which, strict=True) if z in used}))
    unfed = any(held[amounts + row] > 1e-7 for row in range(demands))
    proved = found.solution.status == "optimal" and table.whole
    eaten = {(row, place): held[i] for i, (_, row, place) in enumerate(entries) if which[i] in used and held[i] > 1e-9}
    missing = tuple(held[amounts : amounts + demands])
    packages = tuple(round(held[column]) for column in bought.places)
    return Choice(places, found.solution.objective, proved, not unfed, len(used), packages, eaten, missing)


@dataclass(frozen=True, slots=True)
class _Bought:
    """Columns of the integer program, from the next one on, and its rows, for the offers of which whole packages are
    paid: `places` are those of their packages, `used` tonnes of each in each whole part of a demand. What lies on the
    farm is fed before a package is bought."""

    packed: Sequence[Packed]
    used: Sequence[Mapping[int, float]]
    places: Sequence[int]
    costs: list[float]
    columns: list[Column]
    rows: list[WholeRow]

    @classmethod
    def of(cls, search: Search, packed: Sequence[Packed], table: _Table, first: int) -> _Bought:
        """Those of these mixes."""
        used = list(_used(search, table, [each.supply.name for each in packed]).values())
        places = [first + 3 * place for place in range(len(packed))]
        costs, columns, rows = list[float](), list[Column](), list[WholeRow]()
        for each, terms, bought in zip(packed, used, places, strict=True):
            package, there = each.supply.package, each.supply.on_farm / each.supply.package
            costs += [*(each.cost(search.master.prices_per_tonne),) * 2, 0.0]
            columns += [(0.0, None, True), (0.0, there, False), (0.0, 1.0, True)]
            rows.append(({**{i: t / package for i, t in terms.items()}, bought: -1.0, bought + 1: -1.0}, None, 0.0))
            if there:
                most = float(each.supply.packages(sum(terms.values())))
                rows.append(({bought: 1.0, bought + 2: -most}, None, 0.0))
                rows.append(({bought + 1: 1.0, bought + 2: -there}, 0.0, None))
        return cls(packed, used, places, costs, columns, rows)

    def start(self, amounts: Sequence[float]) -> Iterator[float]:
        """What these columns are where so much of each part of a demand is eaten."""
        for packed, used in zip(self.packed, self.used, strict=True):
            tonnes = sum(t * amounts[i] for i, t in used.items())
            packages = packed.supply.packages(tonnes)
            there = packed.supply.on_farm if packages else min(tonnes, packed.supply.on_farm)
            yield from (float(packages), there / packed.supply.package, float(packages > 0))


def _start(search: Search, known: Choice, table: _Table, bought: _Bought) -> list[float]:
    """The columns of the integer program as a choice has them."""
    amounts = [known.eaten.get((row, place), 0.0) for _, row, place in table.entries]
    made = {table.which[i] for i, amount in enumerate(amounts) if amount > 0.0}
    missed = sum(grown * amount for grown, amount in zip(_missed(search, table), amounts, strict=True))
    mixes = (float(z in made) for z in range(table.mixes))
    return [*amounts, *known.unfed, *mixes, max(missed, 0.0), *bought.start(amounts)]


def _limits(search: Search, table: _Table) -> Iterator[tuple[Mapping[int, float], float]]:
    """What is used of each limited supply, with what there is of it."""
    for name, terms in _used(search, table, search.master.limited).items():
        if terms:
            yield terms, search.master.supplies[name].tonnes or 0.0


def _used(search: Search, table: _Table, names: Sequence[str]) -> Mapping[str, Mapping[int, float]]:
    """Tonnes of each of these supplies in each whole part of a demand."""
    used: dict[str, dict[int, float]] = {name: {} for name in names}
    for i, ((_, _, place), tonnes) in enumerate(zip(table.entries, table.tonnes, strict=True)):
        for name, share in search.master.mixes[place].shares:
            if share and name in used:
                used[name][i] = share * tonnes
    return used


def _missed(search: Search, table: _Table) -> list[float]:
    """By how many tonnes each entry misses the home-grown share asked for."""
    master = search.master
    grown = {place: master.grown_share(master.mixes[place]) for _, _, place in table.entries}
    return [
        -tonnes * (grown[place] - master.home_grown)
        for (_, _, place), tonnes in zip(table.entries, table.tonnes, strict=True)
    ]
