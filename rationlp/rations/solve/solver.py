"""PuLP builds the program, HiGHS solves it in this process."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import inf
from typing import Any

import pulp

from rationlp.rations.program.program import Basis, Program, ProgramRow, Solution, SolverStatus
from rationlp.rations.solve.highs import OPTIONS, STATUS, Highs, Matrix, Problem, linear

_SETTLED = ("kOptimal", "kInfeasible")
FEASIBLE = 2  # what HiGHS calls a point that keeps every row
NO_GUESSES: dict[str, Any] = dict.fromkeys(
    (
        "mip_heuristic_run_feasibility_jump",
        "mip_heuristic_run_rins",
        "mip_heuristic_run_rens",
        "mip_heuristic_run_root_reduced_cost",
    ),
    False,
)
"""Searches for a good answer before the branching: on programs of a dozen columns they take most of the time."""


class Way(StrEnum):
    """How a program is solved from cold: as always, or in a way that has little in common with it."""

    USUAL = "usual"
    PLAIN = "plain"  # no presolve, no scaling, the primal simplex
    EVEN = "even"  # every row in units of its largest coefficient: some count vitamins, some percent


_WAYS: dict[Way, dict[str, object]] = {
    Way.USUAL: {},
    Way.PLAIN: {"presolve": "off", "simplex_strategy": 4, "simplex_scale_strategy": 0},
    Way.EVEN: {},
}


def _run_on(highs: Any) -> None:  # a highspy.Highs, which pulp hands over without its type
    """Solve what stands, from the last answer; where that leads nowhere from cold, then from cold in the plain way."""
    highs.run()
    if highs.getModelStatus().name not in _SETTLED:
        highs.clearSolver()
        highs.run()
    if highs.getModelStatus().name not in _SETTLED:
        _run_plain(highs)


def _run_plain(highs: Any) -> None:
    """Solve what stands from cold in the plain way; whatever comes next is solved as before."""
    before = {name: highs.getOptionValue(name)[1] for name in _WAYS[Way.PLAIN]}
    highs.clearSolver()
    for name, value in _WAYS[Way.PLAIN].items():
        highs.setOptionValue(name, value)
    highs.run()
    for name, value in before.items():
        highs.setOptionValue(name, value)


def solve(program: Program, way: Way = Way.USUAL) -> Solution:
    """Solve `program` once, from cold."""
    return _evenly(program) if way is Way.EVEN else LiveProgram(program, way).solution


def _evenly(program: Program) -> Solution:
    """The answer to the program with rows of one size; its duals are those of the rows as they stand."""
    sizes = [max(map(abs, row.coefficients), default=0.0) or 1.0 for row in program.rows]
    rows = tuple(
        replace(row, coefficients=tuple(a / size for a in row.coefficients))
        for row, size in zip(program.rows, sizes, strict=True)
    )
    found = LiveProgram(replace(program, rows=rows)).solution
    duals = zip(found.row_duals, sizes, strict=True) if found.row_duals else ()
    return replace(found, row_duals=tuple(dual / size for dual, size in duals))


class LiveProgram:
    """A program kept in the solver, so that prices, bounds and rows change in place.

    `program` is always the program as it stands now and `solution` the answer to it; whoever edits verifies.
    """

    def __init__(self, program: Program, way: Way = Way.USUAL):
        self.program = program
        self._highs = _built_and_solved(program, way)
        self._row_of_solver = list(range(len(program.rows)))  # the normalization stands after these
        self._norm_row = len(program.rows)
        self._barred = _barred(program.rows)
        self._left_out: tuple[frozenset[int], frozenset[int]] = (frozenset(), frozenset())
        self.solution = self._read()

    def set_costs(self, costs: Sequence[float]) -> None:
        """New costs for every column; nothing is solved yet."""
        for column, (old, new) in enumerate(zip(self.program.costs, costs, strict=True)):
            if old != new:
                self._highs.changeColCost(column, new)
        self.program = replace(self.program, costs=tuple(costs))

    def add_rows(self, rows: Sequence[ProgramRow]) -> None:
        """More rows; nothing is solved yet."""
        for row in rows:
            terms = [(j, a) for j, a in enumerate(row.coefficients) if a]
            self._row_of_solver.append(self._highs.getNumRow())
            self._highs.addRow(*self._bounds(row.sense), len(terms), [j for j, _ in terms], [a for _, a in terms])
        self.program = replace(self.program, rows=(*self.program.rows, *rows))
        self._barred = self._barred | _barred(rows)

    def drop_rows(self, places: Sequence[int]) -> None:
        """Take out rows that were added, by their places in `program`; nothing is solved yet."""
        gone = sorted(self._row_of_solver[place] for place in places)
        if not gone:
            return
        self._highs.deleteRows(len(gone), gone)
        dropped = set(places)
        kept = [place for place in range(len(self.program.rows)) if place not in dropped]
        rows = [self._row_of_solver[place] for place in kept]
        self._row_of_solver = [row - sum(row > other for other in gone) for row in rows]
        self.program = replace(self.program, rows=tuple(self.program.rows[place] for place in kept))
        self._barred = _barred(self.program.rows)

    def leave_out(self, columns: Iterable[int] = (), rows: Iterable[int] = ()) -> None:
        """Hold these columns at zero and lift these rows, and only these; `program` keeps them all.

        Nothing is solved yet.
        """
        infinity = self._highs.getInfinity()
        (before, lifted), (now, to_lift) = self._left_out, (frozenset(columns), frozenset(rows))
        for column in before - now:
            self._highs.changeColBounds(column, 0.0, infinity)
        for column in now - before:
            self._highs.changeColBounds(column, 0.0, 0.0)
        for row in lifted - to_lift:
            self._highs.changeRowBounds(self._row_of_solver[row], *self._bounds(self.program.rows[row].sense))
        for row in to_lift - lifted:
            self._highs.changeRowBounds(self._row_of_solver[row], -infinity, infinity)
        self._left_out = now, to_lift

    def run(self) -> Solution:
        """Solve what stands now, from the last answer."""
        self._highs.run()
        self.solution = self._read()
        return self.solution

    def run_cold(self) -> Solution:
        """Solve what stands now with the last answer forgotten."""
        self._highs.clearSolver()
        return self.run()

    def run_for_basis(self) -> tuple[SolverStatus, Basis | None]:
        """Solve what stands now, from the last answer, and read no numbers: the status, and the basis if optimal.

        Where the last answer leads nowhere it is looked for from cold, then in the plain way. Whoever takes a basis
        works out amounts and prices from it and proves them.
        """
        _run_on(self._highs)
        status = self._status()
        return status, self.basis() if status is SolverStatus.OPTIMAL else None

    def basis(self) -> Basis:
        """The basis of the last answer, which was optimal."""
        _, basic = self._highs.getBasicVariables()  # a column by its place, the slack of a row by -1 less its place
        columns = tuple(sorted(place for place in basic.tolist() if place >= 0))
        slack = {-1 - place for place in basic.tolist() if place < 0}
        rows = tuple(i for i, row in enumerate(self._row_of_solver) if row not in slack)
        return Basis(columns, rows, self._norm_row not in slack)

    def _bounds(self, sense: str) -> tuple[float, float]:
        infinity = self._highs.getInfinity()
        return {">=": (0.0, infinity), "<=": (-infinity, 0.0), "=": (0.0, 0.0)}[sense]

    def _status(self) -> SolverStatus:
        return STATUS.get(self._highs.getModelStatus().name, SolverStatus.FAILED)

    def _read(self) -> Solution:
        """Status, amounts and duals; columns stand as they were made."""
        status = self._status()
        if status is not SolverStatus.OPTIMAL:
            return Solution(status)
        answer = self._highs.getSolution()
        amounts = tuple([0.0 if j in self._barred else max(x, 0.0) for j, x in enumerate(answer.col_value)])
        duals = list(answer.row_dual)
        return Solution(
            status=SolverStatus.OPTIMAL,
            amounts=amounts,
            objective=self.program.cost(amounts),
            row_duals=tuple([duals[row] for row in self._row_of_solver]),
            norm_dual=duals[self._norm_row],
            reduced_costs=tuple(answer.col_dual),
        )


def _barred(rows: Sequence[ProgramRow]) -> frozenset[int]:
    """Columns that a row by itself holds at nothing: the solver's dust in them (1e-10) is not an amount."""
    return frozenset(
        next(j for j, a in enumerate(row.coefficients) if a)
        for row in rows
        if row.sense == "<=" and row.coefficients.count(0.0) == len(row.coefficients) - 1 and max(row.coefficients) > 0
    )


