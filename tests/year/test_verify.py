"""A plan that does not balance is never shown: each of its balances, broken once; and the bound under what is not."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import pytest

from rationlp.errors import SolverError
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.rations.program.rows import USUAL_RANK
from rationlp.year.plan import plan_year
from rationlp.year.program.bound import cost_bound
from rationlp.year.program.verify import verify_plan


@pytest.fixture
def master(small_year, library):
    return plan_year(small_year(1).farm(library)).search.master


def test_the_plan_as_it_stands_is_shown(master):
    verify_plan(master, master.portions())


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        (lambda held: held[1:], "of its feed instead of 1"),
        (lambda held: [replace(held[0], part=2 * held[0].part), *held[1:]], "of its feed instead of 1"),
        (
            lambda held: [replace(held[0], demand=replace(held[0].demand, names=frozenset())), *held[1:]],
            "cannot be had when",
        ),
    ],
)
def test_somebody_fed_too_little_too_much_or_with_what_is_not_there_is_found(master, broken, said):
    with pytest.raises(SolverError, match=said):
        verify_plan(master, broken(master.portions()))


def test_more_used_than_there_is_is_found(master):
    portions = master.portions()
    used = {n: sum(p.tonnes * dict(p.mix.shares).get(n, 0.0) for p in portions) for n in master.limited}
    name = max(used, key=lambda n: used[n])
    master.supplies[name] = replace(master.supplies[name], tonnes=used[name] - 0.01)
    with pytest.raises(SolverError, match=f"{name} gives"):
        verify_plan(master, portions)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda answer: replace(answer, cost=answer.cost * 1.001), "and the solver says"),
        (lambda answer: replace(answer, row_duals=tuple(1.01 * d for d in answer.row_duals)), "and its dual"),
        (lambda answer: replace(answer, row_duals=(nan,) * len(answer.row_duals)), "not a number"),
    ],
)
def test_a_cost_or_a_price_that_does_not_add_up_is_found(master, change, said):
    master.answer = change(master.answer)
    with pytest.raises(SolverError, match=said):
        verify_plan(master, master.portions())


def test_prices_of_the_wrong_sign_and_of_what_may_be_eased_bound_nothing():
    """min 2x + 3y, x + y = 1, y >= x: at least 2.5 (weak duality: Dantzig 1963, memory)."""
    rows = (ProgramRow("need", (-0.5, 0.5), ">="),)
    program = Program(columns=("x", "y"), costs=(2.0, 3.0), rows=rows, normalizer=(1.0, 1.0))
    assert cost_bound(program) == 2.0
    assert cost_bound(program, (1.0,)) == pytest.approx(2.5)
    assert cost_bound(program, (-1.0,)) == 2.0
    eased = replace(program, rows=(replace(rows[0], relaxable=True, rank=USUAL_RANK),))
    assert cost_bound(eased, (1.0,)) == 2.0


def test_a_feed_that_counts_nothing_and_pays_leaves_no_bound():
    free = Program(columns=("x", "y"), costs=(2.0, -1.0), rows=(), normalizer=(1.0, 0.0))
    assert cost_bound(free) == -inf
    assert cost_bound(replace(free, costs=(2.0, 1.0))) == 2.0
