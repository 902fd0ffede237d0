"""Weights that the scale can show: the cheapest whole steps that still meet the ration, verified again.

Where the ration is the cheapest per unit of energy, cost over energy is minimized by solving for cost less ratio times
energy until the ratio stays (W. Dinkelbach, On nonlinear fractional programming, Management Science 13, 1967).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from rationlp.errors import SolverError
from rationlp.numbers import figure
from rationlp.rations.answer.mix import IN_MIX
from rationlp.rations.answer.model import Ration
from rationlp.rations.answer.verdict import Leeway
from rationlp.rations.formulate import SolvedRation
from rationlp.rations.program.program import Program, ProgramRow, SolverStatus
from rationlp.rations.solve.chance import achieved, margin_multiplier, row_sd
from rationlp.rations.solve.settle import weighable
from rationlp.rations.solve.solver import WholeAnswer, solve_whole
from rationlp.rations.solve.verify import row_holds
from rationlp.reasons import Kind, Reason, Severity, Verdict
from rationlp.sheets.practice import REQUIREMENT_TOLERANCE
from rationlp.sheets.scale import Scale, exact
from rationlp.sheets.whole_program import DOSE_TOLERANCE, PackedRow, Way, WholeProgram, band
from rationlp.stages.model import Cap

GAP = 1e-6  # of the cost of the batch: a cent in ten thousand
OWN = 0.01  # of the cost of the batch
WORTH = 1e-5  # of the cost of the batch: a cheaper mix by less than this is not looked for
NODES = 2_000  # branches of a first try at one integer program, enough for the batches of most farms
MORE_NODES = 4_000  # of a second, after its columns were narrowed; the page says how much could still be saved
RATIO_ROUNDS = 8
CUT_ROUNDS = 40
CHANCE_TOLERANCE = 1e-6
PRINTED = Leeway(stop=REQUIREMENT_TOLERANCE.value, dose_told=DOSE_TOLERANCE, dose_stop=REQUIREMENT_TOLERANCE.value)
"""Where no weights meet a requirement, one missed by so little is for a nutritionist to decide; a premix is rounded up
to what the scale can show."""


@dataclass(frozen=True, slots=True)
class Portion:
    """One ingredient of a batch: which candidate of the formula, how much in the book's unit, measured how."""

    candidate: int
    mass: Fraction
    way: Way


@dataclass(frozen=True, slots=True)
class WholeMix:
    """A batch in weights the scale can show.

    `ration` is the mix as it will be weighed, judged again. `extra_cost` is the money of this batch beyond the
    ration's own price for the same feed (for the same energy, where the ration is the cheapest energy); `unproven` the
    most of it that a longer search might still save. `misses` says what no rounding could meet.
    """

    batch: Fraction
    portions: tuple[Portion, ...]
    ration: Ration
    misses: tuple[str, ...]
    extra_cost: float
    unproven: float


def whole_mix(recipe: SolvedRation, batch: Fraction, scale: Scale) -> WholeMix | None:
    """The cheapest mix of `batch` in whole steps and packages; None where not even the caps can be kept.

    The ration's own ingredients are taken where that costs at most OWN more than the ration: nobody wants another bag
    on the floor for a few cents. Else any offer may come in, and only where no offer helps is a requirement given up,
    the least of it. Raises SolverError.
    """
    packages = _packages(recipe, scale.unit)
    shares = recipe.column_shares
    asked = weighable(recipe.program)
    own = WholeProgram(asked, shares, batch, scale, packages, [j for j, share in enumerate(shares) if share > IN_MIX])
    found = _cheapest(recipe, own)
    if found and _beyond(recipe, own, found[0]) <= OWN:
        return _judged(recipe, own, *found)
    every = WholeProgram(asked, shares, batch, scale, packages, range(len(shares)))
    wider = _cheapest(recipe, every)
    if wider and (found is None or _beyond(recipe, every, wider[0]) < _beyond(recipe, own, found[0])):
        return _judged(recipe, every, *wider)
    if found:
        return _judged(recipe, own, *found)
    nearest = _nearest(recipe, every)
    return _judged(recipe, every, *nearest) if nearest else None


def _beyond(recipe: SolvedRation, program: WholeProgram, counts: Sequence[float]) -> float:
    """Cost beyond the ration's own price for the same feed, in fractions of the cost of the batch."""
    ratio, price = _prices(recipe, program)
    return sum(cost * count for cost, count in zip(program.costs(ratio, price), counts, strict=True))


def _packages(recipe: SolvedRation, unit: str) -> list[Fraction | None]:
    masses = {offer.offer: exact(offer.package_kg, unit) for offer in recipe.farm.book.supplements if offer.package_kg}
    return [masses.get(candidate.name) for candidate in recipe.formula.candidates]


def _prices(recipe: SolvedRation, program: WholeProgram) -> tuple[float, float]:
    """The ration's ratio of cost to what it is normalized by, and the cost of the batch that costs are fractions of."""
    costs, normalizer, shares = program.program.costs, program.program.normalizer, recipe.column_shares
    cost = sum(c * s for c, s in zip(costs, shares, strict=True))
    ratio = cost / sum(n * s for n, s in zip(normalizer, shares, strict=True))
    return ratio, (cost or max(costs) or 1.0) * float(program.batch)


