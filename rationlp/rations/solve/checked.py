"""Answers that stood up to the check: one that does not is looked for in other ways, then refused."""

from __future__ import annotations

from rationlp.rations.program.program import Program, Solution, SolverStatus
from rationlp.rations.solve.solver import LiveProgram, Way, solve
from rationlp.rations.solve.verify import faults, verify


def solve_checked(program: Program, live: LiveProgram | None = None) -> Solution:
    """The verified optimum of `program`, or an answer `infeasible`.

    `live` is the program as it was solved from cold, if it is at hand. Raises SolverError if no way of solving
    gives an answer that stands up to the check, or if the solver stopped at a limit.
    """
    found = Solution(SolverStatus.FAILED)
    for way in Way:
        found = live.solution if live and way is Way.USUAL else solve(program, way)
        if stands(program, found):
            return found
    verify(program, found)  # says what is wrong with it
    return found


def settle(live: LiveProgram) -> Solution:
    """The verified answer of a program in the solver, or `infeasible`.

    If the one at hand is neither it is looked for once more from cold, then in a solver of its own every way. No column
    or row of `live` may be left out. Raises SolverError.
    """
    if not stands(live.program, live.solution):
        live.run_cold()
        if not stands(live.program, live.solution):
            live.solution = solve_checked(live.program)
    return live.solution


def stands(program: Program, solution: Solution) -> bool:
    """Whether an answer is the optimum, as far as can be checked from it, or says that there is none."""
    return solution.status == SolverStatus.INFEASIBLE or not faults(program, solution)
