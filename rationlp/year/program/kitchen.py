"""Mixes at a price: the ration of a stage, as `ration` makes it, at what the year pays for each bin and offer."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf
from operator import itemgetter

from rationlp.errors import SolverError
from rationlp.farm import Farm
from rationlp.rations.answer.describe import describe
from rationlp.rations.answer.mix import IN_MIX
from rationlp.rations.answer.model import Ration
from rationlp.rations.program.coarse import with_coarse_calcium
from rationlp.rations.program.formula import Formula, build
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.rations.program.vitamins import serves
from rationlp.rations.solve.model import Answer
from rationlp.rations.solve.settle import Settled, settle
from rationlp.rations.solve.solver import solve
from rationlp.reasons import Severity
from rationlp.stages.stage import KCAL_PER_MCAL, StageNeeds
from rationlp.year.program.at_prices import AtPrices
from rationlp.year.program.bound import cost_bound
from rationlp.year.program.supplies import Supply

KG_PER_TONNE = 1000.0
KCAL_PER_GCAL = 1e6
DIGITS = 9
"""Mixes whose shares agree to so many decimals are one mix."""

Shares = tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class FoundMix:
    """A mix by its shares (0 to 1, by bin or offer), with the stages whose rations it is.

    `answers` are the formula and answer of each stage, from which its ration is put together when it is shown. Where no
    mix of what can be had (`nearest_of`: bins and offers) meets everything, it is the nearest one, to be asked about;
    whoever has more to choose from has a nearer one.
    """

    shares: Shares
    answers: Mapping[str, tuple[Formula, Answer]] = field(repr=False, compare=False)
    nearest_of: frozenset[str] = frozenset()

    @property
    def stages(self) -> tuple[str, ...]:
        """The stages it may be fed to."""
        return tuple(self.answers)

    @property
    def names(self) -> frozenset[str]:
        """The bins and offers in it."""
        return frozenset(name for name, _ in self.shares)

    def serves(self, names: frozenset[str]) -> bool:
        """Whether nothing nearer can be made of these bins and offers, where it is the nearest mix only."""
        return not self.nearest_of or names <= self.nearest_of

    def ration(self, stage: str, farm: Farm) -> Ration:
        """The ration it is for a stage, every requirement calculated and judged."""
        formula, answer = self.answers[stage]
        return describe(formula, answer, farm)

    def tonnes_per_unit(self, stage: str, by_weight: bool) -> float:
        """Tonnes that bring a stage one unit: a tonne by weight, else a Gcal of its energy."""
        if by_weight:
            return 1.0
        formula, _ = self.answers[stage]
        held, energy = dict(self.shares), formula.stage.energy or ""
        energies = {c.name: c.values[energy] for c in formula.candidates if c.name in held}
        return KCAL_PER_GCAL / KG_PER_TONNE / sum(share * energies[name] for name, share in self.shares)


@dataclass(frozen=True, slots=True)
class Asked:
    """What a kitchen answers at some prices: its cheapest mix, and a cost per unit that none of its mixes goes below.

    Without a mix that cost is infinite where no mix meets everything; else nothing that was calculated stood up to the
    check, and it is only a bound.
    """

    mix: FoundMix | None
    least_cost: float

    @property
    def unverified(self) -> bool:
        """Whether there may be a mix, but none that stood up to the check."""
        return self.mix is None and self.least_cost < inf


class Kitchen:
    """The ration of one stage from what can be had, kept in the solver, to be asked at any prices."""

    def __init__(self, farm: Farm, stage: StageNeeds, supplies: Sequence[Supply], by_weight: bool):
        self.farm, self.stage, self.by_weight = farm, stage, by_weight
        bins = tuple(s.name for s in supplies if s.is_bin)
        formula = build(stage, bins, [s.candidate for s in supplies], farm)
        self.formula = replace(
            formula,
            objective="per_tonne" if by_weight else "per_energy",
            program=replace(formula.program, normalizer=_normalizer(formula, by_weight)),
        )
        self.names = frozenset(s.name for s in supplies)
        self._at_prices = AtPrices(self.formula, farm)
        self._judged: dict[Shares, bool] = {}
        self._as_much_asked: dict[frozenset[str], bool] = {}
        self._hopeless = False  # once no mix met everything, and the nearest one must not be fed

    def asks_no_more_than_of(self, names: frozenset[str]) -> bool:
        """Whether as much is asked of a mix of fewer bins and offers: no need that only others of them can serve."""
        if names not in self._as_much_asked:
            left = [candidate for candidate in self.formula.candidates if candidate.name in names]
            stage, library = self.formula.stage, self.farm.library
            served = all(serves(need, left, library) for need in stage.needs if need.gives_way)
            self._as_much_asked[names] = served and with_coarse_calcium(stage, left) is stage
        return self._as_much_asked[names]

    def mix_at(self, prices: Mapping[str, float]) -> Asked:
        """The cheapest mix at these prices per tonne."""
        program = replace(self.formula.program, costs=tuple(prices[name] for name in self.formula.program.columns))
        try:
            settled = self._at_prices.settled(program.costs)
        except SolverError:
            return Asked(None, cost_bound(program, self._at_prices.row_duals))
        return self._nearest_at(program) if settled is None else self._found(settled)

    def mix_as_before(self, prices: Mapping[str, float]) -> Asked | None:
        """Nearly the cheapest mix at these prices, with what was decided in the last one; `least_cost` is what it costs
        a unit, no bound. None where there is none."""
        settled = self._at_prices.as_before([prices[name] for name in self.formula.program.columns])
        return None if settled is None else self._found(settled)

    def _found(self, settled: Settled) -> Asked:
        answer = Answer(
            settled.solution.amounts, settled.solution, settled.program, settled.confidence, formula=settled.formula
        )
        shares = shares_of(settled.program.columns, answer.amounts or ())
        return Asked(FoundMix(shares, {self.stage.stage: (settled.formula, answer)}), settled.solution.objective)

    def _nearest_at(self, program: Program) -> Asked:
        """Where no mix meets everything, the nearest one as `ration` has it, if a nutritionist may decide on it."""
        amounts = None if self._hopeless else self._at_prices.nearest(program.costs)
        if amounts is not None:
            formula = replace(self.formula, program=program)
            answer = Answer(amounts, formula=formula, nearest=True)
            shares = shares_of(program.columns, amounts)
            if self._may_be_asked_about(shares, formula, answer):
                cost, units = (_dot(row, amounts) for row in (program.costs, program.normalizer))
                return Asked(FoundMix(shares, {self.stage.stage: (formula, answer)}, self.names), cost / units)
        self._hopeless = True
        return Asked(None, inf)

    def _may_be_asked_about(self, shares: Shares, formula: Formula, answer: Answer) -> bool:
        """Whether a nutritionist may decide on a mix: its verdict is no stop. Each mix is judged once."""
        key = same_mix(shares)
        if key not in self._judged:
            self._judged[key] = describe(formula, answer, self.farm).verdict.severity is not Severity.STOP
        return self._judged[key]


def _dot(row: Sequence[float], amounts: Sequence[float]) -> float:
    return sum(a * x for a, x in zip(row, amounts, strict=True))


def shares_of(columns: Sequence[str], amounts: Sequence[float]) -> Shares:
    """Amounts as shares of their sum, without what is only the solver's dust."""
    total = sum(amounts)
    kept = {name: x / total for name, x in zip(columns, amounts, strict=True) if x > IN_MIX * total}
    whole = sum(kept.values())
    return tuple((name, round(share / whole, DIGITS + 3)) for name, share in kept.items())


