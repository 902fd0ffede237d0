"""Where weights are looked for: away from caps a scale could err past, and where every chance is kept."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.farm import Farm
from rationlp.library import load_library
from rationlp.rations.formulate import solve_rations
from rationlp.rations.solve.verify import row_holds
from rationlp.sheets.weights.rounding import IN_MIX, _asked, _centre, _chance_cuts
from rationlp.sheets.weights.scale import exact, farm_scale

BATCH = exact(500, "kg")


def recipe_of(book, stage):
    (made,) = solve_rations(Farm(book, load_library()), [stage], ["north"])
    return made


@pytest.mark.slow
def test_a_mix_that_misses_a_chance_is_cut_off_and_the_ration_is_not(demo_book):
    """The tangent of a convex set (J. E. Kelley, 1960): on its far side lies what is cut off, and no mix that keeps the
    chance."""
    stage, book = "sw_gro_25_50", replace(demo_book, farm=replace(demo_book.farm, confidence_pct=80))
    sure, shares = recipe_of(book, stage), recipe_of(demo_book, stage).shares
    program = sure.formula.program
    averages = [500 * shares.get(name, 0.0) for name in program.columns]
    cuts = _chance_cuts(sure, averages)
    assert len(cuts) >= 5 and _chance_cuts(sure, [500 * share for share in sure.column_shares]) == []
    for cut in cuts:
        assert not row_holds(program, cut, averages) and row_holds(program, cut, sure.column_shares)


@pytest.mark.slow
def test_weights_are_looked_for_as_far_from_caps_as_the_scales_may_err(demo_book):
    """The caps on beans, which hold the ration just there, are kept by their margin; a dose that is fixed cannot be."""
    hens = recipe_of(demo_book, "hen_brown_110")
    asked = _asked(hens, BATCH, farm_scale(demo_book.farm))
    own = [j for j, share in enumerate(asked.shares) if share > IN_MIX]
    masses, cost = _centre(hens, asked, own)
    program, ration = asked.program, tuple(500 * share for share in asked.shares)
    assert sum(masses) == pytest.approx(500) and 0 < cost < 0.01
    beans = [
        (abs(program.value(row, ration)), program.value(row, tuple(masses)), margin)
        for row, margin in zip(program.rows, asked.margins, strict=True)
        if row.key.startswith(("limit:faba_beans:", "limit:vicine_feeds:"))
    ]
    assert len(beans) == 2
    for before, after, margin in beans:
        assert before < 1e-6 < margin and after == pytest.approx(-margin)
    assert all(row_holds(program, row, masses) for row in program.rows)
