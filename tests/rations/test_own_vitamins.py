"""The farm's own needs of vitamins and trace minerals: most feeds have no figure of them, and are fed all the same."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.book.records import OwnFigure, OwnRequirement, Place
from rationlp.errors import BookError
from rationlp.farm import Farm
from rationlp.rations.formulate import formulate
from rationlp.reasons import Kind, Severity
from rationlp.stages.needs import stage_needs

GROWER = "sw_gro_25_50"
WHOLE = {
    "ne_pig": (2300, "kcal/kg"),
    "sid_lysine_pig": (0.9, "%"),
    "methionine": (0.25, "%"),
    "calcium": (0.6, "%"),
    "sttd_phosphorus_pig": (0.28, "%"),
    "sodium": (0.1, "%"),
}


def row(stage, nutrient, minimum, unit, maximum=None):
    return OwnRequirement(
        Place("own_stages"), stage, nutrient, minimum, maximum, unit, "kg", "our nutritionist, by phone"
    )


def with_rows(book, *rows):
    return replace(book, own_stages=(*book.own_stages, *rows))


@pytest.mark.parametrize(
    ("nutrient", "minimum", "unit"),
    [("vitamin_a", 2000, "IU/kg"), ("vitamin_d", 300, "IU/kg"), ("iodine", 0.2, "mg/kg")],
)
def test_a_need_that_the_premix_meets_leaves_the_grain_in_the_ration(nutrient, minimum, unit, demo_book, library):
    (found,) = formulate(Farm(with_rows(demo_book, row(GROWER, nutrient, minimum, unit)), library), [GROWER], ["north"])
    assert found.status == "optimal"
    assert found.home_grown_share > 0.8  # as without the row
    (line,) = [line for line in found.requirements if line.nutrient == nutrient and line.minimum]
    assert (line.minimum, "own" in line.how, line.meets) == (minimum, True, True)


def test_a_need_above_every_premix_is_asked_for_by_its_name(demo_book, library):
    book = with_rows(demo_book, row(GROWER, "vitamin_e", 400, "IU/kg"))
    (found,) = formulate(Farm(book, library), [GROWER], ["north"])
    assert [(r.kind, r.severity, r.limit) for r in found.verdict.reasons if r.nutrient == "vitamin_e"] == [
        (Kind.PREMIX, Severity.ASK, 400)
    ]


def test_a_maximum_counts_a_feed_without_a_figure_with_nothing(demo_book, library):
    book = with_rows(demo_book, row(GROWER, "iodine", None, "mg/kg", 3))
    (found,) = formulate(Farm(book, library), [GROWER], ["north"])
    assert found.status == "optimal" and found.mix[0].offer == "north"


def test_a_minimum_above_the_safe_ceiling_is_a_question_and_not_a_search(demo_book, library):
    """2,250 IU/kg is the safe ceiling of vitamin D of pigs (NRC 1987, as feed_library/ceilings.csv has it)."""
    with pytest.raises(BookError) as found:
        stage_needs(GROWER, with_rows(demo_book, row(GROWER, "vitamin_d", 90_000, "IU/kg")), library)
    (problem,) = found.value.problems
    assert "90,000 IU/kg of vitamin_d" in problem.found and "2,250" in problem.expected


def test_a_stage_that_asks_for_one_vitamin_is_not_complete_in_vitamins(demo_book, library):
    rows = [row("own_pig", nutrient, low, unit) for nutrient, (low, unit) in WHOLE.items()]
    book = with_rows(demo_book, *rows, row("own_pig", "vitamin_e", 11, "IU/kg"), row("own_pig", "zinc", 40, "mg/kg"))
    offers = tuple(o for o in book.supplements if not o.offer.startswith("premix"))
    (found,) = formulate(Farm(replace(book, supplements=offers), library), ["own_pig"], ["north"])
    told = [r.text for r in found.verdict.of(Kind.STAGE) if r.severity is not Severity.FEED]
    assert any("no vitamin A" in text and "no selenium" in text and "no vitamin E" not in text for text in told)


def test_where_only_what_has_no_energy_has_a_figure_there_is_nothing_to_feed(demo_book, library):
    book = with_rows(demo_book, row(GROWER, "yucca", 0.001, "%"))
    figure = OwnFigure(Place(), "premix_swine", "yucca", 0.1, "%", "as_fed")
    book = replace(book, own_feeds=(*book.own_feeds, figure))
    with pytest.raises(BookError, match=r"nothing on offer.*no figure for yucca"):
        formulate(Farm(book, library), [GROWER], ["north"])


@pytest.mark.parametrize(
    ("stage", "nutrient", "minimum", "asked"),
    [
        ("hen_brown_110", "calcium", 0.5, True),  # 3.25 % of the table: the shell comes out of the bones
        (GROWER, "sid_lysine_pig", 0.085, True),
        (GROWER, "calcium", 0.6, False),
        (GROWER, "vitamin_a", 0, False),  # the premix brings it all the same
    ],
)
def test_a_minimum_far_under_the_library_s_is_a_question(stage, nutrient, minimum, asked, demo_book, library):
    unit = "IU/kg" if nutrient == "vitamin_a" else "%"
    (found,) = formulate(Farm(with_rows(demo_book, row(stage, nutrient, minimum, unit)), library), [stage], ["north"])
    told = [r for r in found.verdict.reasons if r.severity is Severity.ASK and "own minimum is met" in r.text]
    assert [r.nutrient for r in told] == [nutrient] * asked
    assert all("the library's is" in r.text and r.source for r in told)
