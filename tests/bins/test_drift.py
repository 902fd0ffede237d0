"""Several samples of one bin: the newest first, older ones pooled with a wider variance, drift told from chance."""

from __future__ import annotations

import numpy as np
import pytest

from rationlp.bins import estimate_bin
from rationlp.bins.drift import PROBE_CV, between_probes, unevenness
from rationlp.bins.evidence import farm_unevenness, gather
from rationlp.bins.joint import Sorted

FIRST = {"triticale": 250.0, "oats_naked": 110.0, "faba_low_tannin": 90.0, "camelina_seed": 50.0}
NEAR = {"triticale": 252.0, "oats_naked": 111.0, "faba_low_tannin": 87.0, "camelina_seed": 50.0}
FAR = {"triticale": 265.0, "oats_naked": 120.0, "faba_low_tannin": 35.0, "camelina_seed": 80.0}


@pytest.mark.slow
def test_two_samples_alike_are_pooled_and_surer(bin_book, library):
    one = estimate_bin("north", bin_book({"n1": FIRST}, name="one"), library)
    two = estimate_bin("north", bin_book({"n1": FIRST, "n2": NEAR}, name="two"), library)
    (drift,) = two.drifts
    assert not drift.more_than_chance
    assert drift.excess == 0.5  # an older sample is never as good as a new one
    assert two.sample == "n2"
    assert two.samples == ("n1", "n2")
    for crop in FIRST:
        newer = NEAR[crop] / 500
        older = FIRST[crop] / 500
        assert two.share_of(crop) == pytest.approx(
            (older + 2 * newer) / 3, abs=3e-4
        )  # one third the weight of old and new
        assert next(c for c in two.crops if c.crop == crop).sd < next(c for c in one.crops if c.crop == crop).sd


def test_a_mix_that_parted_by_seed_size_is_told_and_the_old_sample_hardly_counts(bin_book, library):
    many = {"n1": {"probes": 25}, "n2": {"probes": 25}}
    estimate = estimate_bin("north", bin_book({"n1": FIRST, "n2": FAR}, samples=many), library)
    (drift,) = estimate.drifts
    assert drift.more_than_chance
    assert drift.p_value < 1e-6
    assert drift.degrees == 3
    assert drift.excess > 20
    assert drift.changes[0].crop in ("faba_low_tannin", "camelina_seed")
    assert estimate.share_of("faba_low_tannin") == pytest.approx(0.07, abs=0.004)
    finding = next(f for f in estimate.notices if f.kind == "drift")
    assert finding.severity == "warning"
    assert "more than chance" in finding.text


def test_one_sample_by_name_stands_alone(bin_book, library):
    book = bin_book({"n1": FIRST, "n2": FAR})
    before, after = (estimate_bin("north", book, library, sample) for sample in ("n1", "n2"))
    assert before.share_of("faba_low_tannin") == pytest.approx(0.18)
    assert after.share_of("faba_low_tannin") == pytest.approx(0.07)
    assert before.drifts == after.drifts == ()


def test_the_order_is_by_date_not_by_row(bin_book, library):
    book = bin_book({"n1": FIRST, "n2": FAR}, samples={"n1": {"taken_on": "2025-11-01"}})
    assert estimate_bin("north", book, library).sample == "n1"


def test_an_older_assay_still_counts_a_little(bin_book, library):
    """Assayed once, sorted again later: protein is the assay's, less surely than on the day."""
    found = {"n1": [("crude_protein", 19.0, "%", "dry_matter", 0.2)]}
    even = {
        "n1": {"probes": 1000},
        "n2": {"probes": 1000},
    }  # else two tell more than one of the bin
    fresh = estimate_bin("north", bin_book({"n1": FIRST}, found, samples=even, name="fresh"), library)
    later = estimate_bin("north", bin_book({"n1": FIRST, "n2": NEAR}, found, samples=even, name="later"), library)
    without = estimate_bin("north", bin_book({"n1": FIRST, "n2": NEAR}, samples=even, name="without"), library)
    assert fresh.sd("crude_protein") < later.sd("crude_protein") < without.sd("crude_protein")
    assert abs(later.values["crude_protein"] - 19 * 0.88) < abs(without.values["crude_protein"] - 19 * 0.88)


def test_a_crop_that_only_one_sample_has_is_not_impossible_in_the_other(bin_book, library):
    second = {**NEAR, "peas_field": 20.0}
    estimate = estimate_bin("north", bin_book({"n1": FIRST, "n2": second}), library)
    assert 0.03 < estimate.share_of("peas_field") < 20 / 520
    assert sum(crop.share for crop in estimate.crops) == pytest.approx(1)


# Place: a bin is uneven, and a sample of few probes holds other grain than the bin ------------------------------


