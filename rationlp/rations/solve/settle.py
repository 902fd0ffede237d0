"""From the optimum of a formula to a mix that a farm feeds: usual bounds eased, crystals only as needed, no dust.

Three things that are no plain rows of the program:

- What the trade uses at most gives way where nothing else can be met: the least total excess, each in parts of its own
  bound, is sought by an elastic program, and the rows are moved by just that much before the least cost is sought.
- A crystalline amino acid is in a mix only so far as one of its own needs holds it. Either it is out, or what the mix
  supplies is no more than ALLOWANCE over that need, or it is no more than the least that can be weighed.
- What is in a mix is either out, or at least what the farm's scales can weigh into a batch.

The last two are either-or. Each alternative is the program with one row more, so that the least cost over all is
found by branch and bound (A. H. Land, A. G. Doig, An automatic method of solving discrete programming problems,
Econometrica 28, 1960), best first: the first answer in which nothing is left to decide is the cheapest of all. Every
answer is that of a linear program and is verified as such. The search is limited by a number of programs, never by a
clock; past the limit the cheaper alternative is taken at each step.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import count

from rationlp.feeds.candidates import Candidate
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.only_here import (
    AT_LEAST,
    CRYSTAL,
    LEAST,
    all_out,
    bare,
    kept_to,
    same_again,
    with_rows,
)
from rationlp.rations.program.program import Program, ProgramRow, Solution, SolverStatus
from rationlp.rations.program.rows import PRICED_RANKS, USUAL_RANK
from rationlp.rations.solve.all_at_once import CLOSE, AllAtOnce, risk_split
from rationlp.rations.solve.chance import CUT_MARK, chance_rows, solve_with_chance
from rationlp.rations.solve.checked import run_settled
from rationlp.rations.solve.model import Confidence
from rationlp.rations.solve.nearest import elastic_of
from rationlp.rations.solve.optimum import optimum, solve_at
from rationlp.rations.solve.solver import LiveProgram
from rationlp.rations.solve.verify import row_holds, verify
from rationlp.stages.model import ALL, AVERAGES_PCT, Cap

IN_MIX = 1e-7
"""Smaller shares are the solver's dust, unless a row hangs on them."""
ALLOWANCE, ALLOWANCE_SURE = 0.01, 0.30
"""By what part of itself a need may be passed and still hold a crystal: at plain averages, and with a confidence, where
the need is passed on purpose (a judgement)."""
PROGRAMS = 80
"""So many programs are solved at most before the cheaper alternative is taken at each step."""
ROUNDS_OF_ALL = 3
"""So often the alternatives are weighed anew where all requirements hold at once with a chance."""
_LESS_SURE, _SURER = (1.0, 1.5, 3.0, 10.0), (1.0, 0.98, 0.9, 0.7, 0.4)
"""Times the risk of each row, in the order in which they are tried."""
ROOM = 1e-7
"""Of the mix, that an eased bound has more than it needs."""

Alternative = tuple[ProgramRow, ...]
Unheld = list[tuple[int, tuple[str, ...]]]


@dataclass(frozen=True, slots=True)
class Settled:
    """The formula as it was solved in the end, the program (with the cuts of a confidence) and its verified answer."""

    formula: Formula
    program: Program
    solution: Solution
    confidence: Confidence | None


def settle(formula: Formula, confidence_pct: float, confidence_of: str = "each") -> Settled:
    """The cheapest mix of `formula` that a farm feeds, at a confidence; `solution` as it is where there is none."""
    asked, live = _in_solver(formula, confidence_pct, confidence_of)
    program, solution, confidence = optimum(formula, confidence_pct, confidence_of, asked, live)
    short = confidence is not None and confidence.attained_pct < confidence.asked_pct
    if solution.status == "infeasible" or short:
        eased = eased_formula(formula, confidence_pct)
        if eased is not None:
            formula = eased
            asked, live = _in_solver(formula, confidence_pct, confidence_of)
            program, solution, confidence = optimum(formula, confidence_pct, confidence_of, asked, live)
    settled = Settled(formula, program, solution, confidence)
    if solution.status == "optimal" and open_choice(formula, program, solution):
        attained = confidence.attained_pct if confidence else confidence_pct
        if asked:
            settled = _chosen_of_all(settled, attained, asked)
        else:
            settled = decided(settled, _runner(formula, attained, live))
    if settled.confidence is None:
        return settled
    averages = settle(bare(settled.formula), AVERAGES_PCT).solution
    told = replace(
        settled.confidence,
        cost=settled.solution.objective,
        cost_of_averages=averages.objective if averages.status == "optimal" else settled.confidence.cost_of_averages,
    )
    return replace(settled, confidence=told)