NODES = 2_000
"""How many branches of an integer program are looked at unless told otherwise; the same on every machine."""


@dataclass(frozen=True, slots=True)
class WholeAnswer:
    """What came of an integer program, and how far the bound on its cost may still fall.

    `solution.status` is optimal within the gap asked for, infeasible, or limit_reached: then `solution.amounts` are the
    best found so far (empty: none yet) and nothing is known of whether there is none.
    """

    solution: Solution
    unproven: float

    @property
    def found(self) -> bool:
        """Whether there are amounts to go by, proved the best or not."""
        return bool(self.solution.amounts)


def solve_whole(
    costs: Sequence[float],
    columns: Sequence[tuple[float, float | None, bool]],
    rows: Sequence[tuple[Mapping[int, float], float | None, float | None]],
    gap: float,
    nodes: int = NODES,
) -> WholeAnswer:
    """Minimize sum(costs x columns), some columns whole numbers.

    `columns` are (lower, upper or None, whole); `rows` (coefficient by column, at least, at most). Stops within `gap`
    of the least cost, or after `nodes` branches with the best answer found: a limit by work, on one thread, so that the
    same question has the same answer on every machine, busy or not.
    """
    problem = Problem("whole", pulp.LpMinimize)
    kinds = {True: "Integer", False: "Continuous"}
    made = [problem.add_variable(f"n{i:05d}", low, up, kinds[whole]) for i, (low, up, whole) in enumerate(columns)]
    problem += linear(list(zip(made, costs, strict=True)))
    for coefficients, at_least, at_most in rows:
        terms = [(made[i], a) for i, a in coefficients.items()]
        if at_least is not None and at_least == at_most:  # as two rows HiGHS 1.16 may never leave the first branch
            problem += linear(terms) == at_least
            continue
        if at_least is not None:
            problem += linear(terms) >= at_least
        if at_most is not None:
            problem += linear(terms) <= at_most
    highs = Highs(msg=False, gapRel=0.0, gapAbs=gap, mip_max_nodes=nodes, parallel="off", **NO_GUESSES).solved(problem)
    status = STATUS.get(highs.getModelStatus().name, SolverStatus.FAILED)
    info = highs.getInfo()
    stopped = status is SolverStatus.LIMIT_REACHED and info.primal_solution_status == FEASIBLE
    if status is not SolverStatus.OPTIMAL and not stopped:
        return WholeAnswer(Solution(status), inf if status is SolverStatus.LIMIT_REACHED else 0.0)
    amounts = tuple(
        float(round(x)) if whole else x for x, (_, _, whole) in zip(highs.getSolution().col_value, columns, strict=True)
    )
    objective = sum(c * x for c, x in zip(costs, amounts, strict=True))
    return WholeAnswer(Solution(status, amounts, objective), objective - info.mip_dual_bound if stopped else gap)


