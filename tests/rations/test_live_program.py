"""A program kept in the solver, and the small parts of solving around it: every figure is calculated by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from rationlp.rations.program.program import Basis, Program, ProgramRow, Solution, SolverStatus
from rationlp.rations.solve.all_at_once import AllAtOnce
from rationlp.rations.solve.general.whole import matrix_of, solve_linear, solve_whole
from rationlp.rations.solve.joint_chance import JointChance
from rationlp.rations.solve.settle import _only_premix
from rationlp.rations.solve.solver import LiveProgram, Way, solve
from rationlp.rations.solve.verify import _dual_faults, faults

PROTEIN = ProgramRow("protein", (-6.0, 24.0, -16.0), ">=", relaxable=True)
"""At least 16 %: grain has 10 %, meal 40 %, salt none."""
SALT = ProgramRow("salt", (-0.01, -0.01, 0.99), ">=")
"""At least 1 %."""
PROGRAM = Program(("grain", "meal", "salt"), (200.0, 400.0, 1000.0), (PROTEIN, SALT), (1.0, 1.0, 1.0))
MIX = (0.99 - 6.1 / 30, 6.1 / 30, 0.01)
"""0.99 of grain and meal; 24 m - 6 (0.99 - m) = 16 x 0.01."""
COST = 200 * MIX[0] + 400 * MIX[1] + 10
DUALS = (20 / 3, 2600 / 3)
"""Meal is 200 dearer than grain and has 30 points more; salt costs 1000 = cost - 16 x 20/3 + 2600/3."""


def stands(live: LiveProgram, mix: tuple[float, ...]) -> None:
    """The mix, its cost, and prices that prove it."""
    found = live.run()
    assert found.status is SolverStatus.OPTIMAL and found.amounts == pytest.approx(mix, abs=1e-9)
    cost = sum(price * share for price, share in zip(live.program.costs, mix, strict=True))
    assert (found.objective, found.norm_dual) == pytest.approx((cost, cost))
    assert faults(live.program, found, live.left_out) == []
    assert _dual_faults(live.program, found, live.left_out) == [], "price by price, as where one is doubtful"


@pytest.mark.parametrize("way", Way)
def test_every_way_has_the_same_answer(way):
    found = solve(PROGRAM, way)
    assert found.amounts == pytest.approx(MIX) and found.objective == pytest.approx(COST)
    assert found.row_duals == pytest.approx(DUALS) and found.norm_dual == pytest.approx(COST)
    assert found.reduced_costs == pytest.approx((0, 0, 0), abs=1e-9)


@pytest.mark.parametrize(
    ("row", "mix"),
    [
        (ProgramRow("meal", (-0.3, 0.7, -0.3), ">="), (0.69, 0.30, 0.01)),
        (ProgramRow("grain", (0.3, -0.7, -0.7), "<="), (0.70, 0.29, 0.01)),
        (ProgramRow("salt", (-0.02, -0.02, 0.98), "="), (0.98 - 6.2 / 30, 6.2 / 30, 0.02)),
        (ProgramRow("loose", (-0.9, 0.1, -0.9), "<="), MIX),
    ],
    ids=["at least", "at most", "just", "loose"],
)
def test_a_row_comes_in_is_lifted_and_goes(row, mix):
    live = LiveProgram(PROGRAM)
    live.add_rows([row])
    assert live.program.rows == (PROTEIN, SALT, row)
    stands(live, mix)
    live.leave_out(rows=[2])
    stands(live, MIX)
    live.leave_out()
    stands(live, mix)
    live.drop_rows([2])
    assert live.program.rows == (PROTEIN, SALT)
    stands(live, MIX)


def test_a_row_that_goes_leaves_the_others_their_places():
    """Meal at most 25 % goes; grain at most 70 % stays, and its price stands behind those of protein and salt."""
    meal, grain = ProgramRow("meal", (-0.25, 0.75, -0.25), "<="), ProgramRow("grain", (0.3, -0.7, -0.7), "<=")
    live = LiveProgram(PROGRAM)
    live.add_rows([meal, grain])
    stands(live, (0.70, 0.25, 0.05))
    live.drop_rows([2])
    stands(live, (0.70, 0.29, 0.01))
    assert live.solution.row_duals == pytest.approx((0, 600, -200)), "salt for meal; meal for grain"
    live.leave_out(rows=[2])
    stands(live, MIX)
    live.drop_rows([])
    assert live.program.rows == (PROTEIN, SALT, grain)


def test_a_feed_is_left_out_and_comes_back():
    live = LiveProgram(PROGRAM)
    live.leave_out(columns=[1])
    assert live.run().status is SolverStatus.INFEASIBLE, "grain alone has 10 %"
    live.leave_out(columns=[0])
    stands(live, (0.0, 0.99, 0.01))
    live.leave_out()
    stands(live, MIX)
    live.leave_out(columns=[1], rows=[0])
    stands(live, (0.99, 0.0, 0.01))


def test_prices_change_in_place():
    live = LiveProgram(PROGRAM)
    live.set_costs((200.0, 150.0, 1000.0))  # meal is the cheaper: no grain at all
    stands(live, (0.0, 0.99, 0.01))
    live.set_costs(PROGRAM.costs)
    stands(live, MIX)
    assert live.run_cold().amounts == pytest.approx(MIX)


@pytest.mark.parametrize("anew", [False, True])
def test_a_basis_names_what_is_fed_and_the_rows_that_bind(anew):
    live = LiveProgram(PROGRAM)
    live.add_rows([ProgramRow("meal", (-0.25, 0.75, -0.25), "<=")])
    assert live.run_for_basis(anew) == (SolverStatus.OPTIMAL, Basis((0, 1, 2), (0, 1), True))
    live.leave_out(rows=[0])
    assert live.run_for_basis(anew) == (SolverStatus.OPTIMAL, Basis((0, 2), (1,), True))
    live.leave_out(columns=[1])
    assert live.run_for_basis(anew) == (SolverStatus.INFEASIBLE, None)


def test_what_a_row_by_itself_keeps_out_is_nothing_at_all():
    """Of the solver's dust nothing is an amount, of a row that was there and of one that comes in."""
    with_oil = replace(
        PROGRAM,
        columns=(*PROGRAM.columns, "oil"),
        costs=(*PROGRAM.costs, 0.0),
        normalizer=(1.0,) * 4,
        rows=(
            replace(PROTEIN, coefficients=(-6.0, 24.0, -16.0, -16.0)),
            replace(SALT, coefficients=(-0.01, -0.01, 0.99, -0.01)),
        ),
    )
    out = ProgramRow("no oil", (0.0, 0.0, 0.0, 1.0), "<=")
    live = LiveProgram(with_oil)
    assert live.solution.amounts == pytest.approx((0, 0.40, 0.01, 0.59)), "16 % of protein, all from meal"
    live.add_rows([out])
    assert live._barred == {3} and live.run().amounts[3] == 0.0
    assert LiveProgram(replace(with_oil, rows=(*with_oil.rows, out)))._barred == {3}
    assert live.run_cold().amounts[:3] == pytest.approx(MIX)