def _in_solver(
    formula: Formula, confidence_pct: float, confidence_of: str
) -> tuple[AllAtOnce | None, LiveProgram | None]:
    """The formula in the solver where it is asked more than once: with all its chances, or as plain averages."""
    if confidence_of == ALL:
        return AllAtOnce(formula), None
    return None, LiveProgram(formula.program) if confidence_pct <= AVERAGES_PCT else None


def eased_formula(formula: Formula, confidence_pct: float) -> Formula | None:
    """`formula` with the bounds of the trade moved as little as lets all else be met; None where that is not enough.

    What gives way to cost moves none of them: it is missed before they are. First with the chances of a confidence,
    then, where these cannot be kept whatever the trade says, on averages.
    """
    rows, first = formula.program.rows, (*PRICED_RANKS, USUAL_RANK)
    usual = {i for i, row in enumerate(rows) if row.rank == USUAL_RANK and row.relaxable}
    if not usual:
        return None
    rows = tuple(replace(row, relaxable=row.relaxable and row.rank in first) for row in rows)
    found = elastic_of(replace(formula.program, rows=rows))
    columns = len(formula.candidates)
    weights = tuple(1 / _bound(formula, i) if i in usual else 0.0 for i in found.places)
    elastic = replace(found.program, costs=(0.0,) * columns + weights)
    solution = Solution(SolverStatus.INFEASIBLE)
    if confidence_pct > AVERAGES_PCT:
        chances = chance_rows(
            formula.program, formula.sources, formula.candidates, formula.stage.energy, confidence_pct
        )
        none = (0.0,) * len(found.places)
        _, solution = solve_with_chance(elastic, [replace(c, variances=(*c.variances, *none)) for c in chances])
    excesses = solution.amounts[columns:] if solution.status == "optimal" else _least_excess(formula, elastic)
    if excesses is None:
        return None
    moved = list(formula.program.rows)
    for i, excess in zip(found.places, excesses, strict=True):
        if i in usual and excess > ROOM:
            wider = tuple(a - excess - ROOM for a in moved[i].coefficients)
            moved[i] = replace(moved[i], coefficients=wider)
    return replace(formula, program=replace(formula.program, rows=tuple(moved)))


def _least_excess(formula: Formula, elastic: Program) -> Sequence[float] | None:
    """By how much each bound of the trade is passed at the least, by mixes whose crystals are held by a need.

    A crystal that nothing needs would be a filler here, and could not be taken out once the bounds are moved so little.
    """
    columns, first = len(formula.candidates), len(elastic.rows)
    live, found = LiveProgram(elastic), {}

    def run(rows: tuple[ProgramRow, ...]) -> tuple[Program, Solution]:
        live.drop_rows(range(first, len(live.program.rows)))
        padding = (0.0,) * (len(elastic.costs) - columns)
        live.add_rows(tuple(replace(row, coefficients=(*row.coefficients, *padding)) for row in rows))
        solution = run_settled(live)
        if solution.status == "optimal":
            found[tuple(row.key for row in rows)] = solution.amounts[columns:]
            solution = replace(solution, amounts=solution.amounts[:columns])
        return with_rows(formula, rows).program, solution

    program, solution = run(())
    if solution.status != "optimal":
        return None
    chosen = decided(Settled(formula, program, solution, None), run, check=lambda _program, _solution: None)
    return found[tuple(row.key for row in chosen.formula.program.rows[len(formula.program.rows) :])]


def _bound(formula: Formula, index: int) -> float:
    """What an excess of a usual row counts in parts of: rows of nutrients are in parts of their bound already."""
    source = formula.sources[index]
    return (source.max_share or 1.0) if isinstance(source, Cap) else 1.0


def open_choice(formula: Formula, program: Program, solution: Solution) -> tuple[Alternative, ...]:
    """The alternatives of the first thing that the answer leaves undecided; empty if nothing is."""
    unheld, light = undecided(formula, program, solution)
    return _crystal_ways(formula, *unheld[0], program) if unheld else least_ways(formula, light, program)


