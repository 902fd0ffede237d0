"""Where the scales cannot show a batch, one is named whose weights they show, or the scale that it takes."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from demo_farms import us_sheets
from random_farms import write_sheets

from rationlp.book import read_book
from rationlp.book.reading.rows import read_setting
from rationlp.book.records import Settings, usual_settings
from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.rations.program.only_here import AT_LEAST, CRYSTAL, LEAST, weighable
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.reasons import Kind, Reason, Severity
from rationlp.sheets import pack
from rationlp.sheets.weights.even import even_words
from rationlp.sheets.weights.larger import what_can_be_weighed
from rationlp.sheets.weights.rounding import whole_mix
from rationlp.sheets.weights.scale import Scale, farm_scale, round_step
from rationlp.units import KG_PER_LB

STAGE, BIN = "sw_gro_25_50", "north"


@pytest.fixture(scope="module")
def recipe(demo_book, library):
    """The grower's ration of a farm whose mixer holds 600 kg."""
    return solve_rations(Farm(demo_book, library), [STAGE], [BIN])[0]


def coarse(step: int, hand_below: int = 0) -> Scale:
    """A farm without a hand scale: both steps are the mixer's."""
    return Scale("kg", Fraction(step), Fraction(step), Fraction(hand_below))


def named(words: str) -> Fraction:
    return Fraction(re.search(r"A batch of ([\d,]+)", words)[1].replace(",", ""))


@pytest.mark.slow
def test_the_batch_that_is_named_can_be_weighed(recipe):
    """'Take a larger batch' said nothing that could be done."""
    scale = coarse(1)
    assert not whole_mix(recipe, Fraction(340), scale, nearby=True)
    words = what_can_be_weighed(recipe, Fraction(340), scale)
    assert "the mixer holds it" in words and 340 < named(words) <= 600
    mix = whole_mix(recipe, named(words), scale)
    assert mix and not mix.misses and mix.ration.verdict.severity.rank <= recipe.verdict.severity.rank


def test_where_the_mixer_holds_none_the_finer_scale_is_named(recipe):
    """Premix of 0.4 % in divisions of 5 kg takes 1,250 kg."""
    words = what_can_be_weighed(recipe, Fraction(500), coarse(5))
    step = Fraction(re.fullmatch(r"A scale that shows ([\d.]+) kg can weigh this batch\.", words)[1])
    assert whole_mix(recipe, Fraction(500), replace(coarse(5), step=step, hand_step=step), nearby=True)


def test_no_mass_is_named_that_no_mixer_holds(recipe):
    """It said: mix 110,231,131 lb."""
    odd = Scale("kg", Fraction(1), Fraction(22046226218, 10**12), Fraction(20))
    assert even_words(recipe, Fraction(500), odd) == ""
    assert even_words(recipe, Fraction(490), coarse(1)) == (
        "Mix 250 or 500 kg: the premix is then a whole number of divisions of the scale."
    )


def test_without_a_hand_scale_both_divisions_are_those_of_the_mixer():
    scale = farm_scale(Settings(scale_step_kg=2.0, hand_weigh_below_kg=0.0))
    assert scale.step == scale.hand_step == 2 and scale.hand_below == 0


def test_a_gram_scale_beside_a_mixer_in_pounds_has_a_round_division():
    """10 g beside 1 lb have no common mass; a minute was spent on each sheet."""
    farm = Settings(units="us", scale_step_kg=KG_PER_LB, hand_scale_step_kg=0.01, hand_weigh_below_kg=20.0)
    assert farm_scale(farm).hand_step == Fraction(2, 100) and farm_scale(farm).step == 1
    assert [round_step(Fraction(x)) for x in ("0.0022", "0.011", "4.4", "9.1")] == [
        Fraction(2, 1000),
        Fraction(1, 100),
        5,
        10,
    ]


def test_what_an_american_book_does_not_say_is_round_in_pounds(tmp_path):
    """Blank scales were those of a metric book: weights in steps of 2.2046226 lb."""
    sheets = us_sheets()
    left_out = ("batch_mass", "mixer_capacity", "scale_step", "hand_scale_step", "hand_weigh_below")
    sheets["farm"] = [row for row in sheets["farm"] if row["setting"] not in left_out]
    farm = read_book(write_sheets(sheets, tmp_path)).farm
    scale = farm_scale(farm)
    assert (scale.step, scale.hand_step, scale.hand_below) == (2, Fraction(2, 100), 40)
    assert farm.batch_kg / KG_PER_LB == pytest.approx(2000)
    blank = read_setting("scale_step", "-", replace(farm, scale_step_kg=5.0))
    assert blank.scale_step_kg == usual_settings("us").scale_step_kg


def test_what_is_worth_weighing_goes_by_the_batch_that_is_weighed():
    """Salt came in with 0.1 kg of 20, its cap: in 21.74 kg no weight at all was both, and a sheet was refused."""
    least = ProgramRow(f"{LEAST}salt{AT_LEAST}", (-0.005, 0.995), ">=")
    out = ProgramRow(f"{LEAST}oil:none", (1.0, 0.0), "<=")
    crystal = ProgramRow(f"{CRYSTAL}salt:none", (0.0, 1.0), "<=")
    program = Program(("grain", "salt"), (1.0, 1.0), (least, out, crystal), (1.0, 1.0))
    larger, kept = weighable(program, 0.004).rows
    assert larger.coefficients == pytest.approx((-0.004, 0.996)) and larger.key == least.key and kept == out
    assert weighable(program, 0.01).rows == (out,)  # of a smaller batch less may be weighed than is worth it


def test_a_dose_to_be_asked_for_comes_with_what_mends_it(recipe, monkeypatch):
    """Premix at 97.83 % of its dose was for the nutritionist, who has no finer scale either."""
    dose = Reason(
        Kind.PREMIX, Severity.ASK, "The premix for vitamins is at 97.83 % of its dose.", value=97.83, limit=100
    )
    mix = whole_mix(recipe, Fraction(500), coarse(1), nearby=True)
    off = replace(mix, ration=replace(mix.ration, verdict=mix.ration.verdict.plus([dose])))
    monkeypatch.setattr(pack, "even_words", lambda *_: "")
    monkeypatch.setattr(pack, "what_can_be_weighed", lambda *_: "A batch of 24 kg can be weighed.")
    told = [reason.text for reason in pack.with_way_out(off, recipe, coarse(1)).ration.verdict.of(Kind.PREMIX)]
    assert told == [dose.text, "A batch of 24 kg can be weighed."]
    assert pack.with_way_out(mix, recipe, coarse(1)) is mix
