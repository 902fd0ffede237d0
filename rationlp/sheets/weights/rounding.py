"""Weights that the scale can show: the cheapest whole steps that still meet the ration, verified again.

Where the ration is the cheapest per unit of energy, cost over energy is minimized by solving for cost less ratio times
energy until the ratio stays (W. Dinkelbach, On nonlinear fractional programming, Management Science 13, 1967).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import islice
from math import inf

from rationlp.errors import SolverError
from rationlp.rations.answer.mix import IN_MIX
from rationlp.rations.answer.model import Ration
from rationlp.rations.answer.verdict import Leeway
from rationlp.rations.formulate import SolvedRation
from rationlp.rations.program.least import least_kg
from rationlp.rations.program.only_here import LEAST, weighable
from rationlp.rations.program.program import ProgramRow, SolverStatus
from rationlp.rations.solve.chance import achieved, margin_multiplier, row_sd
from rationlp.rations.solve.general.whole import solve_whole
from rationlp.sheets.practice import REQUIREMENT_TOLERANCE
from rationlp.sheets.weights.missed import CHANCE_TOLERANCE, is_wrong_dose, missed_rows, misses, told_of_the_ration
from rationlp.sheets.weights.nearest import finished, nearest_counts
from rationlp.sheets.weights.scale import Scale, exact
from rationlp.sheets.weights.whole_program import (
    DOSE_TOLERANCE,
    KEEP_AWAY,
    Asked,
    PackedRow,
    Way,
    WholeProgram,
    margins,
)

RUNS_IN = ("bin", "cereal", "fat")
"""Groups that run into the mixer and are stopped at a reading: never weighed in two parts."""
GAP = 1e-6  # of the cost of the batch: a cent in ten thousand
OWN = 0.01  # of the cost of the batch
ENOUGH = 0.002  # of the cost of the batch: nearer to the bound nothing is looked for
WORTH = 1e-5  # of the cost of the batch: a cheaper mix by less than this is not looked for
NEARBY = 3  # programs, the first of them, of the ration's own ingredients in weights worth weighing
NODES = 2_000  # branches of one integer program; the page says how much could still be saved
RATIO_ROUNDS = 8
CUT_ROUNDS = 40
PRINTED = Leeway(stop=REQUIREMENT_TOLERANCE.value, dose_told=DOSE_TOLERANCE, dose_stop=REQUIREMENT_TOLERANCE.value)
"""Where no weights meet a requirement, one missed by so little is for a nutritionist to decide; a premix is rounded up
to what the scale can show."""


@dataclass(frozen=True, slots=True)
class Portion:
    """An ingredient of a batch, or one of its two parts: which candidate of the formula, how much in the book's unit,
    measured how."""

    candidate: int
    mass: Fraction
    way: Way


@dataclass(frozen=True, slots=True)
class WholeMix:
    """A batch in weights the scale can show.

    `ration` is the mix as it will be weighed, judged again. `extra_cost` is the money of this batch beyond the
    ration's own price for the same feed (for the same energy, where the ration is the cheapest energy); `unproven` the
    most of it that any other weights might save. `misses` says what no rounding could meet.
    """

    batch: Fraction
    portions: tuple[Portion, ...]
    ration: Ration
    misses: tuple[str, ...]
    extra_cost: float
    unproven: float

    def masses(self) -> dict[int, Fraction]:
        """Mass of each candidate that is in the batch, all its parts together."""
        found: dict[int, Fraction] = {}
        for portion in self.portions:
            found[portion.candidate] = found.get(portion.candidate, Fraction(0)) + portion.mass
        return found


@dataclass(frozen=True, slots=True)
class _Found:
    """Counts of a program. In fractions of the cost of the batch: what they cost beyond the ration's own price, with
    all that is counted, with margins alone; and how far below that the solver's bound lies."""

    program: WholeProgram
    counts: Sequence[float]
    cost: float
    beyond: float
    gap: float


