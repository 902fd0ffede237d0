"""Crystals and the scales where all requirements hold at once: a bounded number of programs, and what they find."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rationlp.farm import Farm
from rationlp.rations.formulate import formula_of, solve_ration
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.rations.solve import all_at_once, chance, settle
from rationlp.rations.solve.joint_chance import chance_of_all

WEIGHABLE = 1.006
"""What keeping out what cannot be weighed costs these rations at most, over the least cost of any mix as likely."""


@pytest.mark.slow
@pytest.mark.parametrize(
    ("stage", "bin_name", "pct"),
    [
        ("sw_boar", "south", 80.0),
        pytest.param("hen_brown_110", "south", 90.0, marks=pytest.mark.long),
        pytest.param("sw_gro_25_50", "north", 90.0, marks=pytest.mark.long),
        pytest.param("sw_gro_25_50", "south", 80.0, marks=pytest.mark.long),
        pytest.param("sw_lact_p2_230", "south", 95.0, marks=pytest.mark.long),
    ],
)
def test_what_is_found_is_likely_enough_can_be_weighed_and_is_the_cheapest_of_its_kind(
    demo_book, library, stage, bin_name, pct, monkeypatch
):
    """The chance of all, which takes a second, is asked for no more than once and once for each weighing anew."""
    asked = []
    at = all_at_once.AllAtOnce.at
    monkeypatch.setattr(all_at_once.AllAtOnce, "at", lambda self, pct: asked.append(pct) or at(self, pct))
    farm = Farm(replace(demo_book, farm=replace(demo_book.farm, confidence_pct=pct, confidence_of="all")), library)
    made = solve_ration(farm, farm.stage(stage), (bin_name,))
    assert len(asked) <= 1 + settle.ROUNDS_OF_ALL and set(asked) == {pct}
    assert chance_of_all(made.formula, made.answer.amounts) >= pct / 100 - all_at_once.CLOSE
    for share, candidate in zip(made.column_shares, made.formula.candidates, strict=True):
        light = settle.IN_MIX < share < made.formula.least_share * (1 - 1e-6)
        assert not light or candidate.premix_covers or candidate.min_share, candidate.name
    free = all_at_once.AllAtOnce(formula_of(farm, farm.stage(stage), (bin_name,)))
    bound = at(free, pct).bound
    own = at(free.narrowed(made.formula), pct).bound
    cost = made.answer.solution.objective
    assert bound * (1 - 1e-9) <= own * (1 + 1e-9) and cost <= own * (1 + 2e-4)
    assert cost <= bound * WEIGHABLE


@pytest.mark.parametrize("draw", [0, 5])
def test_cuts_that_the_solver_holds_as_closely_as_it_can_are_enough(draw):
    """Amounts so small that a row's last digits are the solver's own: the same answer came back until no round was left
    (seen in a grower's ration at 80 % of all)."""
    rng = np.random.default_rng(draw)
    rows = tuple(ProgramRow(f"row {k}", tuple((rng.uniform(0.2, 2, 6) - 1).tolist()), ">=") for k in range(3))
    costs, dense = rng.uniform(100, 400, 6).tolist(), 1000 * rng.uniform(2, 3, 6)
    program = Program(tuple("abcdef"), tuple(costs), rows, tuple(dense.tolist()))
    chances = [chance.ChanceRow(k, tuple((rng.uniform(0.05, 0.2, 6) ** 2).tolist()), 0.9) for k in range(3)]
    _, solution = chance.solve_with_chance(program, chances)
    assert solution.status == "optimal"
    assert all(chance.achieved(program, row, solution.amounts) >= 0.9 - 1e-6 for row in chances)
