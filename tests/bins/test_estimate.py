"""A bin from a book: mass balance, as fed, where each figure comes from, and what is said when little is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rationlp.bins import check_bins, estimate_bin, estimate_bins
from rationlp.book.records import Place, SownCrop
from rationlp.errors import BookError
from rationlp.units import Z90

MIX = {"triticale": 250.0, "oats_naked": 110.0, "faba_low_tannin": 90.0, "camelina_seed": 50.0}


def line(estimate, nutrient):
    return next(row for row in estimate.nutrients if row.nutrient == nutrient)


def test_without_an_assay_a_bin_is_the_sum_of_its_crops(bin_book, library):
    """Sorted grams are as fed, so a gram of a crop brings what a gram of it holds as fed; the bin at its crops'
    moisture."""
    estimate = estimate_bin("north", bin_book(bin_={"mass": "40 t"}), library)
    dry = {crop: library.feeds[crop].dry_matter_pct for crop in MIX}
    assert estimate.dry_matter_pct == pytest.approx(sum(MIX[crop] / 500 * dry[crop] for crop in MIX))
    assert estimate.moisture_from == "library"
    for nutrient in ("crude_protein", "lysine", "ne_pig", "phosphorus", "starch"):
        expected = sum(MIX[crop] / 500 * library.figures[crop][nutrient].value * dry[crop] / 100 for crop in MIX)
        assert estimate.values[nutrient] == pytest.approx(expected, rel=1e-9)
        assert line(estimate, nutrient).origin == "library"
    lysine = [MIX[c] * library.figures[c]["lysine"].value * dry[c] for c in MIX]
    sid = [amount * library.figures[c]["lysine_sid_pig"].value / 100 for c, amount in zip(MIX, lysine, strict=True)]
    assert estimate.values["sid_lysine_pig"] == pytest.approx(sum(sid) / 500 / 100)
    assert estimate.values["lysine_sid_pig"] == pytest.approx(100 * sum(sid) / sum(lysine))


def test_drier_grain_holds_more_of_everything(bin_book, library):
    wet = estimate_bin("north", bin_book(bin_={"mass": "40 t", "moisture_pct": 16.0}, name="wet"), library)
    dry = estimate_bin("north", bin_book(bin_={"mass": "40 t", "moisture_pct": 10.0}, name="dry"), library)
    assert dry.values["ne_pig"] / wet.values["ne_pig"] == pytest.approx(90 / 84, rel=2e-3)
    assert wet.values["dry_matter"] == 84.0


def test_foreign_matter_takes_its_share_and_brings_nothing(bin_book, library):
    sort = {"wheat_hard": 450.0, "foreign_matter": 50.0}
    estimate = estimate_bin("north", bin_book({"n1": sort}), library)
    pure = estimate_bin("north", bin_book({"n1": {"wheat_hard": 500.0}}, name="pure"), library)
    assert estimate.share_of("foreign_matter") == pytest.approx(0.1)
    assert estimate.values["crude_protein"] == pytest.approx(0.9 * pure.values["crude_protein"])
    assert estimate.sd("crude_protein") > pure.sd("crude_protein")  # it may hold something after all


def test_one_protein_assay_moves_lysine_and_energy_too(bin_book, library):
    plain = estimate_bin("north", bin_book(name="plain"), library)
    rich = plain.values["crude_protein"] + 2
    book = bin_book(assays={"n1": [("crude_protein", rich, "%", "as_fed", 0.1)]}, name="rich")
    estimate = estimate_bin("north", book, library)
    assert estimate.values["crude_protein"] == pytest.approx(rich, abs=0.1)
    assert line(estimate, "crude_protein").origin == "assay"
    assert line(estimate, "crude_protein").from_sort == pytest.approx(plain.values["crude_protein"])
    assert line(estimate, "crude_protein").assay == pytest.approx(rich)
    for nutrient in ("lysine", "sid_lysine_pig", "threonine"):
        assert estimate.values[nutrient] > plain.values[nutrient]
        assert estimate.sd(nutrient) < plain.sd(nutrient)
        assert line(estimate, nutrient).origin == "both"
    assert estimate.values["starch"] < plain.values["starch"]
    assert estimate.values["gross_energy"] > plain.values["gross_energy"]
    assert estimate.values["calcium"] == pytest.approx(plain.values["calcium"], rel=5e-3)
    assert line(estimate, "sodium").origin == "library"


def test_amino_acids_do_not_rise_as_much_as_protein(bin_book, library):
    """Published lines: the share of lysine in protein falls as protein rises."""
    pure = {"wheat_hard": 500.0}
    plain = estimate_bin("north", bin_book({"n1": pure}, name="plain"), library)
    book = bin_book(
        {"n1": pure}, {"n1": [("crude_protein", 1.1 * plain.values["crude_protein"], "%", "as_fed", 0.02)]}, name="rich"
    )
    ratio = estimate_bin("north", book, library).values["lysine"] / plain.values["lysine"]
    # 0.095 + 0.0216 CP at 13.69 % protein (air-dry): 10 % more protein, 7.6 % more lysine (wheat_aa_levels)
    assert ratio == pytest.approx(1.0757, abs=0.002)


def test_as_fed_and_dry_matter_entries_of_one_figure_agree(bin_book, library):
    moist = {"mass": "40 t", "moisture_pct": 12.5}
    as_fed = bin_book(assays={"n1": [("crude_protein", 16.0 * 0.875, "%", "as_fed", 0.2)]}, bin_=moist, name="af")
    dry = bin_book(assays={"n1": [("crude_protein", 16.0, "%", "dry_matter", 0.2 / 0.875)]}, bin_=moist, name="dm")
    one, other = (estimate_bin("north", book, library) for book in (as_fed, dry))
    assert one.values["crude_protein"] == pytest.approx(other.values["crude_protein"], rel=2e-3)
    # As fed the moisture of the meter does not matter to the figure; on dry matter its error comes on top.
    assert one.sd("crude_protein") < other.sd("crude_protein")


def test_the_stated_moisture_stays_as_it_was_stated(bin_book, library):
    """An as-fed figure far from what is expected may cast doubt on the meter; the moisture is the farm's word."""
    book = bin_book(assays={"n1": [("starch", 60.0, "%", "as_fed", 0.2)]})
    estimate = estimate_bin("north", book, library)
    assert estimate.dry_matter_pct == estimate.values["dry_matter"] == 88.0
    assert estimate.values["starch"] == pytest.approx(60.0, abs=0.4)


