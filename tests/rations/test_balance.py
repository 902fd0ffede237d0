"""What nothing forbids and the trade does not feed is told beside the verdict, once, with what it comes from."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.book.records import OwnFigure, Place, SortedCrop
from rationlp.farm import Farm
from rationlp.rations.answer.balance import MUCH
from rationlp.rations.formulate import formulate


def with_bin(book, shares):
    """The demo farm with another hand sort of its north bin, and no assays."""
    rows = tuple(SortedCrop(Place(), "n1", crop, 5.0 * percent) for crop, percent in shares.items())
    samples = tuple(replace(row, sorted_mass_g=500.0) if row.sample == "n1" else row for row in book.samples)
    others = tuple(row for row in book.sorted if row.sample != "n1")
    return replace(book, samples=samples, sorted=(*others, *rows), assays=(), actual=())


def made(book, library, stage):
    (ration,) = formulate(Farm(book, library), [stage], ["north"])
    return ration


def told(ration, words):
    return [sentence for sentence in ration.warnings if words in sentence]


def test_far_more_protein_than_is_needed_is_told_with_the_crop_it_comes_from(demo_book, library):
    """Finishers from wheat with a quarter lentils: 13 % digestible protein for a need of 8.6, said nowhere."""
    ration = made(with_bin(demo_book, {"wheat_hard": 75, "lentils": 25}), library, "sw_fin_100_135")
    line = next(line for line in ration.requirements if line.nutrient == "sid_crude_protein_pig")
    assert line.gives > MUCH * line.minimum
    (sentence,) = told(ration, "rotein")
    assert "North" in sentence and "25 % of which is Lentils. " in sentence and "times the" in sentence


@pytest.mark.parametrize("stage", ["sw_gro_25_50", "hen_peak", "broiler_3_6"])
def test_an_ordinary_mix_says_nothing_of_it(demo_book, library, stage):
    ration = made(demo_book, library, stage)
    assert not told(ration, "rotein is") and not told(ration, "lectrolyte")


def test_electrolytes_far_off_balance_are_told_with_what_would_mend_them(demo_book, library):
    """Weaned pigs gained less at 84 and 86 mEq/kg (DEB_NURSERY2018). Chloride is the farm's own, invented figure."""
    own = OwnFigure(Place(), "limestone_fine", "chloride", 20.0, "%", "as_fed")
    ration = made(replace(demo_book, own_feeds=(*demo_book.own_feeds, own)), library, "sw_gest_p2_early")
    assert ration.electrolyte_balance < 85
    (sentence,) = told(ration, "lectrolyte")
    assert "85 to 325" in sentence and "bicarbonate" in sentence
