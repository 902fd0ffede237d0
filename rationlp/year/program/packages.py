"""Whole packages and loads: what is bought comes in them, and what is left over in the last ones is paid, too.

With who eats of which mix known, the tonnes of every feed in every mix and the packages of every offer are one integer
program. Its packages are then all there is of each offer, and paid whether they are eaten or not: with that the mixes
of the year are made as ever. What the plan eats of everything then costs what it costs. The plan stays as it was where
that saves next to nothing: nobody pays more for the last packages than is left over in them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil, fsum

from rationlp.rations.solve.general.whole import Column, WholeRow, matrix_of, solve_whole
from rationlp.rations.solve.highs import Matrix
from rationlp.units import KG_PER_TONNE
from rationlp.year.program.kitchen import Shares, joint_mix, same_mix
from rationlp.year.program.master import Master, Portion
from rationlp.year.program.pooled import Fare, blocks_of, kitchens_of, no_more_than_there_is
from rationlp.year.program.search import Search
from rationlp.year.program.supplies import Supply

WORTH_IT = 1e-3
"""Of the cost of the year: less left over in packages is let be."""
GAP = 1e-4
"""Of the cost of the year: packages so near the best are called the best, and what they must save to be taken."""
NODES = 500
WHOLE = 1e-6
"""Of a package, or of what is used: a share this small of one more is none."""
ROOM = 0.8 * WHOLE
"""Of a package: so much more may be used of the last one, so that the solver's last digits cost none."""
ENOUGH = 10.0
"""Times all feed of the year: as good as no end."""


@dataclass(frozen=True, slots=True)
class Packages:
    """What is bought of an offer: packages of so many tonnes, beside what lies on the farm."""

    supply: Supply
    tonnes: float
    price: float

    def whole(self, used: float) -> int:
        """The fewest packages with which there is so much of it."""
        return max(ceil((used - self.supply.on_farm) / self.tonnes - WHOLE), 0)

    def left_over(self, used: float) -> float:
        """What is paid for what is left over of it."""
        bought = max(used - self.supply.on_farm, 0.0)
        return self.price * (self.whole(used) * self.tonnes - bought)


def packages_of(search: Search) -> list[Packages]:
    """The offers that come in packages and cost something."""
    return [
        Packages(s, s.offer.package_kg / KG_PER_TONNE, s.price_per_tonne)
        for s in search.supplies
        if s.offer is not None and s.offer.package_kg and s.price_per_tonne > 0
    ]


def used_of_each(portions: Sequence[Portion]) -> Mapping[str, float]:
    """Tonnes used of every bin and offer."""
    used: dict[str, float] = {}
    for portion in portions:
        for name, share in portion.mix.shares:
            used[name] = used.get(name, 0.0) + share * portion.tonnes
    return used


def left_over(search: Search) -> float:
    """What is paid for what is left over in the last packages of the plan as it stands."""
    used = used_of_each(search.master.portions())
    return fsum(each.left_over(used.get(each.supply.name, 0.0)) for each in packages_of(search))


def within_whole_packages(search: Search) -> Search | None:
    """The year with no more of each offer than the whole packages that cost least, these paid already, and the mixes of
    the plan made anew of them; None where the plan leaves next to nothing over, or nothing better was found."""
    cost, left = search.master.answer.cost, left_over(search)
    if left <= WORTH_IT * cost or search.master.unfed():
        return None
    fares = _fares(search.master.portions())
    found = _fewest(search, fares, cost)
    if found is None:
        return None
    bought, parts = found
    made = _limited_to(search, bought, paid=True)
    prices = {name: price + made.master.mixing for name, price in made.master.prices_per_tonne.items()}
    for fare, tonnes in zip(fares, parts, strict=True):
        whole = sum(tonnes.values())
        at_most = {name: t / whole for name, t in tonnes.items() if name in made.master.limited} if whole else {}
        mix = joint_mix(kitchens_of(made, fare), prices, at_most)
        for each in (mix, fare.mix):
            if each is not None:
                made.add(each)
    made.master.run()
    return made


def with_one_more(packed: Search) -> bool:
    """One more package of the offer of which that helps most to feed somebody who is not; whether there is one.

    A mix is made with fewer crystals than the program of packages had, and eaten in other tonnes."""
    master = packed.master
    short = [each for each in packages_of(packed) if master.scarcity(each.supply.name) > 0]
    if not short:
        return False
    most = max(short, key=lambda each: (master.scarcity(each.supply.name) * each.tonnes, each.supply.name))
    name = most.supply.name
    there = (master.supplies[name].tonnes or 0.0) + most.tonnes
    master.supplies[name] = replace(master.supplies[name], tonnes=there)
    master.set_tonnes(name, there)
    return True