def same_mix(shares: Shares) -> Shares:
    """What two mixes that are one have in common."""
    return tuple(sorted((name, round(share, DIGITS)) for name, share in shares))


def joint_formula(formulas: Sequence[Formula], prices: Mapping[str, float]) -> Formula | None:
    """The ration of the first formula with the rows of the others, over what all of them may hold; None without any.

    A crystal is in it for a need of any of them."""
    first, *others = formulas
    names = set.intersection(*(set(formula.program.columns) for formula in formulas))
    if not names:
        return None
    held = restricted(first, names)
    columns, energy = held.program.columns, first.stage.energy
    rows = {
        (row.coefficients, row.sense): (row, source)
        for row, source in zip(held.program.rows, held.sources, strict=True)
    }
    crystals = {name: list(keys) for name, keys in held.crystals.items()}
    for other in (restricted(formula, names, columns) for formula in others):
        told: dict[str, str] = {}
        for row, source in zip(other.program.rows, other.sources, strict=True):
            own = replace(row, key=f"{row.key}:{other.stage.stage}")
            kept, _ = rows.setdefault(
                (row.coefficients, row.sense), (own, source if other.stage.energy == energy else None)
            )
            told[row.key] = kept.key
        for name, keys in other.crystals.items():
            crystals.setdefault(name, []).extend(told[key] for key in keys if key in told)
    program = replace(
        held.program, costs=tuple(prices[name] for name in columns), rows=tuple(row for row, _ in rows.values())
    )
    needs = {name: tuple(dict.fromkeys(keys)) for name, keys in crystals.items()}
    return replace(held, program=program, sources=tuple(source for _, source in rows.values()), crystals=needs)


