"""Answers that stood up to the check: one that does not is looked for in other ways, then refused."""

from __future__ import annotations

from dataclasses import replace

from rationlp.rations.program.program import (
    NOTHING_LEFT_OUT,
    LeftOut,
    Program,
    ProgramRow,
    RowArrays,
    Solution,
    SolverStatus,
)
from rationlp.rations.solve.solver import LiveProgram, Way, solve
from rationlp.rations.solve.verify import faults, verify


def solve_checked(program: Program, live: LiveProgram | None = None) -> Solution:
    """The verified optimum of `program`, or an answer `infeasible`.

    `live` is the program as it was solved from cold, if it is at hand. Raises SolverError if no way of solving
    gives an answer that stands up to the check, or if the solver stopped at a limit.
    """
    found = Solution(SolverStatus.FAILED)
    arrays = live.arrays if live else RowArrays.of(program.rows, len(program.columns))
    for way in Way:
        found = live.solution if live and way is Way.USUAL else solve(program, way)
        if stands(program, found, arrays=arrays):
            return found
    verify(program, found)  # says what is wrong with it
    return found


def settle(live: LiveProgram) -> Solution:
    """The verified answer of a program in the solver, but for what is left out of it, or `infeasible`.

    If the one at hand is neither it is looked for once more from cold, then in a solver of its own every way. Raises
    SolverError.
    """
    if not _live_stands(live):
        live.run_cold()
        if not _live_stands(live):
            live.solution = _apart(live)
    return live.solution


def run_settled(live: LiveProgram) -> Solution:
    """Solve what stands in the solver now, from the last answer, as `settle` does."""
    live.run()
    return settle(live)


def stands(
    program: Program, solution: Solution, left_out: LeftOut = NOTHING_LEFT_OUT, arrays: RowArrays | None = None
) -> bool:
    """Whether an answer is the optimum, as far as can be checked from it, or says that there is none, which is proved
    where it is read (rationlp.rations.solve.solver)."""
    return solution.status == SolverStatus.INFEASIBLE or not faults(program, solution, left_out, arrays)


def _live_stands(live: LiveProgram) -> bool:
    return stands(live.program, live.solution, live.left_out, live.arrays)


def _apart(live: LiveProgram) -> Solution:
    """The answer to what stands in `live`, in solvers of its own."""
    program, left_out = live.program, live.left_out
    kept = [i for i in range(len(program.rows)) if i not in left_out.rows]
    none = tuple(
        ProgramRow(f"{program.columns[j]} left out", tuple(float(j == k) for k in range(len(program.columns))), "<=")
        for j in sorted(left_out.columns)
    )
    found = solve_checked(replace(program, rows=(*(program.rows[i] for i in kept), *none)))
    duals = dict(zip(kept, found.row_duals, strict=False))
    by_row = tuple(duals.get(i, 0.0) for i in range(len(program.rows))) if found.row_duals else ()
    return replace(found, row_duals=by_row)
