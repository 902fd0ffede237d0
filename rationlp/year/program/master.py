"""The program over whole mixes: every animal fed on every day, from no more than there is, at the least cost.

Rows, all equal to their right sides: each demand is fed (1) by mixes or left unfed; each limited supply is used or left
over; the home-grown share, where one is asked for, is kept, passed or missed; what is used of an offer of which whole
packages are paid is bought, in parts of a package until it is said how many are, or lies on the farm. What is left
unfed or missed costs far more than any feed, so that it is only where nothing else is.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import count
from math import fsum, inf

from rationlp.errors import SolverError
from rationlp.herd.moves import Fed
from rationlp.rations.solve.general.linear import LinearAnswer, LiveLinear
from rationlp.year.program.kitchen import FoundMix, Shares, same_mix
from rationlp.year.program.supplies import NO_PART, Supply

DEAREST = 20.0
"""Times the dearest supply: what a tonne of feed that cannot be had counts."""


Barred = tuple[Shares, str]
"""A mix, and the stage it must not be fed to."""
SOON_DAYS = 30.0
FIRST = 2.0
"""Times that the feed of animals that must not lack counts."""


@dataclass(frozen=True, slots=True)
class Demand:
    """Animals to be fed over a window of days: `units` are tonnes by weight, else Gcal; `names` what is to be had."""

    fed: Fed
    window: range
    units: float
    by_weight: bool
    names: frozenset[str]
    first: bool = False  # sows in milk and the newly weaned: they must not lack

    @property
    def stage(self) -> str:
        """The stage they are fed as."""
        return self.fed.stage

    def eats(self, mix: FoundMix) -> bool:
        """Whether a mix is for these animals and can be made on these days."""
        return self.stage in mix.answers and mix.names <= self.names and mix.serves(self.names)

    def tonnes(self, mix: FoundMix) -> float:
        """Tonnes of a mix that feed the whole demand."""
        return self.units * mix.tonnes_per_unit(self.stage, self.by_weight)


@dataclass(frozen=True, slots=True)
class Portion:
    """A part (0 to 1) of a demand that is fed with a mix."""

    demand: Demand
    mix: FoundMix
    part: float

    @property
    def tonnes(self) -> float:
        """Tonnes of the mix."""
        return self.part * self.demand.tonnes(self.mix)


@dataclass(frozen=True, slots=True)
class Packed:
    """An offer of which whole packages are paid: its row of the program, and the columns of what is bought of it and of
    what is fed of it from the farm, both in packages."""

    supply: Supply
    row: int
    bought: int
    on_farm: int

    def cost(self, prices_per_tonne: Mapping[str, float]) -> float:
        """What a package costs."""
        return self.supply.package * prices_per_tonne[self.supply.name]


@dataclass(frozen=True, slots=True)
class Prices:
    """What the year pays: by supply the price per tonne of it in a mix, by demand the cost of feeding all of it."""

    of_supply: Mapping[str, float]
    of_demand: tuple[float, ...]


class Master:
    """The program in the solver, with the mixes found so far."""

    def __init__(
        self, demands: Sequence[Demand], supplies: Sequence[Supply], mixing_per_tonne: float, home_grown: float = 0.0
    ):
        self.demands, self.supplies = list(demands), {s.name: s for s in supplies}
        self.mixing, self.home_grown = mixing_per_tonne, home_grown
        self.prices_per_tonne = {s.name: s.price_per_tonne for s in supplies}
        self.limited = [s.name for s in supplies if s.tonnes is not None]
        self.mixes: list[FoundMix] = []
        self.entries: list[tuple[int, int, int]] = []  # (column, demand, mix)
        self._known: dict[Shares, int] = {}
        self._by_mix: dict[int, list[int]] = {}
        dearest = max((s.price_per_tonne for s in supplies), default=1.0) + mixing_per_tonne
        self.penalty = DEAREST * max(dearest, 1.0)
        places = count()
        costs, rows = [], []
        for demand in self.demands:  # a Gcal is about a third of a tonne, so a unit counts as a tonne
            rows.append(({next(places): 1.0}, 1.0))
            costs.append(self.unfed_cost(demand))
        for name in self.limited:
            rows.append(({next(places): 1.0}, self.supplies[name].tonnes or 0.0))
            costs.append(0.0)
        if home_grown:
            rows.append(({next(places): 1.0, next(places): -1.0}, 0.0))
            costs += [self.penalty, 0.0]
        self._row_of = {name: len(self.demands) + i for i, name in enumerate(self.limited)}
        self._grown_row = len(rows) - 1
        self.packed: list[Packed] = []
        self.packages: tuple[int, ...] | None = None
        for supply in (s for s in supplies if s.package):
            held = Packed(supply, len(rows), next(places), next(places))
            self.packed.append(held)
            rows.append(({held.bought: -1.0, held.on_farm: -1.0, next(places): 1.0}, 0.0))
            costs += [*(held.cost(self.prices_per_tonne),) * 2, 0.0]
        self._live = LiveLinear(costs, rows)
        self.buy(None)
        self.answer = LinearAnswer(status=self._live.run().status)

    def unfed_cost(self, demand: Demand) -> float:
        """What leaving a demand unfed counts: the more the sooner, so that what there is lasts as long as it can, and
        twice for the animals that must not lack."""
        sooner = 1.0 + 0.5 / (1 + demand.window[0] / SOON_DAYS)
        return self.penalty * demand.units * sooner * (FIRST if demand.first else 1.0)

    def add(self, mix: FoundMix, but_not: Collection[str] = ()) -> bool:
        """Take a mix in for every demand that it can feed, but not yet for some stages; False where it was known for
        these stages."""
        key = same_mix(mix.shares)
        held = self._known.get(key)
        known = self.mixes[held] if held is not None else None
        if known and set(mix.stages) <= set(known.stages) and mix.nearest_of <= known.nearest_of:
            return False
        place = len(self.mixes)
        self._known[key] = place
        self.mixes.append(mix)
        shares = dict(mix.shares)
        for row, demand in enumerate(self.demands):
            if demand.eats(mix):
                tonnes = demand.tonnes(mix)
                entries = {row: 1.0}
                for name, share in mix.shares:
                    if name in self._row_of:
                        entries[self._row_of[name]] = share * tonnes
                for packed in self.packed:
                    entries[packed.row] = shares.get(packed.supply.name, 0.0) * tonnes / packed.supply.package
                if self.home_grown:
                    entries[self._grown_row] = tonnes * (self.grown_share(mix) - self.home_grown)
                column = self._live.add_column(tonnes * self.paid_per_tonne(mix), entries)
                if demand.stage in but_not:
                    self._live.set_most(column, 0.0)
                self._by_mix.setdefault(place, []).append(len(self.entries))
                self.entries.append((column, row, place))
        return True

    def cost_per_tonne(self, mix: FoundMix) -> float:
        """What a tonne of a mix costs, grinding and mixing with it."""
        return self.mixing + sum(share * self.prices_per_tonne[name] for name, share in mix.shares)

    def paid_per_tonne(self, mix: FoundMix) -> float:
        """What a tonne of a mix costs beside the packages that are paid whole."""
        loose = sum(
            share * self.prices_per_tonne[name] for name, share in mix.shares if not self.supplies[name].package
        )
        return self.mixing + loose

    def used_of_packed(self) -> Mapping[str, float]:
        """Tonnes that the answer uses of each offer of which whole packages are paid."""
        used = {each.supply.name: 0.0 for each in self.packed}
        for portion in self.portions() if used else ():
            for name, share in portion.mix.shares:
                if name in used:
                    used[name] += share * portion.tonnes
        return used

    def left_over(self) -> Mapping[str, float]:
        """What is paid for what is left over of each of them in its last package."""
        left = {name: self.supplies[name].left_over(tonnes) for name, tonnes in self.used_of_packed().items()}
        return {name: self.prices_per_tonne[name] * tonnes for name, tonnes in left.items()}

    def needed(self) -> tuple[int, ...]:
        """The packages that hold what the answer uses of each of them."""
        return tuple(self.supplies[name].packages(tonnes) for name, tonnes in self.used_of_packed().items())

    def buy(self, packages: Sequence[int] | None) -> None:
        """So many packages of each offer of which whole ones are paid, eaten or not; None for as many as are eaten, and
        parts of them."""
        self.packages = packages if packages is None else tuple(packages)
        for place, packed in enumerate(self.packed):
            least, most = (0.0, inf) if packages is None else (packages[place],) * 2
            there = packed.supply.on_farm / packed.supply.package
            self._live.set_most(packed.bought, most, least)
            self._live.set_most(packed.on_farm, there, there if least else 0.0)  # what lies there is fed first
            self._live.set_right(packed.row, self._room)

    def buy_no_more_than_needed(self) -> LinearAnswer:
        """The answer anew without packages of which nothing is eaten. Raises SolverError."""
        while self.packages is not None and (needed := self.needed()) != self.packages:
            self.buy(tuple(map(min, needed, self.packages)))
            self.run()
        return self.answer

    @property
    def _room(self) -> float:
        """Of a package: so much more may be used of whole ones, for the last digits of the solver."""
        return 0.0 if self.packages is None else NO_PART / 2

    def grown_share(self, mix: FoundMix) -> float:
        """The home-grown share of a mix."""
        return sum(share for name, share in mix.shares if self.supplies[name].candidate.home_grown)

    def reprice(self, prices_per_tonne: Mapping[str, float]) -> None:
        """Other prices of the supplies for every mix known."""
        self.prices_per_tonne = dict(prices_per_tonne)
        for column, row, place in self.entries:
            mix = self.mixes[place]
            self._live.set_cost(column, self.demands[row].tonnes(mix) * self.paid_per_tonne(mix))
        for packed in self.packed:
            for column in (packed.bought, packed.on_farm):
                self._live.set_cost(column, packed.cost(self.prices_per_tonne))

    def set_tonnes(self, name: str, tonnes: float) -> None:
        """Another amount of a limited supply."""
        self._live.set_right(self._row_of[name], tonnes)

    def set_needed(self, row: int, times: float) -> None:
        """So many times a demand, in place of once."""
        self._live.set_right(row, times)

    def set_energy(self, times: Callable[[Demand, FoundMix], float]) -> None:
        """So many times the energy of each mix for each demand that is fed by it: as many tonnes feed more, or less."""
        for column, row, place in self.entries:
            self._live.set_coefficient(row, column, times(self.demands[row], self.mixes[place]))

    def allow(self, mixes: Collection[int] | None, barred: Collection[Barred] = ()) -> None:
        """Only these mixes (by their places) may be fed, None for all of them; none to the stages it is barred for."""
        allowed = set(range(len(self.mixes))) if mixes is None else set(mixes)
        for place, entries in self._by_mix.items():
            key = same_mix(self.mixes[place].shares)
            for entry in entries:
                column, row, _ = self.entries[entry]
                fed = place in allowed and (key, self.demands[row].stage) not in barred
                self._live.set_most(column, inf if fed else 0.0)

    def run(self) -> LinearAnswer:
        """Solve what stands. Raises SolverError where the solver does not come to an end."""
        self.answer = self._live.run()
        if self.answer.status != "optimal":
            raise SolverError(f"The solver could not finish the year (it says: {self.answer.status}).")
        return self.answer

    def prices(self) -> Prices:
        """What the answer pays for each supply in a mix, and for each demand."""
        duals = self.answer.row_duals
        grown = duals[self._grown_row] if self.home_grown else 0.0
        paid = {}
        for name, supply in self.supplies.items():
            scarce = duals[self._row_of[name]] if name in self._row_of else 0.0
            credit = grown * (supply.candidate.home_grown - self.home_grown)
            paid[name] = self.prices_per_tonne[name] + self.mixing - scarce - credit
        for packed in self.packed if self.packages is not None else ():  # those are paid already
            name = packed.supply.name
            paid[name] -= self.prices_per_tonne[name] + duals[packed.row] / packed.supply.package
        return Prices(paid, duals[: len(self.demands)])

    def scarcity(self, name: str) -> float:
        """What one more tonne of a supply would save; 0 of one without end."""
        return max(-self.answer.row_duals[self._row_of[name]], 0.0) if name in self._row_of else 0.0

    def portions(self) -> list[Portion]:
        """What is fed to whom."""
        return [
            Portion(self.demands[row], self.mixes[place], self.answer.amounts[column])
            for column, row, place in self.entries
            if self.answer.amounts[column] > 1e-9
        ]

    def unfed(self) -> list[tuple[Demand, float]]:
        """The demands that are not met, with the part that is missing."""
        amounts = self.answer.amounts
        return [(demand, amounts[row]) for row, demand in enumerate(self.demands) if amounts[row] > 1e-7]

    @property
    def grown_missing(self) -> float:
        """Tonnes by which the home-grown share asked for is missed."""
        return self.answer.amounts[len(self.demands) + len(self.limited)] if self.home_grown else 0.0

    def right_sides(self) -> tuple[float, ...]:
        """The right side of every row, as the book has it."""
        tonnes = tuple(self.supplies[name].tonnes or 0.0 for name in self.limited)
        grown = (0.0,) if self.home_grown else ()
        return (*(1.0,) * len(self.demands), *tonnes, *grown, *(self._room,) * len(self.packed))

    def paid_beyond_worth(self) -> float:
        """By how much the packages of the answer cost more than the year pays for what is in them; less where it is
        under nought."""
        amounts, duals = self.answer.amounts, self.answer.row_duals
        return fsum(
            (each.cost(self.prices_per_tonne) + duals[each.row]) * (amounts[each.bought] + amounts[each.on_farm])
            for each in self.packed
        )
