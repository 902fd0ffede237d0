"""The linear program of a concentrate that stages share: its feeds, and each stage's own grain per part of it."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.feeds.candidates import Candidate
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.only_here import bare
from rationlp.rations.program.program import Program, ProgramRow, Sense
from rationlp.rations.program.rows import PREMIX
from rationlp.rations.solve.chance import ChanceRow, Demanding, chance_rows
from rationlp.stages.model import AVERAGES_PCT


class SharedProgram:
    """Columns are the bought feeds that every stage may have, then each stage's own home-grown feeds.

    The bought feeds add up to one part of concentrate; everything else is per part of it.
    """

    def __init__(self, formulas: Sequence[Formula], confidence_pct: float):
        self.formulas = formulas = list(formulas) if len(formulas) == 1 else [bare(formula) for formula in formulas]
        common = set.intersection(*({c.name for c in f.candidates if not c.home_grown} for f in formulas))
        self.bought = [c for c in formulas[0].candidates if c.name in common]
        self.grain = [[c for c in f.candidates if c.home_grown] for f in formulas]
        self.yields = [dict(zip(f.program.columns, f.program.normalizer, strict=True)) for f in formulas]
        self.start, place = [], len(self.bought)
        for grain in self.grain:
            self.start.append(place)
            place += len(grain)
        self.columns = place
        self.demanding = [Demanding(f.program, _chances(f, confidence_pct)) for f in formulas]

    def program(self, rates: Sequence[float], parts: Sequence[float]) -> Program:
        """Every stage's rows over one mix, with Dinkelbach's costs at `rates` and `parts` of each stage."""
        names = [c.name for c in self.bought]
        for formula, grain in zip(self.formulas, self.grain, strict=True):
            names += [f"{formula.stage.stage}:{c.name}" for c in grain]
        normalizer = (1.0,) * len(self.bought) + (0.0,) * (self.columns - len(self.bought))
        rows = [
            self._row(i, row, ">=" if row.key.startswith(PREMIX) else row.sense)
            for i, formula in enumerate(self.formulas)
            for row in formula.program.rows
        ]
        return Program(
            tuple(names), self.costs(rates, parts), tuple(row for row in rows if any(row.coefficients)), normalizer
        )

    def _row(self, i: int, row: ProgramRow, sense: Sense) -> ProgramRow:
        """A row of stage i over the shared columns."""
        coefficients, sizes = [0.0] * self.columns, [0.0] * self.columns
        own_sizes = row.magnitudes
        place = {candidate.name: k for k, candidate in enumerate(self.formulas[i].candidates)}
        for k, candidate in enumerate(self.bought):
            coefficients[k] = row.coefficients[place[candidate.name]]
            sizes[k] = own_sizes[place[candidate.name]]
        for k, candidate in enumerate(self.grain[i]):
            coefficients[self.start[i] + k] = row.coefficients[place[candidate.name]]
            sizes[self.start[i] + k] = own_sizes[place[candidate.name]]
        return ProgramRow(f"{self.formulas[i].stage.stage}:{row.key}", tuple(coefficients), sense, sizes=tuple(sizes))

    def cuts(self, amounts: Sequence[float]) -> list[ProgramRow]:
        """The rows that cut `amounts` off wherever a stage's chance is not kept."""
        found = []
        for i, demanding in enumerate(self.demanding):
            found += [self._row(i, cut, cut.sense) for cut in demanding.cuts(self.amounts_of(i, amounts))]
        return found

    def costs(self, rates: Sequence[float], parts: Sequence[float]) -> tuple[float, ...]:
        """Dinkelbach's costs: price less the stage's rate for what a column yields, weighted by `parts` of each stage.

        A column yields a tonne, or its energy, as the objective of the stage counts; the parts count by their shares.
        """
        whole = sum(parts)
        stages = list(zip((part / whole for part in parts), rates, self.yields, strict=True))
        bought = [sum(p * (c.price_per_tonne - r * made[c.name]) for p, r, made in stages) for c in self.bought]
        grain = [
            p * (c.price_per_tonne - r * made[c.name])
            for (p, r, made), candidates in zip(stages, self.grain, strict=True)
            for c in candidates
        ]
        return (*bought, *grain)

    def grain_of(self, i: int, amounts: Sequence[float]) -> list[tuple[Candidate, float]]:
        """Home-grown feeds of stage i per part of concentrate."""
        return [(c, amounts[self.start[i] + k]) for k, c in enumerate(self.grain[i])]

    def amounts_of(self, i: int, amounts: Sequence[float]) -> tuple[float, ...]:
        """What stage i gets per part of concentrate, by the columns of its own formula."""
        held = {c.name: x for c, x in zip(self.bought, amounts, strict=False)}
        held |= {c.name: x for c, x in self.grain_of(i, amounts)}
        return tuple(held.get(c.name, 0.0) for c in self.formulas[i].candidates)

    def yield_row(self, i: int) -> tuple[float, ...]:
        """What each column yields to stage i: tonnes, or Gcal, per tonne of concentrate."""
        return self._over_columns(
            i, [self.yields[i][c.name] for c in self.bought], [self.yields[i][c.name] for c in self.grain[i]]
        )

    def beyond_row(self, i: int, own_cost: float) -> tuple[float, ...]:
        """What each column costs beyond `own_cost` for what it yields to stage i."""
        bought, grain = (
            [c.price_per_tonne - own_cost * self.yields[i][c.name] for c in part]
            for part in (self.bought, self.grain[i])
        )
        return self._over_columns(i, bought, grain)

    def _over_columns(self, i: int, bought: Sequence[float], grain: Sequence[float]) -> tuple[float, ...]:
        row = [*bought, *(0.0,) * (self.columns - len(bought))]
        row[self.start[i] : self.start[i] + len(grain)] = grain
        return tuple(row)

    def yield_of(self, i: int, amounts: Sequence[float]) -> float:
        """Tonnes, or Gcal, of ration per tonne of concentrate."""
        own = self.amounts_of(i, amounts)
        return sum(n * x for n, x in zip(self.formulas[i].program.normalizer, own, strict=True))

    def rates(self, amounts: Sequence[float]) -> list[float]:
        """The cost of each stage's ration per tonne or per Gcal."""
        return [
            formula.program.cost(self.amounts_of(i, amounts)) / self.yield_of(i, amounts)
            for i, formula in enumerate(self.formulas)
        ]


def _chances(formula: Formula, confidence_pct: float) -> list[ChanceRow]:
    """The rows of a formula that carry a chance above even."""
    if confidence_pct <= AVERAGES_PCT:
        return []
    return chance_rows(formula.program, formula.sources, formula.candidates, formula.stage.energy, confidence_pct)
