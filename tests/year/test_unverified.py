"""A mix that no way of calculating can verify: the plan goes on without it, and says so."""

from __future__ import annotations

import numpy as np
import pytest

from rationlp.errors import SolverError
from rationlp.rations.solve.solver import solve
from rationlp.year.plan import plan_year
from rationlp.year.program.at_prices import AtPrices
from rationlp.year.program.bound import cost_bound

SEEDS = pytest.mark.parametrize("seed", range(20))


def fails(monkeypatch, when):
    """Answers of kitchens do not stand up to the check `when(stage, asked so often)`."""
    settled, count = AtPrices.settled, {}

    def tried(self, costs):
        stage = self._formula.stage.stage
        count[stage] = count.get(stage, 0) + 1
        if when(stage, count[stage]):
            raise SolverError("did not stand up to the check")
        return settled(self, costs)

    monkeypatch.setattr(AtPrices, "settled", tried)


@SEEDS
def test_a_mix_that_fails_once_costs_no_more_than_its_own_saving(small_year, library, monkeypatch, seed):
    year = small_year(seed)
    whole = plan_year(year.farm(library))
    fails(monkeypatch, lambda stage, times: stage == "stage_0" and times == 3)
    plan = plan_year(year.farm(library))
    assert not plan.unfed
    assert plan.bound <= whole.cost * (1 + 1e-6)
    assert plan.cost >= whole.cost * (1 - 1e-6)


def test_a_stage_without_any_verified_mix_is_named_and_all_others_are_fed(small_year, library, monkeypatch):
    fails(monkeypatch, lambda stage, times: stage == "stage_0")
    plan = plan_year(small_year(1).farm(library))
    assert {row.stage for row in plan.unfed} == {"stage_0"}
    assert "stood up to the check" in plan.unfed[0].why
    assert plan.mixes
    assert {stage for mix in plan.mixes for stage in mix.stages} >= {"stage_1"}
    assert any("did not stand up to the check" in note for note in plan.notes)


def test_an_answer_that_fails_in_the_kept_program_is_looked_for_in_other_ways(small_year, library, monkeypatch):
    whole = plan_year(small_year(2).farm(library))
    monkeypatch.setattr("rationlp.rations.solve.checked._live_stands", lambda live: False)
    assert plan_year(small_year(2).farm(library)).cost == pytest.approx(whole.cost, rel=1e-9)


@SEEDS
def test_any_prices_bound_the_cost_of_a_program(small_year, library, seed):
    search = plan_year(small_year(seed).farm(library)).search
    rng = np.random.default_rng(seed)
    for kitchen in search.kitchens.values():
        program = kitchen.formula.program
        solution = solve(program)
        assert cost_bound(program, solution.row_duals) == pytest.approx(solution.objective, rel=1e-9)
        off = tuple(dual * rng.uniform(-0.5, 2.0) for dual in solution.row_duals)
        assert cost_bound(program, off) <= solution.objective * (1 + 1e-9)
        assert cost_bound(program) <= solution.objective * (1 + 1e-9)