def whole_mix(recipe: SolvedRation, batch: Fraction, scale: Scale, nearby: bool = False) -> WholeMix | None:
    """A mix of `batch` in whole steps and packages, the ration repaired; None where not even the caps can be kept.

    Weights around the ration are taken where they cost at most a step of the mixer scale (ENOUGH of the batch's cost)
    more than any weights must: each ingredient weighed once, else some in two parts. Where there are none, the
    cheapest of all weights of the ration's own ingredients is taken if it costs at most OWN, or a step, more than the
    ration: nobody wants another bag on the floor for a few cents. Else any offer may come in, and only where no offer
    helps is a requirement given up, the least of it. With `nearby` weights are looked for where they are soon found,
    or none. Raises SolverError.
    """
    asked = _asked(recipe, batch, scale)
    return _repaired(recipe, asked, NEARBY) if nearby else _repaired(recipe, asked) or _nearest(recipe, asked)


def _repaired(recipe: SolvedRation, asked: Asked, programs: int | None = None) -> WholeMix | None:
    """The ration in weights that keep every row, looked for in the first so many `programs`, else in all."""
    own = [j for j, share in enumerate(asked.shares) if share > IN_MIX]
    near, bound = _centre(recipe, asked, own)
    best: _Found | None = None
    for until, program in islice(_programs(asked, own, near), programs):
        found = _cheapest(recipe, program)
        best = min(filter(None, (best, found)), key=lambda one: one.cost, default=None)
        if best and best.beyond - bound <= (until if program.near is None else min(until, _one_step(best))):
            proved = min(found.gap, best.beyond - bound) if found and program.near is None else best.beyond - bound
            return _judged(recipe, replace(best, gap=proved))
    return None


def _one_step(found: _Found) -> float:
    return found.program.asked.step_of(_amounts(found.program, found.counts))


def _programs(asked: Asked, own: Sequence[int], near: Sequence[float]) -> Iterator[tuple[float, WholeProgram]]:
    """Where weights are looked for, in turn, and how far above the bound an answer is good enough. What is not worth
    weighing is weighed where nothing else will do."""
    yield min(asked.one_step, ENOUGH), WholeProgram(asked, own, near)
    yield min(asked.one_step, 2 * ENOUGH), WholeProgram(asked, own, near, split=True)
    anything, enough = asked.weighing_anything_of(own), max(asked.one_step, OWN)
    yield enough, WholeProgram(asked, own, split=True)
    yield enough, WholeProgram(anything, own, split=True)
    yield inf, WholeProgram(anything, range(len(asked.shares)), split=True)


def _asked(recipe: SolvedRation, batch: Fraction, scale: Scale) -> Asked:
    least = min(exact(least_kg(recipe.farm.settings), scale.unit), batch)
    program, shares, formula = weighable(recipe.program, float(least / batch)), recipe.column_shares, recipe.formula
    bags = {o.offer: exact(o.package_kg, scale.unit) for o in recipe.farm.book.supplements if o.package_kg}
    as_it_is = [
        c.min_share or c.premix_covers or IN_MIX < share < formula.least_share * (1 - 1e-6)
        for c, share in zip(formula.candidates, shares, strict=True)
    ]
    kept = [not row.relaxable and not row.key.startswith(LEAST) for row in program.rows]
    return Asked(
        program=program,
        shares=shares,
        batch=batch,
        scale=scale,
        packages=[bags.get(candidate.name) for candidate in formula.candidates],
        least=[scale.hand_step if light else least for light in as_it_is],
        splits=frozenset(j for j, c in enumerate(formula.candidates) if c.group not in RUNS_IN),
        margins=margins(program, kept, shares, batch, scale),
    )


