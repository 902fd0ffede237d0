"""Own rows of a stage that ask far less than the library, or for nothing: told by `check` at their cell."""

from __future__ import annotations

import pytest

from rationlp.every_problem import every_problem

GROWER = "sw_gro_25_50"


@pytest.mark.parametrize(
    ("row", "found"),
    [
        ({"nutrient": "sid_lysine_pig", "minimum": 0.098, "unit": "%"}, "a minimum of 0.098 % of"),  # 0.98: NRC 2012
        ({"nutrient": "sid_lysine_pig", "minimum": 9.8, "unit": "g", "per": "day"}, "a minimum of 9.8 g per day of"),
        ({"nutrient": "sid_lysine_pig", "minimum": 0.04, "unit": "%", "per": "mcal"}, "a minimum of 0.04 % per mcal"),
        ({"nutrient": "sid_lysine_pig", "minimum": 0.39, "unit": "%", "per": "mcal"}, None),
        ({"nutrient": "calcium", "minimum": 0.6, "unit": "%"}, None),  # 0.66: NRC 2012
        ({"nutrient": "ne_pig", "minimum": 1500, "unit": "kcal/kg"}, None),  # how dense a feed is, is the farm's choice
    ],
)
def test_a_minimum_far_under_the_library_s_is_told_at_its_cell(demo, tmp_path, row, found):
    """By the rule of the ration, which asks (tests/rations/test_own_vitamins.py)."""
    demo.add("own_stages", stage=GROWER, **{"per": "kg", **row})
    told = [p for p in every_problem(demo.write_csv(tmp_path / "book"), None) if p.sheet == "own_stages"]
    assert [(p.severity, p.cell) for p in told] == [("warning", "C2")] * bool(found)
    assert all(found in p.found and "the library's 0.98 %" in p.expected for p in told)


def test_a_stage_of_the_library_that_is_left_without_an_essential_row_is_named_by_its_cell(demo, tmp_path):
    demo.add("own_stages", stage=GROWER, nutrient="sid_lysine_pig", minimum=0, unit="%", per="kg")
    demo.add("own_stages", stage="sw_gro_50_75", nutrient="me_pig", maximum=3500, unit="kcal/kg", per="kg")
    told = {p.cell: p for p in every_problem(demo.write_csv(tmp_path / "book"), None) if p.severity == "error"}
    assert sorted(told) == ["C2", "C3"]
    assert "a minimum of 0 of sid_lysine_pig" in told["C2"].found and "no minimum of me_pig" in told["C3"].found
    assert "delete the row" in told["C2"].do
