"""Toxins of a bin against the limits of the farm's jurisdiction, for the grain and for the complete feed."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from rationlp.bins import estimate_bin
from rationlp.feeds.candidates import bin_candidate
from rationlp.stages.contaminants import _need, candidate_limits
from rationlp.stages.stage import StageNeeds

CEREALS = {"triticale": 300.0, "oats_naked": 200.0}
CORN = {"corn": 500.0}
GROWER, BROILER, HEN, NURSERY, SOW, GILT = (
    "sw_gro_25_50",
    "broiler_0_3",
    "hen_brown_110",
    "sw_nur_11_25",
    "sw_lact_p2_230",
    "sw_gest_p1_early",
)
Z90 = 1.6448536


@pytest.fixture
def limits(bin_book, library):
    """The limits that `assays` of a bin meet in a stage of a farm in a jurisdiction."""

    def find(stage, jurisdiction, assays, sort=CEREALS, moisture=12.0):
        book = bin_book(
            {"n1": sort},
            {"n1": assays},
            {"mass": "40 t", "moisture_pct": moisture},
            {"jurisdiction": jurisdiction},
            name=f"book_{stage}_{jurisdiction}_{moisture:g}",
        )
        estimate = estimate_bin("north", book, library)
        needs = StageNeeds(stage, stage, library.stages.get(stage), None, None, None, None, (), (), (), (), (), ())
        return estimate, candidate_limits(bin_candidate(estimate, book), needs, jurisdiction, library)

    return find


def don(value, basis="as_fed"):
    return [("deoxynivalenol", value, "mg/kg", basis)]


@pytest.mark.parametrize(
    ("stage", "jurisdiction", "value", "refused"),
    [
        (GROWER, "us", 4.0, False),  # FDA: 5 mg/kg of grain for pigs
        (GROWER, "us", 5.5, True),
        (BROILER, "us", 5.5, False),  # 10 mg/kg for chickens
        (BROILER, "us", 11.0, True),
        ("turkey_8_12", "us", 5.5, True),  # 5 mg/kg for all other animals
        (GROWER, "eu", 7.0, False),  # 8 mg/kg of cereals
        (HEN, "eu", 9.0, True),
        (GROWER, "canada", 0.9, False),  # Canada limits the complete feed only (1 mg/kg), and forbids thinning
        (GROWER, "canada", 30.0, True),
        (HEN, "canada", 4.5, False),
        (HEN, "canada", 5.5, True),
    ],
)
def test_a_bin_above_the_limit_of_the_grain_is_refused(limits, stage, jurisdiction, value, refused):
    _, found = limits(stage, jurisdiction, don(value))
    assert bool(found[0].refusal) == refused
    if refused:
        assert f"holds {value:.3g}" in found[0].refusal.text
        assert found[0].source
        assert ("prohibited" in found[0].refusal.text) == (jurisdiction in ("eu", "canada"))


@pytest.mark.parametrize(
    ("stage", "jurisdiction", "maximum"),
    [(GROWER, "us", 1.0), (BROILER, "us", 5.0), (GROWER, "eu", 0.9), (HEN, "eu", 5.0), (GROWER, "canada", 1.0)],
)
def test_the_limit_of_the_complete_feed_is_a_row_with_the_assay_on_the_safe_side(limits, stage, jurisdiction, maximum):
    estimate, found = limits(stage, jurisdiction, don(2.0))
    (row,) = [limit for limit in found if not limit.refusal]
    assert row.nutrient == "deoxynivalenol"
    assert row.unit == "mg/kg"
    assert row.maximum == pytest.approx(maximum)
    assert row.content.upper == pytest.approx(2.0 * (1 + Z90 * 0.134))  # 13.4 % (jaoac_2000_don_wheat)
    assert f"at most {maximum:.3g}" in row.rule
    assert estimate.values["deoxynivalenol"] == pytest.approx(2.0)


def test_limits_at_twelve_percent_moisture_are_lower_in_wetter_grain(limits):
    _, wet = limits(GROWER, "eu", don(2.0), moisture=20.0)
    assert wet[0].maximum == pytest.approx(0.9 * 80 / 88)
    _, dry = limits(GROWER, "eu", don(2.0), moisture=9.0)
    assert dry[0].maximum == pytest.approx(0.9)  # never taken as higher


def test_a_figure_on_dry_matter_is_put_as_fed(limits):
    estimate, _ = limits(GROWER, "us", don(2.0, "dry_matter"))
    assert estimate.values["deoxynivalenol"] == pytest.approx(2.0 * 0.88)


@pytest.mark.parametrize(
    ("stage", "sort", "ppb", "refused"),
    [
        (SOW, CORN, 60, False),  # 100 ug/kg of corn for breeding pigs
        (SOW, CEREALS, 60, True),  # any other grain is held to 20
        (NURSERY, CORN, 25, True),
        ("sw_fin_100_135", CORN, 150, False),  # 200 ug/kg for finishing pigs
        ("sw_fin_100_135", {"corn": 400.0, "peas_field": 100.0}, 150, True),  # no longer corn alone
    ],
)
def test_aflatoxin_levels_of_the_us_are_for_corn(limits, stage, sort, ppb, refused):
    _, found = limits(stage, "us", [("aflatoxin", ppb, "ug/kg", "as_fed")], sort)
    assert bool(found[0].refusal) == refused


def test_of_several_limits_the_lowest_is_the_row(limits):
    """Gestating gilts in the EU: 0.1 mg/kg zearalenone for young sows, not the 0.25 of sows."""
    _, found = limits(GILT, "eu", [("zearalenone", 0.08, "mg/kg", "as_fed")])
    assert found[0].maximum == pytest.approx(0.1)


def test_where_the_law_is_silent_the_strictest_published_limit_is_the_row_and_named_as_such(limits):
    """The US sets none for zearalenone; EU and Canada 0.25 mg/kg for pigs, a university 0.6 (ON_MYCOTOXIN)."""
    _, found = limits(GROWER, "us", [("zearalenone", 0.5, "mg/kg", "as_fed")])
    assert found[0].maximum == pytest.approx(0.25)
    assert found[0].source == "eu_zen_pmc"
    assert "strictest published limit, US sets none: EU guidance value" in found[0].rule


def test_no_ergot_at_all_for_breeding_stock(limits):
    _, found = limits(SOW, "us", [("ergot_sclerotia", 0.02, "%", "as_fed")])
    assert found[0].refusal
    _, young = limits(NURSERY, "us", [("ergot_sclerotia", 0.02, "%", "as_fed")])
    assert not young[0].refusal
    assert young[0].maximum == pytest.approx(0.05)


def test_a_stage_of_the_farms_own_is_held_to_what_is_written_for_the_most_sensitive(limits):
    """Whose animals nobody said: 20 ug/kg is the law of Canada for all, ducks bear 10."""
    _, found = limits("own_stage", "canada", [("aflatoxin", 15, "ug/kg", "as_fed")])
    assert found[0].maximum == pytest.approx(0.010)


def test_a_bin_without_an_assay_of_a_toxin_has_no_limits(limits):
    assert limits(GROWER, "us", [("crude_protein", 15.0, "%", "dry_matter")])[1] == []


def test_the_newest_sample_says_how_much_toxin_there_is(bin_book, library):
    book = bin_book({"n1": CEREALS, "n2": CEREALS}, {"n1": don(0.5), "n2": [*don(3.0), *don(3.4)]})
    estimate = estimate_bin("north", book, library)
    assert estimate.values["deoxynivalenol"] == pytest.approx(3.2)
    line = next(row for row in estimate.nutrients if row.nutrient == "deoxynivalenol")
    assert line.origin == "assay"
    assert line.sd == pytest.approx(0.134 * (3.0**2 + 3.4**2) ** 0.5 / 2)


def test_findings_name_rule_and_source_and_never_propose_diluting(bin_book, library):
    for jurisdiction in ("us", "eu", "canada"):
        book = bin_book(
            {"n1": CEREALS},
            {"n1": [*don(12.0), ("aflatoxin", 50, "ug/kg", "as_fed"), ("ergot_sclerotia", 0.5, "%", "as_fed")]},
            farm={"jurisdiction": jurisdiction},
            name=jurisdiction,
        )
        estimate = estimate_bin("north", book, library)
        toxins = [finding for finding in estimate.notices if finding.kind == "toxin"]
        assert any(finding.severity == "danger" for finding in toxins)
        assert all(finding.source for finding in toxins)
        for sentence in estimate.findings:
            for word in ("dilut", "blend it", "mix it with", "thin it"):
                assert word not in sentence.lower()


def test_a_rough_test_near_the_limit_is_doubted(bin_book, library):
    book = bin_book({"n1": CEREALS}, {"n1": don(4.6)})
    finding = next(f for f in estimate_bin("north", book, library).notices if f.kind == "toxin")
    assert finding.severity == "warning"
    assert "the test is rough" in finding.text


def test_every_mapped_word_is_a_word_of_its_source_table(library):
    words = {
        "storage": {row.crop for row in library.storage},
        "contaminants": {row.applies_to for row in library.contaminants},
    }
    known = set(library.families) | {"all", *(feed.group for feed in library.feeds.values())}
    for row in library.grain_words.values():
        assert row.word in words[row.table], row.word
        assert set(row.feeds) | set(row.other_than) <= known, row.word


def test_every_grain_limit_of_feed_law_is_mapped(library):
    """A limit on the grain without a stage speaks through its words, so they must be mapped."""
    mapped = {word for table, word in library.grain_words if table == "contaminants"}
    for row in library.contaminants:
        if (
            row.limit_in_ingredient is not None
            and row.nutrient
            and not row.scopes
            and row.jurisdiction in ("us", "eu", "canada")
        ):
            assert row.applies_to in mapped, row.applies_to


def test_a_limit_of_a_trade_grade_is_told_and_refuses_nothing(bin_book, library):
    """Wheat above 0.05 % is ergoty by the US Standards for Wheat (7 CFR 810, from memory); EU law allows 0.1 %."""
    book = bin_book({"n1": {"wheat_hard": 500}}, {"n1": [("ergot_sclerotia", 0.08, "%", "as_fed", 0.001)]})
    graded = [finding for finding in estimate_bin("north", book, library).notices if "grade limit" in finding.text]
    assert [(finding.severity, finding.kind) for finding in graded] == [("warning", "toxin")]
    assert "0.08 % is above 0.05 (US grade limit for wheat, special grade ergoty)" in graded[0].text


@pytest.mark.parametrize(
    ("jurisdiction", "value", "severity", "words"),
    [
        ("canada", 0.9, None, ""),
        # Canada (ca_don_tool): 1 mg/kg in the complete feed of pigs, none for the grain; thinning is prohibited
        ("canada", 1.5, "danger", "It is not to be fed to these animals. Thinning it with other grain is prohibited."),
        # FDA (fda_uky_don): 5 mg/kg of grain for pigs, at most a fifth of the diet: 1 mg/kg of it
        ("us", 0.9, None, ""),
        ("us", 3.0, "warning", "The rations hold it to that."),
    ],
)
def test_grain_above_what_the_feed_may_hold_is_refused_only_where_thinning_is_forbidden(
    jurisdiction, value, severity, words, bin_book, library
):
    book = bin_book(
        {"n1": CEREALS},
        {"n1": don(value)},
        farm={"jurisdiction": jurisdiction},
        groups=[{"group": "pigs", "stage": GROWER, "head": 10}],
    )
    notices = estimate_bin("north", book, library).notices
    told = [notice for notice in notices if "what a complete feed may hold" in notice.text]
    assert [notice.severity for notice in told] == ([severity] if severity else [])
    assert all(words in notice.text for notice in told)


def test_what_may_not_be_there_at_all_is_held_to_nothing(limits):
    """A limit without a figure is of what is banned; beside one with a figure it is the lower."""
    _, (limit, *_) = limits(GROWER, "us", don(4.0))
    offers = [SimpleNamespace(name="one"), SimpleNamespace(name="other")]
    held = list(zip(offers, (limit, replace(limit, maximum=None)), strict=True))
    assert _need(held[:1]).maximum == limit.maximum == 1.0 and _need(held).maximum == 0.0