def _centre(recipe: SolvedRation, asked: Asked, own: Sequence[int]) -> tuple[list[float], float]:
    """The ration moved as far from its caps as they are kept, mass by candidate, and what that costs at least, in
    fractions of the cost of the batch: no weights cost less. The ration itself where no scale can err past a cap."""
    shares = tuple(asked.shares)
    batch = float(asked.batch)
    masses = [share * batch for share in shares]
    kept = zip(asked.program.rows, asked.margins, strict=True)
    if not any(margin and abs(asked.program.value(row, tuple(masses))) < margin for row, margin in kept):
        return masses, 0.0
    ratio, price = _prices(recipe, asked)
    columns = [(0.0, batch, False) for _ in own]
    costs = [(asked.program.costs[j] - ratio * asked.program.normalizer[j]) / price for j in own]
    rows: list[PackedRow] = [(dict.fromkeys(range(len(own)), 1.0), batch, batch)]
    for i, row in enumerate(asked.program.rows):
        margin = asked.margins[i]
        terms = {k: row.coefficients[j] for k, j in enumerate(own) if row.coefficients[j]}
        if margin:
            columns.append((0.0, margin, False))
            costs.append(KEEP_AWAY / margin)
            terms[len(columns) - 1] = 1.0 if row.sense == ">=" else -1.0
        low = None if row.sense == "<=" else margin
        rows.append((terms, low, None if row.sense == ">=" else -margin))
    found = solve_whole(costs, columns, rows, GAP, NODES).solution
    if found.status != SolverStatus.OPTIMAL:
        return masses, 0.0
    for k, j in enumerate(own):
        masses[j] = found.amounts[k]
    return masses, found.objective


def _prices(recipe: SolvedRation, asked: Asked) -> tuple[float, float]:
    """The ration's ratio of cost to what it is normalized by, and the cost of the batch that costs are fractions of."""
    costs, normalizer, shares = asked.program.costs, asked.program.normalizer, recipe.column_shares
    cost = sum(c * s for c, s in zip(costs, shares, strict=True))
    ratio = cost / sum(n * s for n, s in zip(normalizer, shares, strict=True))
    return ratio, (cost or max(costs) or 1.0) * float(asked.batch)


def _cheapest(recipe: SolvedRation, program: WholeProgram) -> _Found | None:
    """The cheapest mix of a program that keeps every row and chance; None if there is none.

    Around the ration its own price per unit of energy will do; over all weights the ratio is settled.
    """
    (first, price), cuts = _prices(recipe, program.asked), list[ProgramRow]()
    ratio = first
    for _ in range(RATIO_ROUNDS):
        found = _solved(program, ratio, price, cuts, recipe)
        if found is None:
            return None
        counts, gap = found
        beyond = program.money(ratio, price, counts)
        better = ratio + beyond * price / _normalized(program, counts)
        settled = program.near is not None or abs(beyond) <= GAP
        if settled or (better - ratio) * _more(program, better, price, counts) <= WORTH * price:
            cost = _dot(program.costs(first, price), counts)
            return _Found(program, counts, cost, program.money(first, price, counts) + program.closer(counts), gap)
        ratio = better
    raise SolverError("The whole weights did not settle on a least cost.")


def _more(program: WholeProgram, ratio: float, price: float, counts: Sequence[float]) -> float:
    """How much more of what costs are divided by (mass or energy) any mix that is no dearer by `ratio` could have.

    Such a mix cannot beat `counts` by more than this times the last change of the ratio.
    """
    normalizer = program.program.normalizer
    if len(set(normalizer)) == 1:
        return 0.0
    columns = [(low, high, False) for low, high, _ in program.columns]
    gain = [0.0] * len(columns)
    for candidate, count, way in program.counts:
        gain[count] = -normalizer[candidate] * float(way.step)
    costs = program.costs(ratio, price)
    cost = _dot(costs, counts)
    no_dearer = {j: c for j, c in enumerate(costs) if c}
    most = solve_whole(gain, columns, [*program.rows(), (no_dearer, None, cost + GAP)], GAP, NODES).solution
    if most.status != SolverStatus.OPTIMAL:
        raise SolverError(f"The solver could not bound the whole weights (it says: {most.status}).")
    return max(-most.objective - _normalized(program, counts), 0.0)