def test_more_probes_narrow_shares_and_nutrients(bin_book, library):
    sds = {}
    for probes in (1, 8, 40):
        book = bin_book({"n1": FIRST}, samples={"n1": {"probes": probes}}, name=f"p{probes}")
        estimate = estimate_bin("north", book, library)
        sds[probes] = (estimate.crops[0].sd, estimate.sd("crude_protein"), estimate.sd("sid_lysine_pig"))
    assert all(one > eight > forty for one, eight, forty in zip(sds[1], sds[8], sds[40], strict=True))


def test_the_spread_between_probes_is_that_of_shares_that_move_each_by_itself():
    """Against draws: every crop's share times a bell curve of spread 1, made a whole again, to first order."""
    shares = np.array([0.5, 0.3, 0.15, 0.05])
    draws = shares * (1 + 0.01 * np.random.default_rng(3).standard_normal((200_000, 4)))
    draws /= draws.sum(axis=1, keepdims=True)
    assert between_probes(shares) == pytest.approx(np.cov(draws.T) / 0.01**2, rel=0.05, abs=2e-4)


def test_sort_and_laboratory_of_one_sample_share_its_place(bin_book, library):
    """However sure the laboratory is of the sample, the bin is known no better than by its probes."""
    sure = [("crude_protein", 16.9, "%", "as_fed", 0.001)]
    book = bin_book({"n1": FIRST}, {"n1": sure}, samples={"n1": {"probes": 4, "lab_portion_g": 5000}})
    estimate = estimate_bin("north", book, library)
    slopes = np.sqrt(gather("north", book, library).unevenness.variance / 4)
    assert estimate.sd("crude_protein") > 2 * slopes * 0.88  # points of protein for a spread of 1: more than two
    assert next(n for n in estimate.nutrients if n.nutrient == "crude_protein").origin == "assay"
    assert estimate.agreement.verdict == "agree"


def test_probes_that_nobody_counted_are_assumed_and_told(bin_book, library):
    silent = estimate_bin("north", bin_book({"n1": FIRST}, name="silent"), library)
    five = estimate_bin("north", bin_book({"n1": FIRST}, samples={"n1": {"probes": 5}}, name="five"), library)
    assert silent.sd("crude_protein") == five.sd("crude_protein")
    assert any("5 probes are assumed" in f.text for f in silent.notices)
    assert not any("probes are assumed" in f.text for f in five.notices)


def one_day(bin_book, second, name, probes=4):
    days = {sample: {"taken_on": "2025-09-10", "probes": probes} for sample in ("n1", "n2")}
    return bin_book({"n1": FIRST, "n2": second}, samples=days, name=name)


def test_two_samples_of_one_day_replace_the_assumed_unevenness(bin_book, library):
    even = farm_unevenness(one_day(bin_book, NEAR, "even"), library)
    uneven = farm_unevenness(one_day(bin_book, FAR, "uneven"), library)
    assert farm_unevenness(bin_book({"n1": FIRST}, name="one"), library).cv == pytest.approx(PROBE_CV)
    assert even.cv < 0.75 * PROBE_CV < PROBE_CV < uneven.cv
    assert (even.samples, uneven.samples) == (2, 2)


def test_two_samples_of_one_day_are_pooled_by_their_probes(bin_book, library):
    """No time has gone by: the older is worth as much as the newer, and both are as one of all their probes."""
    estimate = estimate_bin("north", one_day(bin_book, NEAR, "day"), library)
    (drift,) = estimate.drifts
    assert not drift.more_than_chance
    assert drift.excess == 0
    assert "of one day" in drift.sentence
    for crop in FIRST:
        assert estimate.share_of(crop) == pytest.approx((FIRST[crop] + NEAR[crop]) / 1000, abs=2e-3)


@pytest.mark.slow
def test_many_repeats_find_the_unevenness_they_were_drawn_with():
    random, shares = np.random.default_rng(11), np.array([0.5, 0.3, 0.15, 0.05])
    for cv in (0.1, 0.6):
        repeats = []
        for _ in range(40):
            noise = [random.multivariate_normal(shares, cv**2 / 6 * between_probes(shares)) for _ in range(3)]
            repeats.append([(Sorted(found, np.zeros((4, 4)), 500.0), 6) for found in noise])
        assert unevenness(repeats).cv == pytest.approx(cv, rel=0.1)


def test_a_broken_bin_elsewhere_does_not_stop_this_one(bin_book, library):
    """Two samples of one day with a crop nobody has a dry matter of belong to another bin's problems."""
    sorts = {"n1": FIRST, "x1": {"dandelion": 5.0}, "x2": {"dandelion": 4.0}}
    days = {name: {"taken_on": "2025-08-10"} for name in ("x1", "x2")}
    book = bin_book(sorts, samples=days, name="broken")
    assert farm_unevenness(book, library).samples == 0
