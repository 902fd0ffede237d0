"""Four rations that a bare linear program found with these very tables, and that no animal should meet.

Source: a trial recorded in the project's issue on the main job (57 stages, one bin, no ceilings): 8 to 10 % salt,
calcium at its maximum through dilution, 89 % limestone, 45 % canola meal in a nursery diet.
"""

from __future__ import annotations

import pytest

from rationlp.errors import LibraryError
from rationlp.farm import Farm
from rationlp.rations.formulate import formulate
from rationlp.reasons import Kind, Severity
from rationlp.stages.needs import stage_needs

TRAPS = {
    "salt": ("sw_gest_p2_early", {"triticale": 88, "soybean_meal_expeller": 3, "salt": 9}, "Salt"),
    "calcium": ("sw_fin_75_100", {"triticale": 95.8, "limestone_fine": 4.2}, "limestone"),
    "stones": ("breeder_meat_hen", {"limestone_fine": 89, "dl_methionine": 1, "corn": 10}, "limestone"),
    "canola": ("sw_nur_7_11", {"corn": 54.5, "canola_meal_solvent": 45, "salt": 0.5}, "canola meal"),
}


def fixed(stage: str, mix: dict[str, float], make_book, library):
    """The analysis of a mix whose shares, in percent, the book fixes."""
    book = make_book(
        {
            "farm": [{"setting": "name", "value": "trap"}],
            "groups": [{"group": "g", "stage": stage, "head": 1}],
            "supplements": [
                {"offer": feed, "feed": feed, "price": 200, "min_pct": part, "max_pct": part}
                for feed, part in mix.items()
            ],
        }
    )
    (ration,) = formulate(Farm(book, library))
    return ration


def usual(ration):
    return [reason for reason in ration.verdict.of(Kind.USUAL) if reason.severity is not Severity.FEED]


@pytest.mark.parametrize("trap", TRAPS)
def test_the_four_rations_are_not_let_through(trap, make_book, library):
    stage, mix, word = TRAPS[trap]
    found = usual(fixed(stage, mix, make_book, library))
    assert any(word.lower() in reason.text.lower() for reason in found)
    if word in ("Salt", "limestone"):  # 8 to 10 % of salt kills; stones are a filler
        assert Severity.STOP in {reason.severity for reason in found}


@pytest.mark.parametrize("stage", ["sw_gro_25_50", "hen_brown_110", "turkey_0_4", "sw_gest_p2_early"])
def test_ordinary_rations_pass(stage, make_book, library):
    """Middle-of-the-road amounts (common practice) raise nothing."""
    limestone = 9.0 if stage.startswith("hen") else 1.1
    mix = {
        "soybean_meal_48_dehulled_solvent": 25.0,
        "limestone_fine": limestone,
        "salt": 0.35,
        "monocalcium_phosphate": 0.9,
        "l_lysine_hcl": 0.3,
    }
    mix["corn"] = 50.0
    mix["barley_hulled" if stage.startswith("sw") else "wheat_hard"] = round(100 - sum(mix.values()), 6)
    assert usual(fixed(stage, mix, make_book, library)) == []


def test_a_farm_that_lifts_a_cap_of_the_trade_is_held_to_it_all_the_same(make_book, library):
    """The stage asks for energy only and salt is all but free: the mix holds no more of it than the trade uses."""
    book = make_book(
        {
            "farm": [{"setting": "name", "value": "trap"}, {"setting": "objective", "value": "per_tonne"}],
            "supplements": [
                {"offer": "corn", "feed": "corn", "price": 200},
                {"offer": "salt", "feed": "salt", "price": 1},
            ],
            "own_stages": [
                {"stage": "gilts_of_mine", "nutrient": "me_pig", "minimum": 3000, "unit": "kcal/kg", "per": "kg"}
            ],
        }
    )
    (ration,) = formulate(Farm(book, library))
    assert ration.status == "optimal"
    assert next(line.share for line in ration.mix if line.feed == "salt") <= 0.008 + 1e-9
    assert {reason.kind for reason in ration.verdict.reasons} == {Kind.STAGE}  # the stage lacks lysine, calcium, ...


def test_a_library_stage_without_its_main_rows_is_refused(library, demo_book, monkeypatch):
    rows = dict(library.requirements)
    rows["sw_boar"] = [row for row in rows["sw_boar"] if row.nutrient != "sodium"]
    monkeypatch.setitem(library.__dict__, "requirements", rows)
    with pytest.raises(LibraryError, match="sodium"):
        stage_needs("sw_boar", demo_book, library)


def test_an_own_stage_without_its_main_rows_says_so(make_book, library):
    book = make_book(
        {
            "farm": [{"setting": "name", "value": "part"}],
            "supplements": [{"offer": "corn", "feed": "corn", "price": 200}],
            "own_stages": [{"stage": "mine", "nutrient": "lysine", "minimum": 0.1, "unit": "%", "per": "kg"}],
        }
    )
    (ration,) = formulate(Farm(book, library))
    assert ration.status == "optimal"
    assert any("NOT a complete ration" in note and "sodium" in note for note in ration.notes)


@pytest.mark.slow
@pytest.mark.parametrize("objective", ["per_tonne", "per_energy"])
def test_no_stage_of_the_library_drowns_in_a_filler(objective, make_book, demo_book, library):
    """Every stage from the demo's north bin by either objective: a feed, or a plain 'cannot be met'."""
    from dataclasses import replace

    book = replace(demo_book, farm=replace(demo_book.farm, objective=objective))
    for ration in formulate(Farm(book, library), ["all"], ["north"]):
        assert ration.status in ("optimal", "nearest"), (ration.stage, ration.findings)
        salt = sum(line.share for line in ration.mix if line.feed == "salt")
        assert salt <= 0.0101, ration.stage
