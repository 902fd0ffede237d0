"""The one verdict: the gravest reason decides, in the same words everywhere."""

from __future__ import annotations

from itertools import permutations

import pytest

from rationlp.reasons import HEADLINES, Kind, Reason, Severity, Verdict, in_order

TOLD = Reason(Kind.USUAL, Severity.FEED, "told")
ASKED = Reason(Kind.EVIDENCE, Severity.ASK, "asked")
STOPPED = Reason(Kind.LAW, Severity.STOP, "stopped")


def test_without_reasons_it_may_be_fed():
    assert (Verdict().severity, Verdict().headline) == (Severity.FEED, HEADLINES[Severity.FEED])


@pytest.mark.parametrize("reasons", list(permutations((TOLD, ASKED, STOPPED))))
def test_the_gravest_decides_whatever_the_order(reasons):
    verdict = Verdict(in_order(reasons), 0.9)
    assert (verdict.severity, verdict.headline) == (Severity.STOP, "DO NOT FEED")
    assert verdict.reasons == (STOPPED, ASKED, TOLD)


def test_what_may_harm_stands_before_the_rest_of_its_weight():
    harm, short = Reason(Kind.SAFETY, Severity.ASK, "harm"), Reason(Kind.PREMIX, Severity.ASK, "short")
    assert in_order((TOLD, short, harm, ASKED)) == (harm, short, ASKED, TOLD)


def test_more_reasons_never_make_it_better():
    assert Verdict((ASKED,)).plus((TOLD,)).severity is Severity.ASK
    assert Verdict((ASKED,)).plus((STOPPED,)).severity is Severity.STOP


def test_a_sentence_found_twice_weighs_as_the_graver():
    twice = (Reason(Kind.STOCK, Severity.FEED, "the same"), Reason(Kind.STOCK, Severity.ASK, "the same"))
    assert [reason.severity for reason in in_order(twice)] == [Severity.ASK]


@pytest.mark.parametrize(
    ("chance", "words"), [(0.004, "under 1 %"), (0.034, "3 %"), (0.6, "60 %"), (0.999, "over 99 %")]
)
def test_the_chance_of_all_at_once_stands_in_the_headline(chance, words):
    assert Verdict((), chance).headline == f"may be fed after review (meets all on average; all at once {words})"


def test_no_average_meets_all_while_a_vitamin_is_not_known():
    unknown = Reason(Kind.PREMIX, Severity.FEED, "Biotin: no figure.", "biotin", None, "mg/kg", None, 0.2)
    assert Verdict((unknown,), 0.5).headline.endswith("(meets all that is known on average; all at once 50 %)")


def test_a_mix_without_home_grown_grain_says_so_in_its_headline():
    assert Verdict((), None, without_grain=True).headline == "may be fed after review (NO home-grown grain in it)"
    assert Verdict((STOPPED,), 0.9, without_grain=True).headline == "DO NOT FEED (NO home-grown grain in it)"


@pytest.mark.parametrize(
    ("kind", "severity", "all_met"),
    [
        (Kind.REQUIREMENT, Severity.ASK, False),
        (Kind.REQUIREMENT, Severity.FEED, False),
        (Kind.PREMIX, Severity.ASK, False),
        (Kind.PREMIX, Severity.FEED, True),
        (Kind.EVIDENCE, Severity.ASK, True),
        (Kind.SAFETY, Severity.STOP, False),
    ],
)
def test_a_mix_that_misses_something_never_says_that_it_meets_all(kind, severity, all_met):
    verdict = Verdict((Reason(kind, severity, "Niacin is 50 of 57 mg/kg."),), 0.5)
    assert ("meets all on average" in verdict.headline) is all_met