def test_a_linear_program_of_any_kind():
    """2 x + 3 y at the least, x + y at least 4, x at most 3: x = 3, y = 1; one more of both costs 3, of x saves 1."""
    rows = [({0: 1.0, 1: 1.0}, 4.0, None), ({0: 1.0}, None, 3.0)]
    found = solve_linear([2.0, 3.0], matrix_of(rows))
    assert found.status is SolverStatus.OPTIMAL and found.amounts == pytest.approx((3, 1))
    assert found.objective == pytest.approx(9) and found.row_duals == pytest.approx((3, -1))
    whole = solve_whole([2.0, 3.0], [(0.0, None, True), (0.0, 2.5, False)], [({0: 2.0, 1: 1.0}, 4.5, 7.5)], 1e-6)
    assert whole.solution.amounts == pytest.approx((2, 0.5)) and whole.solution.objective == pytest.approx(5.5)


def test_rows_for_the_solver():
    """At least, at most, between (two rows), just so (one)."""
    found = matrix_of(
        [({0: 1.0}, 2.0, None), ({1: 3.0}, None, 5.0), ({0: 1.0, 2: 4.0}, 1.0, 6.0), ({1: 1.0}, 7.0, 7.0)]
    )
    inf = np.inf
    assert found.lower.tolist() == [2, -inf, 1, -inf, 7] and found.upper.tolist() == [inf, 5, inf, 6, 7]
    assert found.begins.tolist() == [0, 1, 2, 4, 6]
    assert found.columns.tolist() == [0, 1, 0, 2, 0, 2, 1] and found.coefficients.tolist() == [1, 3, 1, 4, 1, 4, 1]


def test_nothing_to_meet_is_met():
    nothing = SimpleNamespace(
        program=replace(PROGRAM, rows=()), sources=(), candidates=(), stage=SimpleNamespace(energy="")
    )
    assert JointChance(nothing).probability(MIX) == 1.0


@pytest.mark.parametrize(
    ("status", "chances", "cost"),
    [
        (SolverStatus.INFEASIBLE, [0.99], None),
        (SolverStatus.OPTIMAL, [0.90], COST),  # the cheapest mix on averages is likely enough
        (SolverStatus.OPTIMAL, [0.89, 0.899], None),  # no mix is
        (SolverStatus.OPTIMAL, [0.50, 0.90], 400.0),  # the one that is closed in on: meal alone
    ],
)
def test_what_a_chance_costs(status, chances, cost):
    told = iter(chances)
    these = SimpleNamespace(
        formula=SimpleNamespace(program=PROGRAM),
        averages=lambda: Solution(status, amounts=MIX, objective=COST),
        joint=SimpleNamespace(probability=lambda amounts: next(told)),
        _inside=lambda first, wanted: MIX,
        _closed_in=lambda inside, wanted, pct: (np.array([0.0, 1.0, 0.0]), 0.0),
    )
    assert AllAtOnce.cost_at(these, 90) == (None if cost is None else pytest.approx(cost))


def test_the_only_premix_of_its_vitamins():
    sow, pig, layer, salt = (
        SimpleNamespace(name=name, premix_covers=covers)
        for name, covers in (("sow", ("a", "d", "e")), ("pig", ("a", "d")), ("layer", ("k",)), ("salt", ()))
    )
    formula = SimpleNamespace(candidates=(sow, pig, layer, salt))
    assert [_only_premix(each, formula) for each in formula.candidates] == [True, False, True, False]
