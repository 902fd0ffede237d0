"""PuLP builds the program, HiGHS solves it in this process."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import replace
from enum import StrEnum
from math import isfinite
from typing import Any

import pulp

from rationlp.rations.program.program import (
    NOTHING_LEFT_OUT,
    Basis,
    LeftOut,
    Program,
    ProgramRow,
    RowArrays,
    Solution,
    SolverStatus,
)
from rationlp.rations.solve.highs import OPTIONS, PLAIN, Highs, Matrix, Problem, linear, run_on, run_plain, status_of
from rationlp.rations.solve.verify import proves_none


class Way(StrEnum):
    """How a program is solved from cold: as always, or in a way that has little in common with it."""

    USUAL = "usual"  # no presolve
    PLAIN = "plain"  # nor scaling, and the primal simplex
    EVEN = "even"  # presolve, and every row in units of its largest coefficient: some count vitamins, some percent


_WAYS: dict[Way, dict[str, Any]] = {
    Way.USUAL: {"presolve": "off"},  # it takes three quarters of a ration's solve and leaves nothing out of it
    Way.PLAIN: PLAIN,
    Way.EVEN: {},
}


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
    found = LiveProgram(replace(program, rows=rows), Way.EVEN).solution
    duals = zip(found.row_duals, sizes, strict=True) if found.row_duals else ()
    return replace(found, row_duals=tuple(dual / size for dual, size in duals))


class LiveProgram:
    """A program kept in the solver, so that prices, bounds and rows change in place.

    `program` is always the program as it stands now (`arrays` its rows), but for what is `left_out`, and `solution` the
    answer to it. An answer `infeasible` was proved; whoever takes numbers verifies them.
    """

    def __init__(self, program: Program, way: Way = Way.USUAL):
        self.program = program
        self.arrays = RowArrays.of(program.rows, len(program.columns))
        self._highs = _built_and_solved(program, self.arrays, way)
        self._row_of_solver = list(range(len(program.rows)))  # the normalization stands after these
        self._norm_row = len(program.rows)
        self._barred = _barred(program.rows)
        self.left_out = NOTHING_LEFT_OUT
        self.solution = self._read()

    def set_costs(self, costs: Sequence[float]) -> None:
        """New costs for every column; nothing is solved yet."""
        for column, (old, new) in enumerate(zip(self.program.costs, costs, strict=True)):
            if old != new:
                self._highs.changeColCost(column, new)
        self.program = replace(self.program, costs=tuple(costs))

    def add_rows(self, rows: Sequence[ProgramRow]) -> None:
        """More rows; nothing is solved yet."""
        if not rows:
            return
        more, first = RowArrays.of(rows, len(self.program.columns)), self._highs.getNumRow()
        Matrix.of(more).add_to(self._highs)
        self._row_of_solver += range(first, first + len(rows))
        self.program = replace(self.program, rows=(*self.program.rows, *rows))
        self.arrays = self.arrays.followed_by(more)
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
        self._row_of_solver = [row - bisect_left(gone, row) for row in rows]
        self.program = replace(self.program, rows=tuple(self.program.rows[place] for place in kept))
        self.arrays = self.arrays.only(kept)
        self._barred = _barred(self.program.rows)

    def leave_out(self, columns: Iterable[int] = (), rows: Iterable[int] = ()) -> None:
        """Hold these columns at zero and lift these rows, and only these; `program` keeps them all.

        Nothing is solved yet.
        """
        infinity = self._highs.getInfinity()
        before, lifted = self.left_out.columns, self.left_out.rows
        now, to_lift = frozenset(columns), frozenset(rows)
        for column in before - now:
            self._highs.changeColBounds(column, 0.0, infinity)
        for column in now - before:
            self._highs.changeColBounds(column, 0.0, 0.0)
        for row in lifted - to_lift:
            self._highs.changeRowBounds(self._row_of_solver[row], *self._bounds(self.program.rows[row].sense))
        for row in to_lift - lifted:
            self._highs.changeRowBounds(self._row_of_solver[row], -infinity, infinity)
        self.left_out = LeftOut(now, to_lift)

    def run(self) -> Solution:
        """Solve what stands now, from the last answer."""
        self._highs.run()
        self.solution = self._read()
        return self.solution

    def run_cold(self) -> Solution:
        """Solve what stands now with the last answer forgotten."""
        self._highs.clearSolver()
        return self.run()

    def run_for_basis(self, anew: bool = False) -> tuple[SolverStatus, Basis | None]:
        """Solve what stands now, from the last answer, and read no numbers: the status, and the basis if optimal.

        Where the last answer leads nowhere, or to an `infeasible` without proof, it is looked for from cold, then in
        the plain way; `anew`: in the plain way at once. Whoever takes a basis works out amounts and prices from it and
        proves them.
        """
        if not anew:
            run_on(self._highs)
        status = SolverStatus.FAILED if anew else self._status()
        if status is SolverStatus.FAILED:
            run_plain(self._highs)
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
        """What the solver says; an `infeasible` that it cannot prove is none."""
        status = status_of(self._highs)
        if status is SolverStatus.INFEASIBLE and not self._proves_none():
            return SolverStatus.FAILED
        return status

    def _proves_none(self) -> bool:
        """Whether the solver's weights of the rows prove that no mix keeps all of them."""
        _, there, found = self._highs.getDualRay()
        if not there or found is None:
            return False
        weights = [float(weight) for weight in found]
        rows = [weights[row] for row in self._row_of_solver]
        return proves_none(self.program, rows, weights[self._norm_row], self.left_out)

    def _read(self) -> Solution:
        """Status, amounts and duals, all of them numbers; columns stand as they were made."""
        status = self._status()
        if status is not SolverStatus.OPTIMAL:
            return Solution(status)
        answer = self._highs.getSolution()
        # each is copied when it is asked for
        values, duals, reduced = answer.col_value, answer.row_dual, answer.col_dual
        amounts = tuple([0.0 if j in self._barred else max(x, 0.0) for j, x in enumerate(values)])
        found = Solution(
            status=SolverStatus.OPTIMAL,
            amounts=amounts,
            objective=self.program.cost(amounts),
            row_duals=tuple([duals[row] for row in self._row_of_solver]),
            norm_dual=duals[self._norm_row],
            reduced_costs=tuple(reduced),
        )
        return found if all(map(isfinite, (*values, *duals, *reduced))) else Solution(SolverStatus.FAILED)


def _barred(rows: Sequence[ProgramRow]) -> frozenset[int]:
    """Columns that a row by itself holds at nothing: the solver's dust in them (1e-10) is not an amount."""
    return frozenset(
        next(j for j, a in enumerate(row.coefficients) if a)
        for row in rows
        if row.sense == "<=" and row.coefficients.count(0.0) == len(row.coefficients) - 1 and max(row.coefficients) > 0
    )


def _built_and_solved(
    program: Program, arrays: RowArrays, way: Way
) -> Any:  # a highspy.Highs, which pulp hands over without its type
    """The live HiGHS object of `program` after PuLP solved it."""
    # PuLP 3 hands columns over by name, PuLP 4 as they were made: padded names make both the same.
    problem = Problem("ration", pulp.LpMinimize)
    columns = [problem.add_variable(f"x{i:05d}", 0, None) for i in range(len(program.columns))]
    problem += linear(list(zip(columns, program.costs, strict=True)))
    return Highs(Matrix.of(arrays, program.normalizer), msg=False, **OPTIONS, **_WAYS[way]).solved(problem)
