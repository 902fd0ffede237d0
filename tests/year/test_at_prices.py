"""A formula kept in the solver answers any prices as one made anew does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rationlp.farm import Farm
from rationlp.rations.program.formula import build
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.rations.solve.general.whole import matrix_of, solve_linear, solve_whole
from rationlp.rations.solve.highs import Matrix
from rationlp.rations.solve.nearest import NearestAtPrices, nearest_mix
from rationlp.rations.solve.settle import settle
from rationlp.year.program.at_prices import AtPrices


@pytest.mark.parametrize("stage", ["sw_gro_25_50", "hen_brown_110", "sw_gest_p2_early"])
def test_kept_in_the_solver_it_costs_what_it_costs_from_cold(demo_book, library, stage):
    farm = Farm(demo_book, library)
    formula = build(farm.stage(stage), ("north",), farm.candidates, farm)
    kept, rng = AtPrices(formula, farm), np.random.default_rng(1)
    for _ in range(4):
        costs = tuple(cost * rng.uniform(0.7, 1.4) for cost in formula.program.costs)
        cold = settle(replace(formula, program=replace(formula.program, costs=costs)), 50)
        found = kept.settled(costs)
        assert found.solution.objective == pytest.approx(cold.solution.objective, rel=1e-9)
        assert found.program.cost(found.solution.amounts) == pytest.approx(cold.solution.objective, rel=1e-9)


def test_that_nothing_can_be_met_is_found_once(demo_book, library, monkeypatch):
    farm = Farm(demo_book, library)
    formula = build(farm.stage("sw_nur_7_11"), ("north",), farm.candidates, farm)  # nobody quotes milk sugar
    kept = AtPrices(formula, farm)
    assert kept.settled(formula.program.costs) is None
    monkeypatch.setattr("rationlp.year.program.at_prices.solve_proved", None)
    monkeypatch.setattr("rationlp.year.program.at_prices.LiveProgram", None)
    assert kept.settled([2 * cost for cost in formula.program.costs]) is None


def test_the_nearest_mix_at_other_prices_is_that_of_a_program_with_these():
    rows = (
        ProgramRow("need", (-1.0, 1.0, 2.0), ">=", relaxable=True),
        ProgramRow("law", (1.0, 1.0, 4.0), "<=", relaxable=True),
    )
    program = Program(("a", "b", "c"), (1.0, 2.0, 3.0), rows, (1.0, 1.0, 1.0))
    nearest = NearestAtPrices(program)
    for costs in ((1.0, 2.0, 3.0), (3.0, 1.0, 2.0)):
        assert nearest.mix(costs) == pytest.approx(nearest_mix(replace(program, costs=costs)))


def test_blocks_under_each_other_are_the_rows_one_by_one():
    rows = [({0: 1.0, 1: 2.0}, 4.0, None), ({1: 1.0}, 1.0, 3.0), ({0: 1.0, 1: -1.0}, 0.0, 0.0)]
    moved = [({j + 2: a for j, a in terms.items()}, low, high) for terms, low, high in rows]
    costs = [3.0, 1.0, 2.0, 5.0]
    found = solve_linear(costs, Matrix.under_each_other([(matrix_of(rows), 0), (matrix_of(rows), 2)]))
    whole = solve_whole(costs, [(0.0, None, False)] * 4, [*rows, *moved], 0.0).solution
    assert found.amounts == pytest.approx(whole.amounts)
    assert found.objective == pytest.approx(whole.objective)
    assert solve_linear([1.0], matrix_of([({0: 1.0}, 2.0, 1.0)])).amounts == ()


def test_decided_as_before_it_is_the_mix_itself_and_at_other_prices_no_cheaper_than_decided_anew(demo_book, library):
    """Asked so, a year needs a third fewer programs; what it finds is a mix like any other."""
    farm = Farm(demo_book, library)
    formula = build(farm.stage("sw_gro_25_50"), ("north",), farm.candidates, farm)
    costs = formula.program.costs
    asked = AtPrices(formula, farm)
    assert asked.as_before(costs) is None
    first = asked.settled(costs)
    assert asked.as_before(costs).solution.objective == pytest.approx(first.solution.objective, rel=1e-9)
    dearer = tuple(cost * (1.2 if j % 2 else 0.9) for j, cost in enumerate(costs))
    before = asked.as_before(dearer)
    anew = asked.settled(dearer)
    assert before is None or before.solution.objective >= anew.solution.objective * (1 - 1e-9)