def test_the_samples_own_dry_matter_turns_its_as_fed_figures(bin_book, library):
    found = [("dry_matter", 84.0, "%", "as_fed", 0.2), ("crude_protein", 14.0, "%", "as_fed", 0.1)]
    estimate = estimate_bin("north", bin_book(assays={"n1": found}), library)
    assert 84 < estimate.dry_matter_pct < 88  # the meter's 12 % moisture and the oven's 16 contradict each other
    assert line(estimate, "crude_protein").assay == pytest.approx(14.0 / 84 * estimate.dry_matter_pct)
    assert estimate.values["crude_protein"] == pytest.approx(14.0 / 84 * estimate.dry_matter_pct, abs=0.15)


@pytest.mark.slow
def test_the_covariance_is_that_of_the_printed_nutrients(demo_book, library):
    for estimate in estimate_bins(["north", "south"], demo_book, library):
        assert estimate.covariance.shape == (len(estimate.nutrient_index),) * 2
        assert {"sid_lysine_pig", "ne_pig", "amen_poultry", "methionine_cystine", "dry_matter"} <= set(
            estimate.nutrient_index
        )
        assert estimate.covariance == pytest.approx(estimate.covariance.T)
        assert np.linalg.eigvalsh(estimate.covariance).min() > -1e-9 * np.trace(estimate.covariance)
        for row in estimate.nutrients:
            if row.nutrient in estimate.nutrient_index:
                assert estimate.sd(row.nutrient) == pytest.approx(row.sd)
        exact = np.zeros(len(estimate.nutrient_index))
        for nutrient, sign in (("sid_methionine_pig", 1), ("sid_cystine_pig", 1), ("sid_methionine_cystine_pig", -1)):
            exact[estimate.nutrient_index.index(nutrient)] = sign
        assert exact @ estimate.covariance @ exact == pytest.approx(0, abs=1e-12)
        values = np.array([estimate.values[n] for n in estimate.nutrient_index])
        assert exact @ values == pytest.approx(0, abs=1e-9)