@dataclass(frozen=True, slots=True)
class LinearAnswer:
    """What the solver said of a `LiveLinear`. `row_duals` are the change of the cost for one more unit of a right side.

    Numbers only where `status` is optimal.
    """

    status: SolverStatus
    amounts: tuple[float, ...] = ()
    cost: float = float("nan")
    row_duals: tuple[float, ...] = ()


class LiveLinear:
    """Minimize sum(costs x columns), columns at least 0, rows equal to their right sides; kept in the solver.

    Columns come in, costs and right sides change in place. Every row has a column from the start.
    """

    def __init__(self, costs: Sequence[float], rows: Sequence[tuple[Mapping[int, float], float]]):
        problem = Problem("linear", pulp.LpMinimize)
        made = [problem.add_variable(f"n{i:05d}", 0, None) for i in range(len(costs))]
        problem += linear(list(zip(made, costs, strict=True)))
        for coefficients, right in rows:
            problem += linear([(made[i], a) for i, a in coefficients.items()]) == right
        self._highs = Highs(msg=False, **OPTIONS).solved(problem)
        self._costs = list(costs)

    def add_column(self, cost: float, coefficients: Mapping[int, float]) -> int:
        """One more column with its coefficient by row; its place. Nothing is solved yet."""
        filled = {row: a for row, a in coefficients.items() if a}
        self._highs.addCol(cost, 0.0, self._highs.getInfinity(), len(filled), list(filled), list(filled.values()))
        self._costs.append(cost)
        return len(self._costs) - 1

    def set_cost(self, column: int, cost: float) -> None:
        """Another cost of a column; nothing is solved yet."""
        if cost != self._costs[column]:
            self._highs.changeColCost(column, cost)
            self._costs[column] = cost

    def set_most(self, column: int, most: float) -> None:
        """The most of a column, infinite for no end; nothing is solved yet."""
        self._highs.changeColBounds(column, 0.0, min(most, self._highs.getInfinity()))

    def set_right(self, row: int, right: float) -> None:
        """Another right side of a row; nothing is solved yet."""
        self._highs.changeRowBounds(row, right, right)

    def run(self) -> LinearAnswer:
        """Solve what stands now, from the last answer; from cold where that leads nowhere, then in the plain way."""
        _run_on(self._highs)
        status = STATUS.get(self._highs.getModelStatus().name, SolverStatus.FAILED)
        if status is not SolverStatus.OPTIMAL:
            return LinearAnswer(status)
        found = self._highs.getSolution()
        amounts = tuple(max(x, 0.0) for x in found.col_value)
        cost = sum(c * x for c, x in zip(self._costs, amounts, strict=True))
        return LinearAnswer(status, amounts, cost, tuple(found.row_dual))


def _built_and_solved(program: Program, way: Way) -> Any:  # a highspy.Highs, which pulp hands over without its type
    """The live HiGHS object of `program` after PuLP solved it."""
    # PuLP 3 hands columns over by name, PuLP 4 as they were made: padded names make both the same.
    problem = Problem("ration", pulp.LpMinimize)
    columns = [problem.add_variable(f"x{i:05d}", 0, None) for i in range(len(program.columns))]
    problem += linear(list(zip(columns, program.costs, strict=True)))
    return Highs(Matrix.of(program), msg=False, **OPTIONS, **_WAYS[way]).solved(problem)
