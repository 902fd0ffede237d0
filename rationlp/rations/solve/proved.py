"""Whether a program has no answer is proved as well as the answer is: a solver may err in either direction.

A program called infeasible is looked at again with every row allowed to give way: if the least that must give is no
more than rounding, there is an answer.
"""

from __future__ import annotations

from dataclasses import replace

from rationlp.rations.program.program import Program, ProgramRow, Solution, SolverStatus
from rationlp.rations.solve.checked import solve_checked, stands
from rationlp.rations.solve.nearest import elastic_of, nearest_mix
from rationlp.rations.solve.solver import LiveProgram, Way, solve
from rationlp.rations.solve.verify import ZERO, faults, row_holds


def solve_proved(program: Program, live: LiveProgram | None = None) -> Solution:
    """The verified optimum of `program`, or an answer `infeasible` where even the nearest mix breaks a row.

    `live` is the program as it was solved from cold, if it is at hand. Raises SolverError if no answer stands up to
    the check.
    """
    found = solve_checked(program, live)
    if found.status == SolverStatus.OPTIMAL:
        return found
    return _barely(program) or found


def _barely(program: Program) -> Solution | None:
    """The answer to a program called infeasible that only rounding keeps from having one; None if it has none.

    Every row is loosened by just what it lacks in the mix that comes nearest, which `verify` has room for.
    """
    for nearest in (_least_missed, nearest_mix):
        amounts = nearest(program)
        if amounts is None or not all(row_holds(program, row, amounts) for row in program.rows):
            continue
        for tried in (program, replace(program, rows=tuple(_loosened(program, row, amounts) for row in program.rows))):
            found = solve(tried, Way.PLAIN)
            if found.status == SolverStatus.OPTIMAL and not faults(program, found):
                return found
    return None


def _least_missed(program: Program) -> tuple[float, ...] | None:
    """The amounts, one in all, that miss the rows by the least in sum, laws of the mix as well as requirements."""
    every = replace(program, rows=tuple(replace(row, relaxable=True) for row in program.rows))
    elastic = elastic_of(every)
    found = solve(elastic.program)
    fit = found.status == SolverStatus.OPTIMAL and stands(elastic.program, found)
    return found.amounts[: elastic.columns] if fit else None


def _loosened(program: Program, row: ProgramRow, amounts: tuple[float, ...]) -> ProgramRow:
    """The row moved by what it lacks at `amounts`; an equality to where it is there."""
    missed = program.value(row, amounts) / sum(amounts)
    if row.sense == "=":
        move = -missed
    elif row.sense == ">=":
        move = max(-missed, 0.0) + ZERO / 2
    else:
        move = -max(missed, 0.0) - ZERO / 2
    return replace(row, coefficients=tuple(a + move for a in row.coefficients), sizes=row.magnitudes)