def _solved(
    program: WholeProgram, ratio: float, price: float, cuts: list[ProgramRow], recipe: SolvedRation
) -> tuple[Sequence[float], float] | None:
    """Counts, and gap of their cost beyond `ratio` times the normalizer; cuts are added until the chances hold.

    None where there is no such mix, or where NODES branches did not come to one.
    """
    costs = program.costs(ratio, price)
    for _ in range(CUT_ROUNDS):
        found = finished(solve_whole(costs, program.columns, program.rows(cuts), GAP, NODES), "whole weights")
        if found is None:
            return None
        new = _chance_cuts(recipe, _amounts(program, found.solution.amounts))
        if not new:
            return found.solution.amounts, found.unproven
        cuts += new
    raise SolverError("The whole weights at the confidence asked for did not settle.")


def _dot(costs: Sequence[float], counts: Sequence[float]) -> float:
    return sum(cost * count for cost, count in zip(costs, counts, strict=True))


def _normalized(program: WholeProgram, counts: Sequence[float]) -> float:
    amounts = _amounts(program, counts)
    return sum(n * x for n, x in zip(program.program.normalizer, amounts, strict=True))


def _chance_cuts(recipe: SolvedRation, amounts: list[float]) -> list[ProgramRow]:
    """A row for each chance that `amounts` do not keep: the tangent of its margin, which every mix that does keeps."""
    cuts, rows = [], recipe.formula.program.rows
    for chance in recipe.chances:
        if achieved(recipe.formula.program, chance, amounts) >= chance.probability - CHANCE_TOLERANCE:
            continue
        row = rows[chance.index]
        sign = 1.0 if row.sense == ">=" else -1.0
        pull = sign * margin_multiplier(chance.probability) / row_sd(chance, amounts)
        terms = zip(row.coefficients, chance.variances, amounts, strict=True)
        cut = tuple(a - pull * v * x for a, v, x in terms)
        cuts.append(ProgramRow(row.key, cut, row.sense, sizes=row.magnitudes))
    return cuts


def _nearest(recipe: SolvedRation, asked: Asked) -> WholeMix | None:
    """The weights that come nearest where none meet everything; what can be met is met."""
    everything = range(len(asked.shares))
    program = WholeProgram(asked.weighing_anything_of(everything), everything, split=True)
    kept = recipe.answer.solution is not None
    found = nearest_counts(program, *_prices(recipe, asked), kept, GAP, NODES)
    return _judged(recipe, _Found(program, found[0], 0.0, 0.0, found[1])) if found else None


def _amounts(program: WholeProgram, counts: Sequence[float]) -> list[float]:
    amounts = [0.0] * len(program.program.columns)
    for candidate, mass, _ in program.read(counts):
        amounts[candidate] += float(mass)
    return amounts


def _judged(recipe: SolvedRation, found: _Found) -> WholeMix:
    """The mix that was found, every law and row calculated again from the masses alone. Raises SolverError."""
    program, counts, asked = found.program, found.counts, found.program.asked
    portions = tuple(Portion(*line) for line in program.read(counts))
    if abs(sum(portion.mass for portion in portions) - asked.batch) > program.slack:
        raise SolverError("The whole weights do not add up to the batch, so they are not shown.")
    amounts = _amounts(program, counts)
    ration = recipe.judged(amounts, PRINTED)
    beside = missed_rows(recipe, asked, amounts, any(is_wrong_dose(reason) for reason in ration.verdict.reasons))
    verdict = ration.verdict.plus(beside)
    ration = replace(ration, verdict=verdict.plus(told_of_the_ration(recipe.verdict, verdict)))
    missed = misses(recipe.ration.verdict, ration.verdict)
    ratio, price = _prices(recipe, asked)
    per_unit = asked.scale.kg / 1000  # costs are per tonne
    cost = sum(c * x for c, x in zip(program.program.costs, amounts, strict=True))
    return WholeMix(
        batch=asked.batch,
        portions=portions,
        ration=ration,
        misses=missed,
        extra_cost=(cost - ratio * _normalized(program, counts)) * per_unit,
        unproven=found.gap * price * per_unit if found.gap > GAP else 0.0,
    )
