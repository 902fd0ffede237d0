"""Four rations that a bare linear program found with these very tables, and that no animal should meet.

Source: a trial recorded in the project's issue on the main job (57 stages, one bin, no ceilings): 8 to 10 % salt,
calcium at its maximum through dilution, 89 % limestone, 45 % canola meal in a nursery diet.
"""

from __future__ import annotations

import pytest

from rationlp.errors import LibraryError
from rationlp.farm import Farm
from rationlp.rations.answer.mix import implausible
from rationlp.rations.formulate import formulate
from rationlp.stages.needs import stage_needs

TRAPS = {
    "salt": ("sw_gest_p2_early", {"triticale": 0.88, "soybean_meal_expeller": 0.03, "salt": 0.09}, {}, "Salt|salt"),
    "calcium": ("sw_fin_75_100", {"triticale": 0.958, "limestone_fine": 0.042}, {"calcium": 1.6}, "imestone|alcium"),
    "stones": ("breeder_meat_hen", {"limestone_fine": 0.89, "dl_methionine": 0.01, "corn": 0.10}, {}, "imestone"),
    "canola": ("sw_nur_7_11", {"corn": 0.5, "canola_meal_solvent": 0.45, "salt": 0.005}, {}, "anola"),
}


@pytest.mark.parametrize("trap", TRAPS)
def test_the_four_rations_are_not_let_through(trap, library):
    stage, feeds, analysis, word = TRAPS[trap]
    findings = implausible(feeds, analysis, library.stages[stage], library)
    assert any(part in finding for finding in findings for part in word.split("|"))


@pytest.mark.parametrize("stage", ["sw_gro_25_50", "hen_brown_110", "turkey_0_4", "sw_gest_p2_early"])
def test_ordinary_rations_pass(stage, library):
    """Middle-of-the-road amounts (common practice) raise nothing."""
    limestone = 0.09 if stage.startswith("hen") else 0.011
    feeds = {"corn": 0.6, "soybean_meal_48_dehulled_solvent": 0.25, "limestone_fine": limestone, "salt": 0.0035,
             "monocalcium_phosphate": 0.012, "l_lysine_hcl": 0.003}  # fmt: skip
    analysis = {"crude_fibre": 3.0, "ash": 13.0 if stage.startswith("hen") else 5.5, "sodium": 0.17}
    assert implausible(feeds, analysis, library.stages[stage], library) == []


def test_a_ration_that_is_no_feed_is_withheld(make_book, library):
    """The farm lifts every cap on salt and asks for energy only: met by arithmetic, refused by the trade's eye."""
    book = make_book({
        "farm": [{"setting": "name", "value": "trap"}, {"setting": "objective", "value": "per_tonne"}],
        "supplements": [
            {"offer": "corn", "feed": "corn", "price": 200},
            {"offer": "salt", "feed": "salt", "price": 1},
        ],
        "own_stages": [
            {"stage": "gilts_of_mine", "nutrient": "me_pig", "minimum": 3000, "unit": "kcal/kg", "per": "kg"}
        ],
    })  # fmt: skip
    (ration,) = formulate(Farm(book, library))
    assert ration.status == "failed"
    assert ration.mix == ()
    assert any("Salt" in finding or "salt" in finding for finding in ration.findings)


def test_a_library_stage_without_its_main_rows_is_refused(library, demo_book, monkeypatch):
    rows = dict(library.requirements)
    rows["sw_boar"] = [row for row in rows["sw_boar"] if row.nutrient != "sodium"]
    monkeypatch.setitem(library.__dict__, "requirements", rows)
    with pytest.raises(LibraryError, match="sodium"):
        stage_needs("sw_boar", demo_book, library)


def test_an_own_stage_without_its_main_rows_says_so(make_book, library):
    book = make_book({
        "farm": [{"setting": "name", "value": "part"}],
        "supplements": [{"offer": "corn", "feed": "corn", "price": 200}],
        "own_stages": [{"stage": "mine", "nutrient": "lysine", "minimum": 0.1, "unit": "%", "per": "kg"}],
    })  # fmt: skip
    (ration,) = formulate(Farm(book, library))
    assert ration.status == "optimal"
    assert any("NOT a complete ration" in note and "sodium" in note for note in ration.notes)


@pytest.mark.parametrize("objective", ["per_tonne", "per_energy"])
def test_no_stage_of_the_library_drowns_in_a_filler(objective, make_book, demo_book, library):
    """Every stage from the demo's north bin by either objective: a feed, or a plain 'cannot be met'."""
    from dataclasses import replace

    book = replace(demo_book, farm=replace(demo_book.farm, objective=objective))
    for ration in formulate(Farm(book, library), ["all"], ["north"]):
        assert ration.status in ("optimal", "nearest"), (ration.stage, ration.findings)
        salt = sum(line.share for line in ration.mix if line.feed == "salt")
        assert salt <= 0.0101, ration.stage
