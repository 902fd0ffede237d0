"""What a saved book changes, told in a sentence a ration."""

from __future__ import annotations

from dataclasses import replace

from rationlp.reasons import Severity
from rationlp.served.changes import RationTold, changes

EARLY = RationTold("sw_gro_25_50", "north", "Early grower", Severity.FEED, "220.00 USD/t", ("North bin", "Salt"))
LATE = replace(EARLY, stage="sw_gro_50_75", label="Late grower")


def test_the_same_is_no_change():
    assert changes([EARLY, LATE], [LATE, replace(EARLY, feeds=("Salt", "North bin"))]) == ()


def test_another_verdict_stands_first():
    dearer = replace(EARLY, cost="221.00 USD/t")
    stopped = replace(LATE, severity=Severity.STOP)
    assert changes([EARLY, LATE], [dearer, stopped]) == (
        "Late grower from north: DO NOT FEED (before: may be fed after review).",
        "Early grower from north: 221.00 USD/t (before: 220.00 USD/t).",
    )


def test_feeds_that_come_and_go_are_named():
    other = replace(EARLY, feeds=("North bin", "Peas"))
    assert changes([EARLY], [other]) == ("Early grower from north: now with Peas; without Salt.",)


def test_rations_that_come_and_go_are_named():
    assert changes([EARLY], [LATE]) == (
        "Late grower from north: a new ration, 220.00 USD/t.",
        "Early grower from north: not asked for any more.",
    )


def test_a_book_without_bins_names_none():
    assert replace(EARLY, bin="").name == "Early grower"
