"""The bought part of a ration as one mix, for farms that mix once a month and feed daily; one mix for several stages.

A ration of stage s is one part of concentrate c and g parts of home-grown grain. Every requirement is homogeneous, so
that with the concentrate's shares normalized, sum(c) = 1, and the grain per part of concentrate free, all stages stand
in one linear program; the inclusion rate is 1 / (1 + sum(g)). Only the cost of each ration, per tonne or per Gcal as its
objective says, is a ratio: it is minimized by Dinkelbach's step (W. Dinkelbach, On nonlinear fractional programming,
Management Science 13, 1967) on the weighted sum, which comes to a mix that no small change makes cheaper. The premix
dose may be passed where stages take different amounts of the concentrate, up to the premix's own cap.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rationlp.rations.candidates import Candidate
from rationlp.rations.formula import Formula
from rationlp.rations.model import MixLine, Ration
from rationlp.rations.program import Program, Row
from rationlp.rations.solver import LiveProgram
from rationlp.rations.verify import verify

ROUNDS = 60
SETTLED = 1e-9  # relative change of the total cost


@dataclass(frozen=True, slots=True)
class Part:
    offer: str
    feed: str
    label: str
    share: float  # of the concentrate


@dataclass(frozen=True, slots=True)
class Use:
    """How one stage is fed with a concentrate; shares of the whole ration."""

    stage: str
    bin: str
    inclusion: float
    grain: tuple[Part, ...]  # home-grown feeds with their share of the ration
    objective: str  # per_tonne or per_energy: what the two costs are counted by (per tonne, per Gcal)
    cost: float
    cost_of_own_ration: float


@dataclass(frozen=True, slots=True)
class Concentrate:
    """One mix of bought feeds, what it costs per tonne, and the stages it serves."""

    parts: tuple[Part, ...]
    cost_per_tonne: float
    uses: tuple[Use, ...]


def concentrate_of(ration: Ration, home_grown: frozenset[str]) -> Concentrate | None:
    """The bought part of a finished ration as a mix of its own; None where nothing is bought.

    `home_grown` are the names of bins and offers that stay on the farm's side.
    """
    bought = [line for line in ration.mix if line.share and line.offer not in home_grown]
    inclusion = sum(line.share for line in bought)
    if not inclusion:
        return None
    grain = tuple(_part(line, 1.0) for line in ration.mix if line.share and line.offer in home_grown)
    cost = sum(line.share * line.price_per_tonne for line in bought) / inclusion
    own = ration.cost_per_gcal if ration.objective == "per_energy" else ration.cost_per_tonne
    use = Use(ration.stage, ration.bin, inclusion, grain, ration.objective, own, own)
    return Concentrate(tuple(_part(line, inclusion) for line in bought), cost, (use,))


def _part(line: MixLine, of: float) -> Part:
    return Part(line.offer, line.feed, line.label, line.share / of)


def shared_concentrate(
    formulas: Sequence[Formula], own_costs: Sequence[float], weights: Sequence[float]
) -> Concentrate | None:
    """One concentrate for all the stages of `formulas`, at the least weighted sum of their costs.

    `own_costs` is the cost of each stage's own ration by its objective (per tonne, per Gcal), `weights` how many tonnes
    or Gcal of each are fed. None if no concentrate serves them all.
    """
    layout = _Layout(formulas)
    if not layout.bought:
        return None
    rates = list(own_costs)
    live = LiveProgram(layout.program(rates, list(weights)))
    best: tuple[float, tuple[float, ...]] | None = None
    for _ in range(ROUNDS):
        if live.solution.status != "optimal":
            return None
        verify(live.program, live.solution)
        amounts = live.solution.amounts
        rates = layout.rates(amounts)
        total = sum(w * rate for w, rate in zip(weights, rates, strict=True))
        if best is not None and total > best[0] * (1 - SETTLED):
            break
        best = (total, amounts)
        live.set_costs(layout.costs(rates, [w / layout.yield_of(i, amounts) for i, w in enumerate(weights)]))
        live.run()
    return layout.concentrate(best[1], own_costs) if best else None


class _Layout:
    """Columns of the shared program: the bought feeds that every stage may have, then each stage's own grain."""

    def __init__(self, formulas: Sequence[Formula]):
        self.formulas = formulas
        common = set.intersection(*({c.name for c in f.candidates if not c.home_grown} for f in formulas))
        self.bought = [c for c in formulas[0].candidates if c.name in common]
        self.grain = [[c for c in f.candidates if c.home_grown] for f in formulas]
        self.yields = [dict(zip(f.program.columns, f.program.normalizer, strict=True)) for f in formulas]
        self.start = []
        place = len(self.bought)
        for grain in self.grain:
            self.start.append(place)
            place += len(grain)
        self.columns = place

    def program(self, rates: Sequence[float], parts: Sequence[float]) -> Program:
        names = [c.name for c in self.bought]
        names += [f"{f.stage.stage}:{c.name}" for f, grain in zip(self.formulas, self.grain, strict=True) for c in grain]
        normalizer = (1.0,) * len(self.bought) + (0.0,) * (self.columns - len(self.bought))
        return Program(tuple(names), self.costs(rates, parts), tuple(self._rows()), normalizer)

    def _rows(self) -> list[Row]:
        rows = []
        for i, formula in enumerate(self.formulas):
            place = {candidate.name: k for k, candidate in enumerate(formula.candidates)}
            own = [(self.start[i] + k, place[c.name]) for k, c in enumerate(self.grain[i])]
            columns = [(k, place[c.name]) for k, c in enumerate(self.bought)] + own
            for row in formula.program.rows:
                coefficients = [0.0] * self.columns
                for here, there in columns:
                    coefficients[here] = row.coefficients[there]
                if any(coefficients):
                    sense = ">=" if row.key.startswith("premix:") else row.sense
                    rows.append(Row(f"{formula.stage.stage}:{row.key}", tuple(coefficients), sense))
        return rows

    def costs(self, rates: Sequence[float], parts: Sequence[float]) -> tuple[float, ...]:
        """Dinkelbach's costs: price less the stage's rate for what a column yields, weighted by `parts` of each stage.

        A column yields a tonne, or its energy, as the objective of the stage counts.
        """
        bought = [
            sum(p * (c.price_per_tonne - r * yields[c.name]) for p, r, yields in zip(parts, rates, self.yields, strict=True))
            for c in self.bought
        ]
        grain = [
            p * (c.price_per_tonne - r * yields[c.name])
            for p, r, yields, candidates in zip(parts, rates, self.yields, self.grain, strict=True)
            for c in candidates
        ]
        return (*bought, *grain)

    def _used(self, i: int, amounts: Sequence[float]) -> list[tuple[Candidate, float]]:
        """Concentrate and grain of one stage, per part of concentrate."""
        return [*zip(self.bought, amounts, strict=False), *self._grain_amounts(i, amounts)]

    def _grain_amounts(self, i: int, amounts: Sequence[float]) -> list[tuple[Candidate, float]]:
        return [(c, amounts[self.start[i] + k]) for k, c in enumerate(self.grain[i])]

    def inclusion(self, i: int, amounts: Sequence[float]) -> float:
        return 1 / (1 + sum(x for _, x in self._grain_amounts(i, amounts)))

    def yield_of(self, i: int, amounts: Sequence[float]) -> float:
        """Tonnes, or Gcal, of ration per tonne of concentrate."""
        return sum(x * self.yields[i][c.name] for c, x in self._used(i, amounts))

    def rates(self, amounts: Sequence[float]) -> list[float]:
        """The cost of each stage's ration per tonne or per Gcal."""
        return [
            sum(x * c.price_per_tonne for c, x in self._used(i, amounts)) / self.yield_of(i, amounts)
            for i in range(len(self.formulas))
        ]

    def concentrate(self, amounts: Sequence[float], own_costs: Sequence[float]) -> Concentrate:
        parts = tuple(Part(c.name, c.feed, c.label, x) for c, x in zip(self.bought, amounts, strict=False) if x > 1e-7)
        uses = []
        for i, (formula, cost) in enumerate(zip(self.formulas, self.rates(amounts), strict=True)):
            rate = self.inclusion(i, amounts)
            grain = tuple(
                Part(c.name, c.feed, c.label, x * rate) for c, x in self._grain_amounts(i, amounts) if x * rate > 1e-7
            )
            uses.append(Use(formula.stage.stage, formula.bin, rate, grain, formula.objective, cost, own_costs[i]))
        price = sum(x * c.price_per_tonne for c, x in zip(self.bought, amounts, strict=False))
        return Concentrate(parts, price, tuple(uses))
