"""Column generation: mixes come in until none is cheaper than what the year pays, or the bound is close enough."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from rationlp.errors import BookError
from rationlp.farm import Farm
from rationlp.herd.moves import Fed
from rationlp.herd.season import Season
from rationlp.rations.answer.model import Ration
from rationlp.rations.program.formula import Formula
from rationlp.rations.solve.highs import Matrix
from rationlp.reasons import Severity
from rationlp.year.program.demands import demands_of, with_reserve
from rationlp.year.program.kitchen import Asked, FoundMix, Kitchen, Shares, same_mix
from rationlp.year.program.master import Barred, Demand, Master, Prices
from rationlp.year.program.supplies import Supply, mixing_cost_per_tonne, windows_of

ROUNDS = 60
"""So often the mixes are asked for at new prices at most: a limit by work, never by a clock."""
CLOSE = 1e-6
"""Of the cost: a plan so near its bound is called the cheapest."""
WORTH_IT = 1e-4
"""Of the cost: what mixes decided as before must save for all to be asked with these before all is decided anew."""

KitchenKey = tuple[str, bool, frozenset[str]]
EatersKey = tuple[frozenset[str], tuple[tuple[str, bool], ...]]
"""Stages in the order of what they eat (and whether by weight), and what all of them can have."""
MadeKey = tuple[frozenset[str], tuple[tuple[str, bool], ...], tuple[tuple[str, float], ...]]
"""Those that eat of one mix, and the most that it may hold of what is scarce."""


@dataclass(slots=True)
class Search:
    """One year in the solver: what there is, who is fed, the rations to be asked and the mixes found.

    `bound` is a cost that no plan of any number of mixes can go below, `bound_of_all_open` one of the year with bins
    open all the time, where they are opened in turn; `no_ration` the kitchens without any ration, `joints` the formulas
    of mixes for several (`joint_rows`: their rows, `joint_mixes`: what was made of them), `barred` mixes with the stage
    that they are a stop for, and why, `unverified` the stages of which some mix did not stand up to the check. `worth`
    is what one more tonne of what is scarce saves where few mixes were asked for: mixes that are as they are have no
    use for it. `prices` are what the year of any number of mixes pays for a tonne of each supply in a mix; `allowed`
    are the places of the mixes that may be fed, None for all.
    """

    farm: Farm
    season: Season
    supplies: tuple[Supply, ...]
    demands: tuple[Demand, ...]
    master: Master
    kitchens: dict[KitchenKey, Kitchen] = field(default_factory=dict)
    bound: float = float("-inf")
    bound_of_all_open: float = float("inf")
    no_ration: dict[KitchenKey, str] = field(default_factory=dict)
    barred: dict[Barred, str] = field(default_factory=dict)
    unverified: set[str] = field(default_factory=set)
    joints: dict[EatersKey, Formula | None] = field(default_factory=dict, repr=False)
    joint_rows: dict[EatersKey, Matrix] = field(default_factory=dict, repr=False)
    joint_mixes: dict[MadeKey, FoundMix | None] = field(default_factory=dict, repr=False)
    worth: Mapping[str, float] = field(default_factory=dict, repr=False)
    prices: Mapping[str, float] = field(default_factory=dict, repr=False)
    allowed: tuple[int, ...] | None = None
    _rations: dict[tuple[Shares, str], Ration] = field(default_factory=dict, repr=False)

    @property
    def least_cost(self) -> float:
        """A cost that no plan of any number of mixes goes below, whenever its bins are opened."""
        return min(self.bound, self.bound_of_all_open)

    def kitchen(self, key: KitchenKey) -> Kitchen | None:
        """The ration of a stage from what can be had; None where there is nothing to calculate it with."""
        if key not in self.kitchens and key not in self.no_ration:
            stage, weight, names = key
            had = [s for s in self.supplies if s.name in names]
            try:
                self.kitchens[key] = Kitchen(self.farm, self.farm.stage(stage), had, weight)
            except BookError as error:
                self.no_ration[key] = " ".join(problem.found for problem in error.problems)
        return self.kitchens.get(key)

    def take_over(self, known: Search) -> None:
        """Begin with the rations and the mixes of a year of the same feeds, needs and prices, barred ones barred."""
        self.kitchens, self.no_ration = dict(known.kitchens), dict(known.no_ration)
        self.barred = dict(known.barred)
        for mix in known.master.mixes:
            self.add(mix)

    def converge(self) -> None:
        """Let mixes in until the plan is the cheapest there is, within CLOSE, or ROUNDS are over.

        Raises SolverError.
        """
        exact = True
        for _ in range(ROUNDS):
            answer = self.master.run()
            if not exact and self._asked_as_before(self.master.prices(), WORTH_IT * abs(answer.cost)):
                continue
            exact = False
            found, saving = self._asked(self.master.prices())
            self.bound = max(self.bound, answer.cost - saving)
            added = [mix for mix in found if self.add(mix)]
            if not added or saving <= CLOSE * abs(answer.cost):
                break
        self.master.run()
        self.prices = self.master.prices().of_supply

    def _asked(self, prices: Prices) -> tuple[list[FoundMix], float]:
        """The mix of every kitchen at these prices that saves something, and what all of them would save at most: by
        what a kitchen could cost at least where its mix is barred or did not stand up to the check."""
        found, saving = [], 0.0
        for key, asked, saved in self._answers(prices, lambda kitchen: kitchen.mix_at(prices.of_supply)):
            saving += saved
            if asked.unverified:
                self.unverified.add(key[0])
            elif asked.mix is not None and saved > 0:
                found.append(asked.mix)
        return found, saving

    def _answers(
        self, prices: Prices, ask: Callable[[Kitchen], Asked | None]
    ) -> Iterator[tuple[KitchenKey, Asked, float]]:
        """What every kitchen answers, those with more to choose from first, and what it saves at these prices."""
        richer: dict[tuple[str, bool], list[tuple[Kitchen, Asked]]] = {}
        for key, rows in sorted(self._rows_by_kitchen().items(), key=lambda item: -len(item[0][2])):
            known = richer.setdefault(key[:2], [])
            asked = _of_a_richer(key[2], known)
            kitchen = self.kitchen(key) if asked is None else None
            if kitchen is not None and (asked := ask(kitchen)) is not None:
                known.append((kitchen, asked))
            if asked is not None:
                cost = asked.least_cost
                yield key, asked, sum(max(prices.of_demand[row] - self.demands[row].units * cost, 0.0) for row in rows)

    def _asked_as_before(self, prices: Prices, least: float) -> bool:
        """Let in what every kitchen nearly could at these prices, if all of it saves no less than `least`; whether a
        new mix came of it."""
        found, saving = [], 0.0
        for _, asked, saved in self._answers(prices, lambda kitchen: kitchen.mix_as_before(prices.of_supply)):
            saving += saved
            found += [asked.mix] if saved > 0 and asked.mix is not None else []
        return saving >= least and any([self.add(mix) for mix in found])

    def worth_of(self, name: str) -> float:
        """What one more tonne of a bin or offer would save beyond its price; 0 of what there is enough of."""
        return self.worth.get(name, self.master.scarcity(name))

    def _rows_by_kitchen(self) -> Mapping[KitchenKey, list[int]]:
        rows: dict[KitchenKey, list[int]] = {}
        for row, demand in enumerate(self.demands):
            rows.setdefault(key_of(demand), []).append(row)
        return rows

    def ration(self, mix: FoundMix, stage: str) -> Ration:
        """The ration that a mix is for a stage, worked out once."""
        key = (same_mix(mix.shares), stage)
        if key not in self._rations:
            self._rations[key] = mix.ration(stage, self.farm)
        return self._rations[key]

    def add(self, mix: FoundMix) -> bool:
        """Let a mix in, but not for the stages it is barred for; False where it is known."""
        key = same_mix(mix.shares)
        return self.master.add(mix, {stage for shares, stage in self.barred if shares == key})

    def bar_stopped(self) -> bool:
        """Keep every mix of the plan as it stands, from now on, from those that eat it and must not; whether there was
        one. Others may eat it."""
        stopped: dict[Barred, str] = {}
        for portion in self.master.portions():
            stage = portion.demand.stage
            verdict = self.ration(portion.mix, stage).verdict
            if verdict.severity is Severity.STOP:
                stopped[same_mix(portion.mix.shares), stage] = verdict.weighing(Severity.STOP)[0].text
        self.barred |= stopped
        return bool(stopped)

    def run_without_stops(self) -> None:
        """Solve with the mixes that may be fed as it stands, those barred whose verdict is stop. Raises SolverError."""
        self.master.run()
        while self.bar_stopped():
            self.allow(self.allowed)
            self.master.run()

    def allow(self, places: Iterable[int] | None = None, packages: Sequence[int] | None = None) -> None:
        """Let the mixes at these places (by default all) be fed, none to a stage it is barred for, out of so many whole
        packages (by default parts of them) of what comes in them."""
        self.allowed = None if places is None else tuple(places)
        self.master.allow(self.allowed, self.barred)
        self.master.buy(packages)


def _of_a_richer(names: frozenset[str], known: Sequence[tuple[Kitchen, Asked]]) -> Asked | None:
    """The cheapest mix of a kitchen that has more to choose from, where all of it can be had from these names too, and
    no less is asked of them: it is the cheapest of these, and their own kitchen need not be asked."""
    return next(
        (
            asked
            for other, asked in known
            if asked.mix is not None and asked.mix.names <= names <= other.names and other.asks_no_more_than_of(names)
        ),
        None,
    )


def key_of(demand: Demand) -> KitchenKey:
    """The kitchen that cooks for a demand."""
    return (demand.stage, demand.by_weight, demand.names)


def search_of(
    farm: Farm,
    season: Season,
    animals: Sequence[Fed],
    supplies: Sequence[Supply],
    home_grown: float = 0.0,
) -> Search:
    """The year as it is put to the solver, no mix in it yet. Raises BookError."""
    windows = windows_of(supplies, season)
    demands = tuple(demands_of(farm, with_reserve(farm, season, animals), supplies, windows))
    master = Master(demands, supplies, mixing_cost_per_tonne(farm), home_grown)
    return Search(farm, season, tuple(supplies), demands, master)
