"""Meter and oven are two observations of one dry matter that may have drifted between their days."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from rationlp.bins import estimate_bin
from rationlp.bins.dry_matter import DRIFT_VARIANCE_PER_DAY, UNKNOWN_DAYS, dry_matter
from rationlp.book.records import Assay, Bin, Place, Sample

PLACE = Place()
METER_SD = 0.67  # nirs_winter_grain, lab_variation.csv
TABLE = (88.5, 1.2)
Z90 = 1.6449


def sample(name, day=None):
    return Sample(PLACE, name, "north", date(2025, 9, 1) if day == 0 else day and date(2025, 9, 1 + day))


def oven(name, value, sd=0.2):
    return Assay(PLACE, name, "dry_matter", value, "%", "as_fed", "oven", sd)


def found(library, samples, ovens, moisture=None):
    bin_ = Bin(PLACE, "north", moisture_pct=moisture)
    rows = {one.sample: tuple(row for row in ovens if row.sample == one.sample) for one in samples}
    return dry_matter(bin_, samples, rows, TABLE, library)


DRIFT = DRIFT_VARIANCE_PER_DAY * UNKNOWN_DAYS


def test_nothing_measured_is_the_librarys(library):
    answer = found(library, [sample("n1", 0)], [])
    assert (answer.pct, answer.sd, answer.source) == (*TABLE, "library")


def test_the_meter_alone_is_the_farms_word_of_no_known_day(library):
    answer = found(library, [sample("n1", 0)], [], moisture=12.4)
    assert (answer.pct, answer.sd) == (pytest.approx(87.6), pytest.approx((METER_SD**2 + DRIFT) ** 0.5))
    unsampled = found(library, [], [], moisture=12.4)
    assert (unsampled.pct, unsampled.sd) == (pytest.approx(87.6), METER_SD)


def test_the_oven_alone_is_the_laboratorys(library):
    answer = found(library, [sample("n1", 0)], [oven("n1", 87.5)])
    assert (answer.pct, answer.sd, answer.source) == (87.5, pytest.approx(0.2), "assay of sample n1")


@pytest.mark.parametrize("day", [None, 0])
def test_meter_and_oven_are_weighed_against_each_other(library, day):
    """More information makes the bin surer, never less: the oven's day is known or not, the meter's is not."""
    answer = found(library, [sample("n1", day)], [oven("n1", 87.5)], moisture=12.4)
    weights = np.array([1 / 0.2**2, 1 / (METER_SD**2 + DRIFT)])
    assert answer.pct == pytest.approx(weights @ [87.5, 87.6] / weights.sum())
    assert answer.sd == pytest.approx(weights.sum() ** -0.5)
    assert answer.sd < 0.2
    assert answer.source == "assay of sample n1 and moisture of the bin"
    assert not answer.contradictory


def test_an_older_oven_counts_less_by_the_days_between(library):
    old, new = sample("n1", 0), sample("n2", 20)
    answer = found(library, [old, new], [oven("n1", 87.0), oven("n2", 87.5)])
    weights = np.array([1 / (0.2**2 + 20 * DRIFT_VARIANCE_PER_DAY), 1 / 0.2**2])
    assert answer.pct == pytest.approx(weights @ [87.0, 87.5] / weights.sum())
    there, sd = answer.of_sample["n1"]
    assert there == pytest.approx(weights[::-1] @ [87.0, 87.5] / weights.sum())  # on its own day it counts most
    assert sd == pytest.approx(weights.sum() ** -0.5)
    alone = found(library, [old, new], [oven("n1", 87.0)])
    assert alone.sd == pytest.approx((0.2**2 + 20 * DRIFT_VARIANCE_PER_DAY) ** 0.5)


def test_two_older_ovens_share_the_way_to_the_newest_sample(library):
    """Against a Kalman filter of the same random walk, step by step."""
    samples = [sample("n1", 0), sample("n2", 5), sample("n3", 25)]
    answer = found(library, samples, [oven("n1", 87.0), oven("n2", 87.6, 0.3)])
    mean, variance = 87.0, 0.2**2
    variance += 5 * DRIFT_VARIANCE_PER_DAY
    gain = variance / (variance + 0.3**2)
    mean, variance = mean + gain * (87.6 - mean), (1 - gain) * variance
    variance += 20 * DRIFT_VARIANCE_PER_DAY
    assert (answer.pct, answer.sd) == (pytest.approx(mean), pytest.approx(variance**0.5))


@pytest.mark.parametrize(("moisture", "side"), [(20.0, "wet"), (8.0, "dry")])
def test_a_contradiction_is_no_surer_than_either(library, moisture, side):
    answer = found(library, [sample("n1", 0)], [oven("n1", 87.5)], moisture=moisture)
    assert answer.contradictory
    assert min(87.5, 100 - moisture) < answer.pct < max(87.5, 100 - moisture)
    for reading in answer.readings:
        assert abs(reading.pct - answer.pct) < Z90 * answer.sd, side
    assert answer.of_sample["n1"] == (87.5, pytest.approx(0.2))


def test_two_ovens_of_one_day_that_contradict_each_other(library):
    samples = [sample("n1", 0), sample("n2", 0)]
    answer = found(library, samples, [oven("n1", 87.5), oven("n2", 84.0)])
    assert answer.contradictory
    assert answer.pct == pytest.approx(85.75)


def test_meter_and_oven_apart_are_asked_about(bin_book, library):
    book = bin_book(assays={"n1": [("dry_matter", 84.0, "%", "as_fed", 0.2)]})
    estimate = estimate_bin("north", book, library)
    (reason,) = [reason for reason in estimate.reasons if "contradict each other" in reason.text]
    assert reason.severity == "ask"
    assert "12.0 % (moisture of the bin)" in reason.text
    assert "16.0 % (assay of sample n1)" in reason.text
    assert reason.text in [notice.text for notice in estimate.notices]


def test_an_oven_figure_makes_no_nutrient_less_sure(bin_book, library):
    """Protein as fed beside a meter, with and without the laboratory's dry matter."""
    protein, dry = ("crude_protein", 14.9, "%", "as_fed", 0.25), ("dry_matter", 88.0, "%", "as_fed", 0.2)
    meter = estimate_bin("north", bin_book(assays={"n1": [protein]}, name="meter"), library)
    both = estimate_bin("north", bin_book(assays={"n1": [protein, dry]}, name="both"), library)
    assert both.dry_matter_sd < 0.2 < 0.6 < meter.dry_matter_sd
    for nutrient in ("dry_matter", "crude_protein", "lysine", "ne_pig", "amen_poultry"):
        assert both.sd(nutrient) <= meter.sd(nutrient) * 1.002, nutrient  # but for where the blend is made linear


def test_a_figure_as_fed_of_an_older_sample_allows_for_drying_since(bin_book, library):
    """Without an oven figure of its own, its dry matter may have been another: more the longer ago."""
    protein = [("crude_protein", 14.9, "%", "as_fed", 0.05)]
    days = {"n1": {"taken_on": "2025-01-10"}, "n2": {"taken_on": "2025-09-10"}}
    sorts = {"n1": {"wheat_hard": 500.0}, "n2": {"wheat_hard": 500.0}}
    near = {**days, "n1": {"taken_on": "2025-09-09"}}
    long_ago, lately = (
        estimate_bin("north", bin_book(sorts, {"n1": protein}, samples=which, name=name), library)
        for which, name in ((days, "long"), (near, "near"))
    )
    assert long_ago.sd("crude_protein") > lately.sd("crude_protein")