def _cheapest(recipe: SolvedRation, program: WholeProgram) -> tuple[list[float], float] | None:
    """Counts of the cheapest mix that keeps every row and chance, and the gap left; None if there is none."""
    ratio, price = _prices(recipe, program)
    cuts: list[ProgramRow] = []
    for _ in range(RATIO_ROUNDS):
        found = _solved(program, ratio, price, cuts, recipe)
        if found is None:
            return None
        counts, gap, beyond = found
        better = ratio + beyond * price / _normalized(program, counts)
        if abs(beyond) <= GAP or (better - ratio) * _more(program, better, price, counts) <= WORTH * price:
            return counts, gap
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
    no_dearer = {j: cost for j, cost in enumerate(program.costs(ratio, price)) if cost}
    most = solve_whole(gain, columns, [*program.rows(), (no_dearer, None, 0.0)], GAP, NODES).solution
    if most.status != SolverStatus.OPTIMAL:
        raise SolverError(f"The solver could not bound the whole weights (it says: {most.status}).")
    return max(-most.objective - _normalized(program, counts), 0.0)


def _solved(
    program: WholeProgram, ratio: float, price: float, cuts: list[ProgramRow], recipe: SolvedRation
) -> tuple[list[float], float, float] | None:
    """Counts, gap and cost beyond `ratio` times the normalizer; cuts are added until the chances hold.

    None where there is no such mix, or where NODES branches did not come to one.
    """
    costs = program.costs(ratio, price)
    for _ in range(CUT_ROUNDS):
        found = solve_whole(costs, program.columns, program.rows(cuts), GAP, NODES)
        if found.found and found.unproven > GAP:
            found = _narrowed(program, costs, cuts, found)
        solution, gap = found.solution, found.unproven
        if not found.found and solution.status in (SolverStatus.INFEASIBLE, SolverStatus.LIMIT_REACHED):
            return None
        if not found.found:
            raise SolverError(f"The solver could not finish the whole weights (it says: {solution.status}).")
        new = _chance_cuts(recipe, _amounts(program, solution.amounts))
        if not new:
            return list(solution.amounts), gap, solution.objective
        cuts += new
    raise SolverError("The whole weights at the confidence asked for did not settle.")


def _narrowed(program: WholeProgram, costs: list[float], cuts: list[ProgramRow], first: WholeAnswer) -> WholeAnswer:
    """A second try, every ingredient held to the range in which a mix no dearer than `first` can have it."""
    rows = program.rows(cuts)
    loose = [(low, high, False) for low, high, _ in program.columns]
    no_dearer: PackedRow = ({j: cost for j, cost in enumerate(costs) if cost}, None, first.solution.objective)
    ranges: dict[int, tuple[float, float]] = {}
    for candidate in dict.fromkeys(candidate for candidate, _, _ in program.counts):
        ends = []
        for sign in (1.0, -1.0):
            mass = [0.0] * len(loose)
            for other, count, way in program.counts:
                mass[count] = sign * float(way.step) * (other == candidate)
            end = solve_whole(mass, loose, [*rows, no_dearer], GAP, NODES).solution
            if end.status != SolverStatus.OPTIMAL:
                return first
            ends.append(sign * end.objective)
        ranges[candidate] = (ends[0], ends[1])
    columns, held = program.held_to(ranges)
    second = solve_whole(costs, columns, [*rows, *held], GAP, MORE_NODES)
    return second if second.found and second.solution.objective <= first.solution.objective else first


def _normalized(program: WholeProgram, counts: Sequence[float]) -> float:
    amounts = _amounts(program, counts)
    return sum(n * x for n, x in zip(program.program.normalizer, amounts, strict=True))


def _chance_cuts(recipe: SolvedRation, amounts: list[float]) -> list[ProgramRow]:
    """A row for each chance that `amounts` do not keep: the tangent of its margin, which every mix that does keeps."""
    cuts = []
    for chance in recipe.chances:
        if achieved(recipe.formula.program, chance, amounts) >= chance.probability - CHANCE_TOLERANCE:
            continue
        row = recipe.formula.program.rows[chance.index]
        sign = 1.0 if row.sense == ">=" else -1.0
        pull = sign * margin_multiplier(chance.probability) / row_sd(chance, amounts)
        terms = zip(row.coefficients, chance.variances, amounts, strict=True)
        cut = tuple(a - pull * v * x for a, v, x in terms)
        cuts.append(ProgramRow(row.key, cut, row.sense, sizes=row.magnitudes))
    return cuts