def test_all_bins_report_their_problems_together(bin_book, library):
    book = bin_book(assays={"n1": [("crude_protein", 60.0, "%", "as_fed"), ("ether_extract", 70.0, "%", "as_fed")]})
    with pytest.raises(BookError) as error:
        estimate_bins(["north"], book, library)
    assert {problem.cell for problem in error.value.problems} >= {"C2", "C3"}


def test_check_finds_them_without_an_estimate(bin_book, library):
    book = bin_book(assays={"n1": [("crude_protein", 60.0, "%", "as_fed")]})
    (problem,) = check_bins(book, library)
    assert (problem.severity, problem.sheet, problem.cell) == ("error", "assays", "C2")
    assert check_bins(bin_book(name="good"), library) == []


# Little known ---------------------------------------------------------------------------------------------------


def test_assay_without_a_sort_takes_the_farms_other_bins(make_book, library):
    book = make_book(
        {
            "farm": [{"setting": "name", "value": "two bins"}],
            "bins": [{"bin": b, "sale_price": 180, "mass": "40 t", "moisture_pct": 12} for b in ("north", "south")],
            "samples": [{"sample": "n1", "bin": "north"}, {"sample": "s1", "bin": "south", "probes": 40}],
            "sorted": [{"sample": "s1", "crop": crop, "mass_g": grams} for crop, grams in MIX.items()],
            "assays": [
                {
                    "sample": "n1",
                    "nutrient": "crude_protein",
                    "value": 17,
                    "unit": "%",
                    "basis": "as_fed",
                    "lab_sd": 0.3,
                }
            ],
        }
    )
    north, south = estimate_bins(["north", "south"], book, library)
    assert north.evidence == "assay"
    assert {crop.crop for crop in north.crops} == set(MIX)
    assert all(crop.sorted_share is None for crop in north.crops)
    assert all(crop.sd > 0.1 for crop in north.crops)
    assert north.values["crude_protein"] == pytest.approx(17, abs=0.2)
    assert north.sd("lysine") > 1.5 * south.sd("lysine")
    guess = next(f for f in north.notices if f.kind == "evidence")
    assert guess.severity == "danger"
    assert "other bins" in guess.text
    assert "sort it by crop" in guess.text


def test_neither_sort_nor_assay_is_a_wide_guess_that_says_so(bin_book, library):
    estimate = estimate_bin("north", bin_book(sorts={}), library)
    assert estimate.evidence == "none"
    assert estimate.sample == ""
    assert Z90 * estimate.sd("crude_protein") > 0.4 * estimate.values["crude_protein"]
    assert any("nothing but the list of crops" in f.text and f.severity == "danger" for f in estimate.notices)


def test_seeding_shares_are_a_start(bin_book, library):
    book = bin_book(sorts={}, assays={"n1": [("crude_protein", 19.0, "%", "dry_matter", 0.2)]})
    sown = tuple(SownCrop(Place("sown"), "north", crop, 100.0) for crop in ("triticale", "faba_low_tannin"))
    estimate = estimate_bin("north", replace(book, sown=sown), library)
    assert {crop.crop for crop in estimate.crops} == {row.crop for row in sown}
    assert sum(crop.share for crop in estimate.crops) == pytest.approx(1)
    # Half and half would hold about 22 % protein: the assay says there are fewer beans than were sown.
    assert 0.2 < estimate.share_of("faba_low_tannin") < 0.48
    assert any("shares of the seed" in f.text for f in estimate.notices)


def test_what_was_sown_does_not_count_against_a_hand_sort(bin_book, library):
    book = bin_book()
    with_seed = replace(book, sown=(SownCrop(Place("sown"), "north", "rye", 1.0),))
    assert estimate_bin("north", with_seed, library).crops == estimate_bin("north", book, library).crops


def test_a_sample_or_bin_that_is_not_there_is_told(bin_book, library):
    book = bin_book()
    for call, word in ((("north", "n9"), "n9"), (("nord", None), "north")):
        with pytest.raises(BookError, match=word):
            estimate_bin(call[0], book, library, call[1])


def test_a_sort_of_foreign_matter_alone_is_no_sort(bin_book, library):
    estimate = estimate_bin("north", bin_book({"n1": {"foreign_matter": 12.0}}), library)
    assert estimate.evidence == "none"