def undecided(formula: Formula, program: Program, solution: Solution) -> tuple[Unheld, int | None]:
    """Each crystal that none of its needs holds though there is more than can be weighed, with the keys of these needs;
    and the lightest of what is too light to weigh."""
    least, total = formula.least_share, sum(solution.amounts)
    shares = tuple(amount / total for amount in solution.amounts)
    free = [
        j
        for j, candidate in enumerate(formula.candidates)
        if _is_in(j, shares, program) and not candidate.min_share and not _only_premix(candidate, formula)
    ]
    crystals = [
        (j, keys)
        for j in free
        if (keys := formula.crystals.get(formula.candidates[j].name)) is not None and shares[j] > least * (1 + 1e-6)
    ]
    holding = _holding({key for _, keys in crystals for key in keys}, program, solution, shares)
    light = min((j for j in free if shares[j] < least * (1 - 1e-6)), key=lambda j: shares[j], default=None)
    return [(j, keys) for j, keys in crystals if not holding.intersection(keys)], light


def fillers(formula: Formula, program: Program, solution: Solution) -> list[Candidate]:
    """The crystals in a settled answer that none of their needs holds: no mix without them meets everything."""
    return [formula.candidates[j] for j, _ in undecided(formula, program, solution)[0]]


def _is_in(column: int, shares: tuple[float, ...], program: Program) -> bool:
    """Whether a feed is in the mix: in more than dust, or in a trace that a row hangs on (a vitamin's, a crystal's)."""
    share = shares[column]
    if share > IN_MIX or not share:
        return share > IN_MIX
    without = (*shares[:column], 0.0, *shares[column + 1 :])
    return not all(row_holds(program, row, without) for row in program.rows if row.coefficients[column])


def _holding(needs: set[str], program: Program, solution: Solution, shares: tuple[float, ...]) -> set[str]:
    """Those of these needs that hold a crystal: met with no more than the allowance, or with a cut that has a price."""
    allowance, rows = _allowance(program) * (1 + 1e-6), program.rows
    return {
        key
        for place, (key, cut, _) in enumerate(row.key.partition(CUT_MARK) for row in rows)
        if key in needs and (solution.row_duals[place] if cut else program.value(rows[place], shares) <= allowance)
    }


def _allowance(program: Program) -> float:
    return ALLOWANCE_SURE if any(CUT_MARK in row.key for row in program.rows) else ALLOWANCE


def _crystal_ways(formula: Formula, column: int, keys: Sequence[str], program: Program) -> tuple[Alternative, ...]:
    name, allowance = formula.candidates[column].name, _allowance(program)
    by_key = {row.key: row for row in formula.program.rows}
    held = [(kept_to(formula, column, by_key[key], allowance),) for key in keys if key in by_key]
    same = (column, *same_again(formula, column, _but_cuts(program)))
    at_most = tuple(float(j in same) - formula.least_share for j in range(len(formula.candidates)))
    least = (ProgramRow(f"{CRYSTAL}{name}:the least that can be weighed", at_most, "<="),)
    return (all_out(formula, same, CRYSTAL), *held, least)


def _but_cuts(program: Program) -> list[ProgramRow]:
    """The rows without the cuts of a confidence, which only look at what is in the mix."""
    return [row for row in program.rows if CUT_MARK not in row.key]


def _only_premix(candidate: Candidate, formula: Formula) -> bool:
    """Whether a candidate is a premix whose dose no other premix of the formula could give in its place."""
    parts = set(candidate.premix_covers)
    return bool(parts) and not any(
        parts <= set(other.premix_covers) for other in formula.candidates if other.name != candidate.name
    )


def least_ways(formula: Formula, column: int | None, program: Program) -> tuple[Alternative, ...]:
    """Out, or enough to weigh: the alternatives of a column that is too light; none where there is no column."""
    if column is None:
        return ()
    name, least = formula.candidates[column].name, formula.least_share
    at_least = tuple(float(j == column) - least for j in range(len(formula.candidates)))
    return (
        all_out(formula, (column, *same_again(formula, column, _but_cuts(program))), LEAST),
        (ProgramRow(f"{LEAST}{name}{AT_LEAST}", at_least, ">="),),
    )


