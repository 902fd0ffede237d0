"""What a ration says of caps from feeding trials: enzyme and variety of the farm, the noted level, the next step."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.errors import BookError
from rationlp.farm import Farm
from rationlp.rations.formulate import formulate


def at(book, **settings):
    return replace(book, farm=replace(book.farm, **settings))


def limit(ration, feed):
    return next(line for line in ration.limits if line.feed == feed)


@pytest.fixture
def hens(demo_book):
    return replace(demo_book, own_limits=())


@pytest.mark.slow
def test_a_variety_that_the_farm_states_lifts_the_cap(hens, library):
    plain = formulate(Farm(hens, library), ["hen_brown_110"])[0]
    stated = formulate(Farm(at(hens, varieties="faba_beans:low_vicine"), library), ["hen_brown_110"])[0]
    assert limit(plain, "faba_beans").max_pct == 5 and limit(plain, "faba_beans").evidence == "trial"
    assert limit(stated, "faba_beans").max_pct == 15
    assert stated.home_grown_share > plain.home_grown_share


def test_an_unknown_variety_is_a_problem(hens, library):
    with pytest.raises(BookError) as caught:
        formulate(Farm(at(hens, varieties="faba_beans:sweetest"), library), ["hen_brown_110"])
    assert "faba_beans:low_vicine" in caught.value.problems[0].expected


@pytest.mark.slow
def test_an_enzyme_lifts_the_cap_on_a_grain(hens, library):
    plain = formulate(Farm(hens, library), ["hen_brown_110"])[0]
    enzyme = formulate(Farm(at(hens, enzyme="yes"), library), ["hen_brown_110"])[0]
    assert limit(plain, "triticale").max_pct == 50
    assert limit(enzyme, "triticale").max_pct == 64


def test_a_share_over_the_noted_level_is_said_with_the_next_step(hens, library):
    ration = formulate(Farm(hens, library), ["hen_brown_110"])[0]
    held = limit(ration, "triticale")
    assert held.gives_pct > 17
    (note,) = [note for note in ration.notes if note.startswith("Triticale is")]
    assert "17 %" in note and "loss" in note and library.sources["trial_triticale_layer"].short in note


def test_raw_legumes_of_a_young_pig_are_capped_together(demo_book, library):
    ration = formulate(Farm(demo_book, library), ["sw_nur_11_25"])[0]
    held = limit(ration, "raw_legumes")
    assert held.max_pct == 30 and held.gives_pct <= 30 + 1e-6 and held.evidence == "joint"


def test_soft_fat_of_finishers_is_a_row(demo_book, library):
    ration = formulate(Farm(demo_book, library), ["sw_fin_100_135"])[0]
    (line,) = [line for line in ration.requirements if line.nutrient == "polyunsaturated_fat"]
    assert line.maximum == 4.0 and line.meets and 0 < line.gives < 4
