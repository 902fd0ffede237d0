"""The check between solver and reader catches every kind of wrong answer."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.errors import SolverError
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.rations.solve.solver import solve
from rationlp.rations.solve.verify import verify

PROGRAM = Program(
    columns=("grain", "meal", "stone"),
    costs=(150.0, 420.0, 60.0),
    rows=(
        ProgramRow("requirement:protein:minimum", (10 - 16, 45 - 16, -16.0), ">=", relaxable=True),
        ProgramRow("limit:stone:at most", (-0.02, -0.02, 0.98), "<="),
    ),
    normalizer=(1.0, 1.0, 1.0),
)


def test_a_right_answer_passes():
    verify(PROGRAM, solve(PROGRAM))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda s: {"amounts": (s.amounts[0], s.amounts[1] + 0.01, s.amounts[2] - 0.01)}, "differ"),
        (lambda s: {"amounts": (0.8, 0.1, 0.1)}, "requirement:protein:minimum is broken"),
        (lambda s: {"amounts": (0.5, 0.45, 0.05)}, "limit:stone:at most is broken"),
        (lambda s: {"amounts": (0.9, 0.2, -0.1)}, "the amount of stone is -0.1"),
        (lambda s: {"amounts": tuple(2 * x for x in s.amounts)}, "adds up to 2"),
        (lambda s: {"norm_dual": s.norm_dual * 1.01}, "differ"),
        (lambda s: {"row_duals": (-s.row_duals[0], s.row_duals[1])}, "wrong sign"),
        (lambda s: {"row_duals": (s.row_duals[0], 0.0)}, "worth more than it costs|differ"),
    ],
)
def test_a_wrong_answer_is_refused(change, words):
    solution = solve(PROGRAM)
    with pytest.raises(SolverError, match=words):
        verify(PROGRAM, replace(solution, **change(solution)))


def test_the_check_itself_finds_a_dearer_mix_that_meets_every_row():
    """A feasible mix that is not the cheapest is refused by strong duality."""
    solution = solve(PROGRAM)
    dearer = (0.7, 0.3, 0.0)
    assert PROGRAM.cost(dearer) > solution.objective
    with pytest.raises(SolverError, match="differ"):
        verify(PROGRAM, replace(solution, amounts=dearer))
