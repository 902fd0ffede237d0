"""Several samples of one bin: the newest first, older ones pooled with a wider variance, drift told from chance."""

from __future__ import annotations

import pytest

from rationlp.bins import estimate_bin

FIRST = {"triticale": 250.0, "oats_naked": 110.0, "faba_low_tannin": 90.0, "camelina_seed": 50.0}
NEAR = {"triticale": 252.0, "oats_naked": 111.0, "faba_low_tannin": 87.0, "camelina_seed": 50.0}
FAR = {"triticale": 265.0, "oats_naked": 120.0, "faba_low_tannin": 35.0, "camelina_seed": 80.0}


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
    estimate = estimate_bin("north", bin_book({"n1": FIRST, "n2": FAR}), library)
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
    fresh = estimate_bin("north", bin_book({"n1": FIRST}, found, name="fresh"), library)
    later = estimate_bin("north", bin_book({"n1": FIRST, "n2": NEAR}, found, name="later"), library)
    without = estimate_bin("north", bin_book({"n1": FIRST, "n2": NEAR}, name="without"), library)
    assert fresh.sd("crude_protein") < later.sd("crude_protein") < without.sd("crude_protein")
    assert abs(later.values["crude_protein"] - 19 * 0.88) < abs(without.values["crude_protein"] - 19 * 0.88)


def test_a_crop_that_only_one_sample_has_is_not_impossible_in_the_other(bin_book, library):
    second = {**NEAR, "peas_field": 20.0}
    estimate = estimate_bin("north", bin_book({"n1": FIRST, "n2": second}), library)
    assert 0.03 < estimate.share_of("peas_field") < 20 / 520
    assert sum(crop.share for crop in estimate.crops) == pytest.approx(1)