def test_one_crop_alone_is_sure_of_its_share(bin_book, library):
    pure = {"wheat_hard": 300.0}
    found = {
        "n1": [("crude_protein", 15.0, "%", "dry_matter", 0.2)],
        "n2": [("crude_protein", 15.4, "%", "dry_matter", 0.2)],
    }
    estimate = estimate_bin("north", bin_book({"n1": pure, "n2": pure}, found), library)
    assert [(crop.share, crop.sd) for crop in estimate.crops] == [(1.0, 0.0)]
    assert estimate.values["crude_protein"] == pytest.approx(15.2 * 0.88, abs=0.05)
    assert estimate.drifts == ()


# The farm's own crops and nutrients -----------------------------------------------------------------------------


def own(feed, nutrient, value, unit="%", sd=None):
    return {"feed": feed, "nutrient": nutrient, "value": value, "unit": unit, "basis": "as_fed", "sd": sd}


def test_a_crop_of_the_farms_own_and_a_nutrient_of_its_own(bin_book, library):
    figures = [
        own("emmer", "dry_matter", 87),
        own("emmer", "crude_protein", 13.0),
        own("emmer", "glow", 5.0, "per_kg", 1.0),
        own("wheat_hard", "glow", 9.0, "per_kg", 1.0),
    ]
    book = bin_book({"n1": {"emmer": 250.0, "wheat_hard": 250.0}}, own_feeds=figures, bin_={"mass": "40 t"})
    estimate = estimate_bin("north", book, library)
    assert estimate.values["glow"] == pytest.approx(7.0)
    assert estimate.sd("glow") == pytest.approx((0.25 * 1 + 0.25 * 1) ** 0.5, rel=0.05)
    assert "lysine" not in estimate.values  # emmer has none: missing, not zero
    assert line(estimate, "glow").unit == "per_kg"


def test_a_crop_without_dry_matter_is_told_with_its_cell(bin_book, library):
    book = bin_book({"n1": {"emmer": 500.0}}, own_feeds=[own("emmer", "crude_protein", 13.0)])
    with pytest.raises(BookError) as error:
        estimate_bin("north", book, library)
    (problem,) = error.value.problems
    assert (problem.sheet, problem.cell) == ("sorted", "B2")
    assert "emmer" in problem.do


def test_an_assay_of_what_no_table_has_is_the_laboratorys_alone(bin_book, library):
    found = [("iodine", 0.2, "mg/kg", "as_fed", 0.05), ("crude_protein", 15.0, "%", "as_fed", 0.3)]
    estimate = estimate_bin("north", bin_book(assays={"n1": found}), library)
    assert estimate.values["iodine"] == pytest.approx(0.2)
    assert line(estimate, "iodine").origin == "assay"
    assert line(estimate, "iodine").sd == pytest.approx(0.05)


def test_a_crop_sorted_at_nothing_stays_with_its_upper_bound(bin_book, library):
    """None found is not none there: up to 3.0 expected kernels 19 times in 20 (rule of three; Poisson law)."""
    sort = {"wheat_hard": 60.0, "peas_field": 40.0, "camelina_seed": 0.0, "vetch_common": 0.0}
    estimate = estimate_bin("north", bin_book({"n1": sort}), library)
    rows = {row.crop: row for row in estimate.crops}
    assert set(rows) == set(sort)
    for crop in ("camelina_seed", "vetch_common"):
        kernel_g = library.feeds[crop].thousand_kernel_weight_g / 1000
        assert (rows[crop].share, rows[crop].sorted_share) == (0.0, 0.0)
        assert rows[crop].sd > 0
        assert rows[crop].at_most == pytest.approx(-np.log(0.05) * kernel_g / 100, rel=1e-6)
        assert crop not in estimate.shares
    told = {f.text.split(":")[0]: f for f in estimate.notices if "none found" in f.text}
    assert set(told) == {library.feeds[crop].label for crop in ("camelina_seed", "vetch_common")}
    assert told[library.feeds["camelina_seed"].label].severity == "warning"  # a cap of safety hangs on it
    assert "no more than" in told[library.feeds["camelina_seed"].label].text


def test_a_crop_with_a_heap_is_bounded_by_its_spread(bin_book, library):
    row = estimate_bin("north", bin_book({"n1": {"wheat_hard": 60.0, "peas_field": 40.0}}), library).crops[0]
    assert row.at_most == pytest.approx(row.share + 1.6449 * row.sd, rel=1e-4)