Runner = Callable[[tuple[ProgramRow, ...]], tuple[Program, Solution]]
Check = Callable[[Program, Solution], None]
Choice = Callable[[Formula, Program, Solution], tuple[Alternative, ...]]


def _chosen_of_all(settled: Settled, confidence_pct: float, asked: AllAtOnce) -> Settled:
    """What `decided` finds where all requirements hold at once with a chance.

    The alternatives are weighed with the risk shared out over the rows as in the mix at hand; the one chosen is then
    solved for the chance of all itself, or for the likeliest mix it has, and weighed again where that leaves something
    undecided. What is undecided after the last round is a trace of a feed on the edge of the likely mixes: there the
    rows are made a little surer instead, until the mix without the trace is as likely.
    """
    last, wanted_pct = settled, confidence_pct
    for _ in range(ROUNDS_OF_ALL):
        chosen = next((one for part in _LESS_SURE if (one := _chosen_as_sure(last, part)) is not last), last)
        likely = asked.narrowed(chosen.formula).at(confidence_pct) if chosen is not last else None
        if likely is None:
            break
        wanted_pct = confidence_pct if likely.reached else 100 * likely.probability
        last = replace(chosen, program=likely.program, solution=likely.solution, confidence=_with(settled, wanted_pct))
        if not open_choice(last.formula, last.program, last.solution):
            return last
    for part in _SURER:
        chosen = _chosen_as_sure(last, part)
        if chosen is not last and asked.joint.probability(chosen.solution.amounts) >= wanted_pct / 100 - CLOSE:
            return chosen
    return last


def _with(settled: Settled, attained_pct: float) -> Confidence | None:
    """The confidence of a mix, with another chance than was had before the choice."""
    return settled.confidence and replace(settled.confidence, attained_pct=attained_pct)


def _chosen_as_sure(settled: Settled, risk: float) -> Settled:
    """What `decided` finds with each row as sure as in the mix at hand, or with `risk` times what it risks there."""
    split = [
        replace(row, probability=max(1 - risk * (1 - row.probability), AVERAGES_PCT / 100))
        for row in risk_split(settled.formula, settled.solution.amounts)
    ]
    return decided(settled, lambda rows: solve_with_chance(with_rows(settled.formula, rows).program, split))


def decided(settled: Settled, run: Runner, check: Check = verify, choice: Choice = open_choice) -> Settled:
    """The cheapest answer in which nothing is left undecided; `settled` as it is where no alternative can be met.

    `check` raises SolverError for an answer of `run` that does not stand up to it; `choice` says what one leaves open.
    """
    formula, order, tried = settled.formula, count(), 0
    heap: list[tuple[float, int, tuple[ProgramRow, ...], Program, Solution]] = []
    heapq.heappush(heap, (settled.solution.objective, next(order), (), settled.program, settled.solution))
    while heap:
        _, _, rows, program, solution = heapq.heappop(heap)
        open_ = choice(formula, program, solution)
        if not open_:
            check(program, solution)
            return Settled(with_rows(formula, rows), program, solution, settled.confidence)
        if tried >= PROGRAMS:
            heap = []  # from here on the cheaper alternative, step by step
        for alternative in open_:
            more = (*rows, *alternative)
            found_program, found = run(more)
            tried += 1
            if found.status == "optimal":
                heapq.heappush(heap, (found.objective, next(order), more, found_program, found))
    return settled


def decided_from(settled: Settled, live: LiveProgram) -> Settled:
    """What `decided` finds for plain averages, with the program of `settled` as it stands in the solver."""
    return decided(settled, _runner(settled.formula, AVERAGES_PCT, live))


def _runner(formula: Formula, confidence_pct: float, live: LiveProgram | None) -> Runner:
    """Solves the formula's program with more rows at its end, kept in the solver where rows carry no chance."""
    if confidence_pct > AVERAGES_PCT:
        return lambda rows: solve_at(formula, with_rows(formula, rows).program, confidence_pct)
    live, first = live or LiveProgram(formula.program), len(formula.program.rows)

    def run(rows: tuple[ProgramRow, ...]) -> tuple[Program, Solution]:
        live.drop_rows(range(first, len(live.program.rows)))
        live.add_rows(rows)
        solution = run_settled(live)
        return live.program, solution

    return run
