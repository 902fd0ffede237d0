"""Where hand sort and laboratory contradict each other the bin is estimated so that a ration can bear it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.bins import estimate_bin
from rationlp.bins.agreement import FIRST_IN_HALF
from rationlp.bins.chance import CLEARLY, DOUBTFUL, chi_square_tail
from rationlp.bins.reconcile import spread_factor
from rationlp.reasons import Kind, Severity

NUTRIENT = "crude_protein"


def with_assay(book, nutrient, value):
    assays = tuple(
        replace(row, value=value) if (row.sample, row.nutrient) == ("n1", nutrient) else row for row in book.assays
    )
    return replace(book, assays=assays)


def without_assays(book, *kept):
    assays = tuple(row for row in book.assays if row.sample != "n1" or row.nutrient in kept)
    return replace(book, assays=assays)


def value_of(estimate, nutrient):
    return next(line for line in estimate.nutrients if line.nutrient == nutrient)


def test_where_all_agree_nothing_is_to_be_decided(demo_book, library):
    north = estimate_bin("north", demo_book, library)
    assert north.agreement.verdict == "agree"
    assert [reason for reason in north.reasons if reason.kind is Kind.EVIDENCE] == []


def test_the_figure_that_does_not_fit_is_left_out_and_both_answers_are_told(demo_book, library):
    wrong = estimate_bin("north", with_assay(demo_book, NUTRIENT, 27.5), library)
    never = tuple(row for row in demo_book.assays if (row.sample, row.nutrient) != ("n1", NUTRIENT))
    right = estimate_bin("north", replace(demo_book, assays=never), library)
    assert wrong.agreement.verdict == "disagree"
    assert value_of(wrong, NUTRIENT).value == pytest.approx(value_of(right, NUTRIENT).value, rel=1e-9)
    assert value_of(wrong, NUTRIENT).sd == pytest.approx(value_of(right, NUTRIENT).sd, rel=1e-9)
    (reason,) = (reason for reason in wrong.reasons if reason.kind is Kind.EVIDENCE)
    assert (reason.severity, reason.nutrient, reason.feed) == (Severity.ASK, NUTRIENT, "north")
    assert reason.value == pytest.approx(27.5, rel=0.01)
    assert reason.limit == pytest.approx(value_of(right, NUTRIENT).value, rel=1e-6)
    assert "27.5" in reason.text and "without that figure" in reason.text and FIRST_IN_HALF in reason.text


def test_where_no_single_figure_explains_it_the_spread_grows_until_they_agree(demo_book, library):
    lone = with_assay(without_assays(demo_book, NUTRIENT), NUTRIENT, 27.5)
    wrong = estimate_bin("north", lone, library)
    assert wrong.agreement.verdict == "disagree"
    factor = spread_factor(wrong.agreement)
    assert chi_square_tail(wrong.agreement.chi_square / factor, wrong.agreement.degrees) == pytest.approx(DOUBTFUL)
    assert chi_square_tail(wrong.agreement.chi_square, wrong.agreement.degrees) < CLEARLY
    calm = estimate_bin("north", with_assay(lone, NUTRIENT, 14.2), library)
    ratio = value_of(wrong, "lysine").sd / value_of(calm, "lysine").sd
    assert ratio == pytest.approx(factor**0.5, rel=0.1)
    (reason,) = (reason for reason in wrong.reasons if reason.kind is Kind.EVIDENCE)
    assert reason.severity is Severity.ASK and "times as wide" in reason.text
