"""The verified optimum of a formula: of plain averages, or at a confidence."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from rationlp.errors import SolverError, given
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.program import Program, Solution, SolverStatus
from rationlp.rations.program.rows import need_rows
from rationlp.rations.solve.all_at_once import AllAtOnce
from rationlp.rations.solve.chance import chance_rows, solve_confidently, solve_with_chance
from rationlp.rations.solve.checked import solve_checked
from rationlp.rations.solve.model import PER_TONNE, Confidence, MarginCost
from rationlp.rations.solve.proved import solve_proved
from rationlp.rations.solve.solver import LiveProgram
from rationlp.stages.model import ALL, AVERAGES_PCT, Need

LEVELS_PCT = (80.0, 90.0, 95.0)
ROUGHLY = 1e-3  # of the cost: near enough for a price beside others


def cost_unit(formula: Formula) -> str:
    """What the objective counts by, in words."""
    return PER_TONNE if formula.objective == "per_tonne" else "per Gcal"


def optimum(
    formula: Formula,
    confidence_pct: float,
    confidence_of: str = "each",
    asked: AllAtOnce | None = None,
    live: LiveProgram | None = None,
) -> tuple[Program, Solution, Confidence | None]:
    """The program as it was solved (with the cuts of a confidence), its answer, verified if it is optimal, and the cost
    of the confidence. `confidence_of` is whether it is that of each requirement, or of all at once; `asked` is then the
    formula in the solver, where it is to be asked again, and `live` its program as it was solved from cold."""
    if confidence_of == ALL:
        return _optimum_of_all(asked or AllAtOnce(formula), confidence_pct)
    if confidence_pct > AVERAGES_PCT:
        chances = chance_rows(
            formula.program, formula.sources, formula.candidates, formula.stage.energy, confidence_pct
        )
        return solve_confidently(formula.program, chances, confidence_pct, cost_unit(formula))
    return formula.program, solve_proved(formula.program, live), None


def _optimum_of_all(asked: AllAtOnce, confidence_pct: float) -> tuple[Program, Solution, Confidence | None]:
    """The least-cost mix that misses nothing with this chance, or the likeliest there is."""
    formula = asked.formula
    likely = asked.at(confidence_pct)
    if likely is None:
        return formula.program, asked.averages(), None
    return (
        likely.program,
        likely.solution,
        Confidence(
            asked_pct=confidence_pct,
            attained_pct=confidence_pct if likely.reached else 100 * likely.probability,
            unit=cost_unit(formula),
            cost=likely.solution.objective,
            cost_of_averages=asked.averages().objective,
            cost_of_fixed_margins=None,
            of_all=True,
        ),
    )


def confidence_prices(
    formula: Formula, confidence_of: str = "each", levels_pct: Sequence[float] = LEVELS_PCT
) -> tuple[tuple[float, float | None], ...]:
    """What the ration costs, by the objective (money per tonne or per Gcal), at each confidence in percent; None where
    it cannot be had, nothing at all where an answer does not stand up to the check: the ration stands without them.

    One program in the solver, whose cuts that bind are kept from each level to the next. With `confidence_of` all the
    costs are within a part in a thousand.
    """
    try:
        return _prices_of(formula, confidence_of, sorted(levels_pct))
    except SolverError:
        return ()


def _prices_of(formula: Formula, confidence_of: str, levels: Sequence[float]) -> tuple[tuple[float, float | None], ...]:
    if confidence_of == ALL:
        asked = AllAtOnce(formula, ROUGHLY)
        return tuple((pct, asked.cost_at(pct)) for pct in levels)
    live, found = LiveProgram(formula.program), []
    even = chance_rows(formula.program, formula.sources, formula.candidates, formula.stage.energy, AVERAGES_PCT)
    for pct in levels:
        chances = [replace(chance, probability=max(chance.probability, pct / 100)) for chance in even]
        _, solution = solve_with_chance(formula.program, chances, live)
        if solution.status != SolverStatus.OPTIMAL:
            break  # nor can a higher one
        found.append((pct, solution.objective))
        first = len(formula.program.rows)
        live.drop_rows([first + i for i, dual in enumerate(solution.row_duals[first:]) if not dual])
    return (*found, *((pct, None) for pct in levels[len(found) :]))


def solve_at(
    formula: Formula, program: Program, confidence_pct: float, confidence_of: str = "each"
) -> tuple[Program, Solution]:
    """The answer to `program`, the formula's own with other costs, another normalization or more rows at its end.

    Chances of the formula's rows are kept at a confidence above 50. Verified if it is optimal.
    """
    sources = (*formula.sources, *(None,) * (len(program.rows) - len(formula.sources)))
    if confidence_of == ALL:
        likely = AllAtOnce(replace(formula, program=program, sources=sources)).at(confidence_pct)
        if likely is None or not likely.reached:
            return program, Solution(SolverStatus.INFEASIBLE)
        return likely.program, likely.solution
    if confidence_pct > AVERAGES_PCT:
        chances = chance_rows(program, sources, formula.candidates, formula.stage.energy, confidence_pct)
        program, solution = solve_with_chance(program, chances)
        return program, solution
    return program, solve_checked(program)


def without_margin(formula: Formula) -> Formula:
    """The same formula with amino acid minima as the tables print them."""
    rows, sources = list(formula.program.rows), list(formula.sources)
    for index, (row, source) in enumerate(zip(rows, sources, strict=True)):
        if isinstance(source, Need) and source.margin_pct and row.sense == ">=":
            minimum = given(source.minimum, f"the minimum of {source.nutrient}") / (1 + source.margin_pct / 100)
            plain = replace(source, minimum=minimum, maximum=None, margin_pct=0.0)
            ((made, _),) = need_rows([plain], formula.candidates, formula.stage.energy)
            rows[index], sources[index] = replace(made, key=row.key), plain
    return replace(formula, program=replace(formula.program, rows=tuple(rows)), sources=tuple(sources))


def margin_cost(formula: Formula, cost: float, solved: Callable[[Formula], Solution]) -> MarginCost | None:
    """What the book's margin costs in a formula whose ration costs `cost`; None where it asks for none.

    `solved` answers a formula as this ration was answered.
    """
    margin = next((s.margin_pct for s in formula.sources if isinstance(s, Need) and s.margin_pct), 0.0)
    if not margin:
        return None
    solution = solved(without_margin(formula))
    found = solution.status == SolverStatus.OPTIMAL
    return MarginCost(margin, cost_unit(formula), cost, solution.objective if found else None)
