"""Own figures tenfold and more off the table. The figures of the table are those of the shipped library."""

from __future__ import annotations

import pytest

from rationlp.book import check_book
from rationlp.feeds.candidates import offer_candidates
from rationlp.reasons import Kind, Severity

FARM = [{"setting": "name", "value": "figures"}]


def sheets(feed, nutrient, value, unit="%", basis="as_fed", **offer):
    return {
        "farm": FARM,
        "supplements": [{"offer": "it", "feed": feed, "price": 100, **offer}],
        "own_feeds": [{"feed": feed, "nutrient": nutrient, "value": value, "unit": unit, "basis": basis}],
    }


def at_value(write_book, library, *args, **offer):
    found = check_book(write_book(sheets(*args, **offer)), library)
    return [problem for problem in found if (problem.sheet, problem.cell) == ("own_feeds", "C2")]


@pytest.mark.parametrize(
    ("args", "reading"),
    [
        (("limestone_fine", "calcium", 3.8), "38"),
        (("salt", "sodium", 3.9), "39"),
        (("limestone_fine", "calcium", 0), "left out"),
        (("l_lysine_hcl", "lysine", 7.9), "decimal point"),
        (("premix_swine", "copper", 41, "mg/kg"), "decimal point two places"),
    ],
)
def test_a_figure_far_off_the_table_is_questioned_with_the_likely_reading(write_book, library, args, reading):
    problems = [p for p in at_value(write_book, library, *args) if "the table has" in p.found]
    assert [p.severity for p in problems] == ["warning"]
    assert reading in problems[0].do


@pytest.mark.parametrize(
    ("args", "brings"),
    [
        (("premix_swine", "selenium", 20000, "mg/kg"), "80"),  # safe: 3.6 (NRC 2005 Mineral Tolerance: 4 on dry matter)
        (("premix_swine", "copper", 400000, "mg/kg"), "1,600"),  # safe: 225
        (("premix_swine", "vitamin_d", 99000000, "IU/kg"), "396,000"),  # safe: 2,200 (NRC 1987 Vitamin Tolerance)
        (("poultry_vitamin_premix", "vitamin_a", 500000000, "IU/kg"), "1,250,000"),  # safe: 40,000
    ],
)
def test_a_premix_that_would_poison_is_refused(write_book, library, args, brings):
    problems = [p for p in at_value(write_book, library, *args) if "the table has" in p.found]
    assert [p.severity for p in problems] == ["error"]
    assert f"it brings {brings}" in problems[0].found and "safe" in problems[0].expected


def test_a_stronger_premix_used_in_a_smaller_share_is_only_questioned(write_book, library):
    (problem,) = at_value(write_book, library, "premix_swine", "selenium", 750, "mg/kg", min_pct=0.04, max_pct=0.04)
    assert problem.severity == "warning"


@pytest.mark.parametrize(
    "args",
    [
        ("limestone_fine", "calcium", 36),
        ("peas_field", "crude_protein", 21.6),
        ("corn", "selenium", 0.6, "mg/kg"),
        ("corn", "sodium", 0.05),
        ("premix_swine", "selenium", 150, "mg/kg"),
        ("corn", "tannin", 3),
    ],
)
def test_what_lots_and_makers_differ_by_is_believed(write_book, library, args):
    assert [p for p in at_value(write_book, library, *args) if "the table has" in p.found] == []


def test_it_is_a_question_on_the_offer(make_book, library):
    (candidate,) = offer_candidates(make_book(sheets("limestone_fine", "calcium", 3.8)), library)
    (reason,) = candidate.reasons
    assert (reason.kind, reason.severity, reason.feed, reason.nutrient) == (
        Kind.EVIDENCE,
        Severity.ASK,
        "it",
        "calcium",
    )
    assert "38" in reason.text


def test_no_figure_of_the_table_is_far_off_itself(make_book, library):
    for feed in ("corn", "premix_swine", "salt"):
        assert offer_candidates(make_book(sheets(feed, "dry_matter", 90), feed), library)[0].reasons == ()
