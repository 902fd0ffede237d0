"""The farm's own maxima of contaminants: beside the published limits, and of what no table limits."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.book.records import Assay, OwnRequirement, Place
from rationlp.errors import BookError
from rationlp.farm import Farm
from rationlp.rations.formulate import formulate
from rationlp.reasons import Kind, Severity

PIG = "sw_gro_25_50"
US_LIMIT = 5.0
"""mg/kg of vomitoxin in grain for swine (FDA advisory level of 2010, as feed_library/contaminants.csv has it)."""


def with_rows(book, found, maximum, nutrient="deoxynivalenol", minimum=None, unit="mg/kg"):
    assay = Assay(Place(), "n1", nutrient, found, "mg/kg", "as_fed", "", 0.01)
    own = OwnRequirement(Place("own_stages"), PIG, nutrient, minimum, maximum, unit, "kg", "our nutritionist")
    return replace(book, assays=(*book.assays, assay), own_stages=(*book.own_stages, own))


def share_of_bin(ration):
    return sum(part.share for part in ration.mix if part.offer == "north")


@pytest.mark.parametrize(("maximum", "unit"), [(0.5, "mg/kg"), (500, "ug/kg")])
def test_a_lower_maximum_of_the_farm_is_the_row_of_the_mix(maximum, unit, demo_book, library):
    book = with_rows(demo_book, 1.5, maximum, unit=unit)
    (found,) = formulate(Farm(book, library), [PIG], ["north"])
    (line,) = [line for line in found.requirements if line.nutrient == "deoxynivalenol"]
    assert (line.maximum, line.binding, line.meets) == (0.5, "maximum", True)
    assert 0.2 < share_of_bin(found) <= 0.5 / 1.5


def test_a_higher_one_passes_no_published_limit(demo_book, library):
    (found,) = formulate(Farm(with_rows(demo_book, 9, 9.5), library), [PIG], ["north"])
    (told,) = [r for r in found.verdict.reasons if r.nutrient == "deoxynivalenol"]
    assert (told.limit, share_of_bin(found)) == (US_LIMIT, 0)


def test_feeds_that_nobody_tested_stay_in_the_ration(demo_book, library):
    (plain,) = formulate(Farm(demo_book, library), [PIG], ["north"])
    own = with_rows(demo_book, 0.0, 0.5).own_stages
    (found,) = formulate(Farm(replace(demo_book, own_stages=own), library), [PIG], ["north"])
    assert share_of_bin(found) == pytest.approx(share_of_bin(plain))


def test_a_minimum_of_what_only_does_harm_is_refused(demo_book, library):
    with pytest.raises(BookError) as found:
        formulate(Farm(with_rows(demo_book, 0.1, None, minimum=1.0), library), [PIG], ["north"])
    assert "no animal needs" in found.value.problems[0].expected


def test_what_no_table_limits_is_held_to_the_farms_maximum_and_asked_about_elsewhere(demo_book, library):
    farm = Farm(with_rows(demo_book, 4, 2, "diacetoxyscirpenol"), library)
    pigs, hens = (formulate(farm, [stage], ["north"])[0] for stage in (PIG, "hen_brown_110"))
    assert share_of_bin(pigs) == pytest.approx(0.5) and len(pigs.mix) > 5
    (told,) = [r for r in hens.verdict.reasons if r.nutrient == "diacetoxyscirpenol"]
    assert (told.kind, told.severity, told.feed) == (Kind.SAFETY, Severity.ASK, "north")
