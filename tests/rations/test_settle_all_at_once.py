"""Crystals and the scales where all requirements hold at once: a bounded number of programs, and what they find."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.farm import Farm
from rationlp.rations.formulate import formula_of, solve_ration
from rationlp.rations.solve import all_at_once, settle
from rationlp.rations.solve.joint_chance import chance_of_all

WEIGHABLE = 1.012
"""What it costs at most to keep out what cannot be weighed: as measured over the demo's rations of plain averages."""


@pytest.mark.parametrize(("stage", "bin_name"), [("sw_gro_25_50", "north"), ("hen_brown_110", "south")])
def test_what_is_found_is_likely_enough_can_be_weighed_or_is_told_and_costs_no_less_than_without(
    demo_book, library, stage, bin_name, monkeypatch
):
    """The chance of all, which takes a second, is asked for no more than once and once for each weighing anew."""
    asked = []
    at = all_at_once.AllAtOnce.at
    monkeypatch.setattr(all_at_once.AllAtOnce, "at", lambda self, pct: asked.append(pct) or at(self, pct))
    farm = Farm(replace(demo_book, farm=replace(demo_book.farm, confidence_pct=90.0, confidence_of="all")), library)
    made = solve_ration(farm, farm.stage(stage), (bin_name,))
    assert len(asked) <= 1 + settle.ROUNDS_OF_ALL and set(asked) == {90.0}
    assert chance_of_all(made.formula, made.answer.amounts) >= 0.9 - all_at_once.CLOSE
    for share, candidate in zip(made.column_shares, made.formula.candidates, strict=True):
        light = settle.IN_MIX < share < made.formula.least_share * (1 - 1e-6)
        told = any(r.feed == candidate.name and "weigh" in r.text for r in made.ration.verdict.reasons)
        assert not light or told or candidate.premix_covers or candidate.min_share, candidate.name
    free = all_at_once.AllAtOnce(formula_of(farm, farm.stage(stage), (bin_name,)))
    bound = at(free, 90.0).bound
    assert bound * (1 - 1e-9) <= made.answer.solution.objective <= bound * WEIGHABLE