def as_bought(search: Search, packed: Search) -> Search:
    """The plan that was made of packages paid already, its mixes at their prices, of no more than its packages and of
    what else it eats."""
    used = {name: tonnes * (1 + WHOLE) for name, tonnes in used_of_each(packed.master.portions()).items()}
    for each in packages_of(search):
        if each.supply.name in used:
            whole = each.whole(used[each.supply.name] / (1 + WHOLE))
            used[each.supply.name] = (whole + ROOM) * each.tonnes + each.supply.on_farm
    made = _limited_to(search, used, paid=False)
    for known in (search, packed):
        made.take_over(known)
    keys = {same_mix(portion.mix.shares) for portion in packed.master.portions()}
    made.allow([place for place, mix in enumerate(made.master.mixes) if same_mix(mix.shares) in keys])
    made.master.run()
    made.prices = search.prices
    made.worth = {s.name: search.worth_of(s.name) for s in search.supplies}
    return made


def _limited_to(search: Search, tonnes: Mapping[str, float], paid: bool) -> Search:
    """The year with no more than so many tonnes of each of these, its rations kept, no mix in it; `paid`: they cost
    nothing more. There is to have what there was."""
    fed = fsum(portion.tonnes for portion in search.master.portions())
    limited = [_of_at_most(s, tonnes[s.name], fed, paid) if s.name in tonnes else s for s in search.supplies]
    master = Master(search.demands, limited, search.master.mixing, search.master.home_grown)
    made = Search(search.farm, search.season, search.supplies, search.demands, master)
    made.bound, made.bound_of_all_open, made.unverified = search.bound, search.bound_of_all_open, search.unverified
    made.kitchens, made.no_ration, made.barred = search.kitchens, search.no_ration, dict(search.barred)
    return made


def _of_at_most(supply: Supply, tonnes: float, fed: float, paid: bool) -> Supply:
    there = supply.tonnes if supply.tonnes is not None else ENOUGH * fed
    mean = supply.mean_tonnes if supply.mean_tonnes is not None else ENOUGH * fed
    price = 0.0 if paid else supply.price_per_tonne
    return replace(supply, tonnes=min(tonnes, there), mean_tonnes=mean, price_per_tonne=price)


def _fares(portions: Sequence[Portion]) -> list[Fare]:
    """Who eats of each mix of the plan."""
    held: dict[Shares, list[Portion]] = {}
    for portion in portions:
        held.setdefault(same_mix(portion.mix.shares), []).append(portion)
    return [Fare(own[0].mix, tuple((p.demand, p.tonnes) for p in own)) for own in held.values()]


def _fewest(
    search: Search, fares: Sequence[Fare], cost: float
) -> tuple[Mapping[str, float], Sequence[Mapping[str, float]]] | None:
    """Tonnes in whole packages (and on the farm) of each offer that comes in them, at the least cost of all that is
    paid, and the tonnes of everything in each mix then; None where no answer was found."""
    blocks = blocks_of(search, fares)
    if blocks is None:
        return None
    bought = [
        each
        for each in packages_of(search)
        if each.supply.name in blocks.places and each.price * each.tonnes > GAP * cost
    ]
    costs, feeds = list(blocks.costs), len(blocks.costs)
    missed, rows = no_more_than_there_is(search, blocks, feeds)
    costs += missed
    columns: list[Column] = [(0.0, None, False)] * len(costs)
    for each in bought:  # paid by the package, what lies on the farm at its price
        for place in blocks.places[each.supply.name]:
            costs[place] -= each.price
        held: WholeRow = (dict.fromkeys(blocks.places[each.supply.name], 1.0), None, 0.0)
        rows.append(({**held[0], len(costs): -each.tonnes, len(costs) + 1: -1.0}, None, 0.0))
        costs += [each.price * each.tonnes, each.price]
        columns += [(0.0, None, True), (0.0, each.supply.on_farm, False)]
    matrix = Matrix.under_each_other([*blocks.rows, (matrix_of(rows), 0)])
    found = solve_whole(costs, columns, matrix, gap=GAP * cost, nodes=NODES)
    if not found.found:
        return None
    first = len(blocks.costs) + len(missed)
    counts = [round(found.solution.amounts[first + 2 * i]) for i in range(len(bought))]
    amounts = iter(found.solution.amounts)
    parts = [{name: max(next(amounts), 0.0) for name in formula.program.columns} for formula in blocks.formulas]
    there = {e.supply.name: (n + ROOM / 2) * e.tonnes + e.supply.on_farm for e, n in zip(bought, counts, strict=True)}
    return there, parts