def _nearest(recipe: SolvedRation, program: WholeProgram) -> tuple[list[float], float] | None:
    """Counts of the mix with the least total shortfall, each a fraction of its need, and then the least cost."""
    rows, slacks = program.elastic_rows()
    shortfall = [0.0] * len(program.columns)
    for column in slacks:
        shortfall[column] = 1.0
    least = solve_whole(shortfall, program.columns, rows, GAP, MORE_NODES)
    first = least.solution
    if not least.found and first.status in (SolverStatus.INFEASIBLE, SolverStatus.LIMIT_REACHED):
        return None
    if not least.found:
        raise SolverError(f"The solver could not finish the nearest whole weights (it says: {first.status}).")
    held: PackedRow = (dict.fromkeys(slacks, 1.0), None, first.objective * (1 + GAP) + GAP)
    costs = program.costs(*_prices(recipe, program))
    second = solve_whole(costs, program.columns, [*rows, held], GAP, NODES)
    return (list(second.solution.amounts), second.unproven) if second.found else (list(first.amounts), 0.0)


def _amounts(program: WholeProgram, counts: Sequence[float]) -> list[float]:
    amounts = [0.0] * len(program.program.columns)
    for candidate, mass, _ in program.read(counts):
        amounts[candidate] += float(mass)
    return amounts


def _judged(recipe: SolvedRation, program: WholeProgram, counts: list[float], gap: float) -> WholeMix:
    """The mix of `counts` with every law and row calculated again from the masses alone. Raises SolverError."""
    portions = tuple(Portion(*line) for line in program.read(counts))
    if abs(sum(portion.mass for portion in portions) - program.batch) > program.slack:
        raise SolverError("The whole weights do not add up to the batch, so they are not shown.")
    amounts = _amounts(program, counts)
    ration = recipe.judged(amounts, PRINTED)
    beside = _missed_rows(recipe, program, amounts, any(_is_wrong_dose(reason) for reason in ration.verdict.reasons))
    verdict = ration.verdict.plus(beside)
    ration = replace(ration, verdict=verdict.plus(_still_asked(recipe.verdict, verdict)))
    misses = _misses(recipe.ration.verdict, ration.verdict)
    ratio, price = _prices(recipe, program)
    per_unit = program.scale.kg / 1000  # costs are per tonne
    cost = sum(c * x for c, x in zip(program.program.costs, amounts, strict=True))
    return WholeMix(
        batch=program.batch,
        portions=portions,
        ration=ration,
        misses=misses,
        extra_cost=(cost - ratio * _normalized(program, counts)) * per_unit,
        unproven=gap * price * per_unit if gap > GAP else 0.0,
    )


def _still_asked(exact: Verdict, weighed: Verdict) -> list[Reason]:
    """What is to be asked of the exact ration and happens to be met in whole weights: a sheet is not told to be better
    than its ration."""
    return list(exact.weighing(Severity.ASK)) if weighed.severity is Severity.FEED else []


def _is_wrong_dose(reason: Reason) -> bool:
    """Whether a reason speaks of a dose of premix that is too far off for a sheet."""
    return reason.kind is Kind.PREMIX and reason.nutrient is None and reason.severity is not Severity.FEED


def _misses(exact: Verdict, weighed: Verdict) -> tuple[str, ...]:
    """What the weights miss that the exact ration meets: needs and doses."""
    known = {(reason.kind, reason.nutrient) for reason in exact.reasons if reason.severity is not Severity.FEED}
    return tuple(
        reason.text
        for reason in weighed.of(Kind.REQUIREMENT, Kind.PREMIX)
        if reason.severity is not Severity.FEED and (reason.kind, reason.nutrient) not in known
    )


def _missed_rows(recipe: SolvedRation, program: WholeProgram, amounts: list[float], dose_told: bool) -> list[Reason]:
    """What the weights miss beside requirements: chances, and doses where they are not told already (`dose_told`).

    A cap that is passed is no answer at all.
    """
    found: list[Reason] = []
    formula: Program = recipe.formula.program
    for row, source in zip(formula.rows, recipe.formula.sources, strict=True):
        if row.sense == "=" and dose_told and row.key.startswith("premix:"):
            continue
        if row.sense == "=":
            allowed = band(formula, row, recipe.column_shares, program.batch, program.scale)
            value = formula.value(row, tuple(amounts))
            slack = 1e-6 * allowed.size
            if not allowed.low - slack <= value <= allowed.high + slack:
                percent = 100 * (1 + value / allowed.size)
                text = f"{_dose_words(row)}: {figure(percent, 3)} % of it in weights the scale can show."
                found.append(Reason(Kind.PREMIX, Severity.ASK, text, unit="%", value=percent, limit=100))
        elif not row_holds(formula, row, tuple(amounts)) and (isinstance(source, Cap) or not row.relaxable):
            raise SolverError(f"The whole weights break {row.key}, so they are not shown.")
    if any(achieved(formula, c, amounts) < c.probability - CHANCE_TOLERANCE for c in recipe.chances):
        text = "In weights the scale can show, not every requirement is met as surely as the book asks for."
        found.append(Reason(Kind.REQUIREMENT, Severity.ASK, text, source="confidence_pct of the book"))
    return found


def _dose_words(row: ProgramRow) -> str:
    kind, name, *_ = row.key.split(":")
    return f"One dose of {name.replace('_', ' ')}" if kind == "premix" else f"The set share of {name}"