def restricted(formula: Formula, names: Collection[str], order: Sequence[str] = ()) -> Formula:
    """A formula over these of its bins and offers alone, in its own order or in that of `order`."""
    program, columns = formula.program, formula.program.columns
    wanted = tuple(name for name in order or columns if name in names)
    if wanted == columns:
        return formula
    place = {name: j for j, name in enumerate(columns)}
    kept = [place[name] for name in wanted]
    of_kept = itemgetter(*kept) if len(kept) > 1 else _only(kept[0])
    return replace(
        formula,
        bins=tuple(name for name in formula.bins if name in names),
        candidates=tuple(formula.candidates[j] for j in kept),
        program=Program(
            columns=tuple(columns[j] for j in kept),
            costs=tuple(program.costs[j] for j in kept),
            rows=tuple(_over(row, of_kept) for row in program.rows),
            normalizer=tuple(program.normalizer[j] for j in kept),
        ),
    )


def joint_cost(kitchens: Sequence[Kitchen], prices: Mapping[str, float]) -> tuple[Shares, float] | None:
    """About what one mix for all these stages costs a unit of the first, crystals and dust not looked at; None where
    no mix is a ration of all of them as it stands: nothing is eased so that stages may share a mix."""
    formula = joint_formula([kitchen.formula for kitchen in kitchens], prices)
    if formula is None:
        return None
    solution = solve(formula.program)
    if solution.status != "optimal":
        return None
    return shares_of(formula.program.columns, solution.amounts), solution.objective


def joint_mix(
    kitchens: Sequence[Kitchen], prices: Mapping[str, float], at_most: Mapping[str, float] | None = None
) -> FoundMix | None:
    """One mix that is a ration of every stage, cheapest for the first, of no more of a bin or offer than its share
    `at_most`; None where none is found that stands up to the check."""
    formula = joint_formula([kitchen.formula for kitchen in kitchens], prices)
    if formula is None:
        return None
    formula, first = of_at_most(formula, at_most or {}), kitchens[0]
    try:
        settled = settle(formula, first.farm.settings.confidence_pct, first.farm.settings.confidence_of)
    except SolverError:
        return None
    if settled.solution.status != "optimal":
        return None
    shares = shares_of(formula.program.columns, settled.solution.amounts)
    return FoundMix(shares, {k.stage.stage: _judged_by(k, shares) for k in kitchens})


def of_at_most(formula: Formula, shares: Mapping[str, float]) -> Formula:
    """A formula that holds no more than these shares (0 to 1) of bins and offers."""
    columns = formula.program.columns
    rows = tuple(
        ProgramRow(f"{name}: its part of the year", tuple(float(n == name) - share for n in columns), "<=")
        for name, share in shares.items()
        if name in columns
    )
    program = replace(formula.program, rows=(*formula.program.rows, *rows))
    return replace(formula, program=program, sources=(*formula.sources, *(None,) * len(rows)))


def _judged_by(kitchen: Kitchen, shares: Shares) -> tuple[Formula, Answer]:
    """The formula of a stage with the amounts that somebody else's program found."""
    held = dict(shares)
    return kitchen.formula, Answer(tuple(held.get(name, 0.0) for name in kitchen.formula.program.columns))


Picker = Callable[[tuple[float, ...]], tuple[float, ...]]


def _only(place: int) -> Picker:
    return lambda row: (row[place],)


def _over(row: ProgramRow, of_kept: Picker) -> ProgramRow:
    """A row over other columns."""
    sizes = of_kept(row.sizes) if row.sizes else ()
    return ProgramRow(row.key, of_kept(row.coefficients), row.sense, row.relaxable, row.rank, sizes)


def _normalizer(formula: Formula, by_weight: bool) -> tuple[float, ...]:
    if by_weight or formula.stage.energy is None:
        return (1.0,) * len(formula.candidates)
    return tuple(candidate.values[formula.stage.energy] / KCAL_PER_MCAL for candidate in formula.candidates)
