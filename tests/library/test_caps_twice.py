"""The caps of every stage by a second reading of the tables, written apart from the library's own."""

from __future__ import annotations

import pytest
from plain_check import caps_of

from rationlp.library import Library
from rationlp.library.which_limits import rows_that_cap

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(
    "jurisdiction", ["us", pytest.param("eu", marks=pytest.mark.long), pytest.param("canada", marks=pytest.mark.long)]
)
def test_both_readings_of_the_trials_and_the_advice_give_the_same_caps(library: Library, jurisdiction: str) -> None:
    """README.md of the feed library, "Scopes, caps and ceilings" and "From trials to a cap"."""
    for stage in library.stages.values():
        plain = {(of, most) for _, of, most in caps_of(stage.stage, jurisdiction)}
        limits = rows_that_cap(
            stage,
            library,
            applies=lambda row: (not row.jurisdiction or jurisdiction in row.jurisdiction) and not row.certification,
        )
        assert {(limit.members, limit.row.max_pct) for limit in limits} == plain, stage.stage
