"""What of one mix must not reach the next animals: who it is for alone, the flush, the order of mixing."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from rationlp.farm import Farm
from rationlp.sheets.eaters import eaters
from rationlp.sheets.pack import make_pack
from rationlp.sheets.request import SheetRequest

STAGES = ["hen_brown_110", "layer_grower_6_12_brown", "sw_gro_25_50"]


@pytest.fixture(scope="module")
def sheets(demo_book, library):
    pack = make_pack(Farm(demo_book, library), SheetRequest(), STAGES, ["north"])
    return {sheet.stage: sheet for sheet in pack.sheets}


@pytest.mark.slow
def test_layer_feed_is_for_laying_hens_only(sheets):
    """Calcium of layer feed gives pullets kidney stones: 3.25 % did, 1 % did not (ca_urolith1985)."""
    assert sheets["hen_brown_110"].only_for.startswith("FOR LAYING HENS ONLY: its calcium")
    assert not sheets["layer_grower_6_12_brown"].only_for and not sheets["sw_gro_25_50"].only_for


@pytest.mark.slow
def test_the_flush_is_a_tenth_of_the_mixer_and_two_hundred_pounds_at_least(sheets, demo_book, library):
    """memory: extension practice, 5 to 10 % of mixer capacity, 200 lb (90.7 kg) or more; the mixer holds 600 kg."""
    (after,) = sheets["hen_brown_110"].carry_over
    assert "AFTER THIS MIX run 91 kg of ground grain" in after
    for stage in ("layer_grower_6_12_brown", "sw_gro_25_50"):
        (before,) = sheets[stage].carry_over
        assert before.startswith("NOT STRAIGHT AFTER Layer, brown-egg: first run 91 kg")
    large = replace(demo_book, farm=replace(demo_book.farm, mixer_capacity_kg=2000))
    (sheet,) = make_pack(Farm(large, library), SheetRequest(), ["hen_brown_110"], ["north"]).sheets
    assert "200 kg of ground grain" in sheet.carry_over[0]


def test_what_harms_others_is_mixed_last(sheets):
    assert sheets["hen_brown_110"].turn == len(sheets)


def test_a_drug_on_a_label_goes_to_no_other_feed(demo_book, library):
    """osu_b869: no feed for market hogs straight after a medicated one; words on labels: 21 CFR 558.6 (memory)."""
    offers = tuple(
        replace(offer, label="Swine premix, medicated with tylosin") if offer.offer == "premix_pigs" else offer
        for offer in demo_book.supplements
    )
    pack = make_pack(Farm(replace(demo_book, supplements=offers), library), SheetRequest(), STAGES[1:], ["north"])
    told = {sheet.stage: sheet for sheet in pack.sheets}
    assert "medicated" in told["sw_gro_25_50"].only_for and told["sw_gro_25_50"].turn == len(told)
    assert any("NOT STRAIGHT AFTER" in words for words in told["layer_grower_6_12_brown"].carry_over)


def test_who_eats_it_and_how_much(sheets):
    """59 head of 25 to 50 kg; the feed a head is the library's for the ration's energy."""
    (line,) = sheets["sw_gro_25_50"].eaters
    per_head = sheets["sw_gro_25_50"].ration.feed_kg_per_head_per_day
    assert line.startswith("growers_early: 59 head, 25 to 50 kg, ") and f"{per_head:.2f} kg per head and day" in line
    assert sheets["hen_brown_110"].eaters[0].startswith("hens: 220 head, 20 weeks and older, ")


def test_a_sheet_that_no_group_eats_says_for_which_animals_it_is(sheets, demo_book, library):
    """It was 'FOR no group of the book eats it now'."""
    ration = sheets["sw_gro_25_50"].ration
    (line,) = eaters(ration, replace(demo_book, groups=()), library, None)
    assert line.startswith("growing pigs, 25 to 50 kg, ") and line.endswith("; no group of the book eats it now")


def test_a_step_of_the_scale_is_a_whole_flush(sheets):
    assert sheets["hen_brown_110"].scale.step == Fraction(1)
