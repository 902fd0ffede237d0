"""Organic certificates: what is out, what is limited, what is only a warning, on a certified version of the demo."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.farm import Farm
from rationlp.rations.formulate import formulate, solve_rations

CERTIFIED = {"soybean_meal_expeller", "canola_meal_expeller", "corn", "peas_field", "wheat_bran"}


def certified_demo(book, certification, **changes):
    """The demo with a certificate, its agricultural offers certified or (`changes`: offer to yes, no, None) not."""
    offers = tuple(
        replace(o, organic=changes.get(o.offer, True if o.feed in CERTIFIED else o.organic)) for o in book.supplements
    )
    return replace(book, supplements=offers, farm=replace(book.farm, certification=certification))


def used(ration):
    return {line.feed for line in ration.mix if line.share}


@pytest.mark.parametrize("certification", ["us_organic", "eu_organic"])
def test_barred_feeds_are_out_each_with_its_rule(certification, demo_book, library):
    for one in solve_rations(
        Farm(certified_demo(demo_book, certification), library), ["sw_gro_25_50", "hen_brown_110"]
    ):
        assert one.ration.status == "optimal"
        barred = {c.feed for c in one.formula.candidates} & {
            "soybean_meal_48_dehulled_solvent",
            "l_lysine_hcl",
            "l_threonine",
            "l_tryptophan",
            "l_valine",
            "alfalfa_meal_17",
        }
        assert not barred
        notes = " ".join(one.ration.notes)
        assert "Soybean meal 48 %" in notes and "L-lysine HCl" in notes
        if certification == "us_organic":
            assert "7 CFR 205.603(d)" in notes and "7 CFR 205.237(a)" in notes
        else:
            assert "synthetic amino acids" in notes


def test_synthetic_methionine_is_capped_by_bird_in_the_us_and_not_for_pigs(demo_book, library):
    """2 lb per short ton for layers, 2.5 for broilers, 3 for turkeys: 0.10, 0.125 and 0.15 %."""
    book = certified_demo(demo_book, "us_organic")
    offers = tuple(replace(o, price_per_tonne=1.0) if o.feed == "dl_methionine" else o for o in book.supplements)
    book = replace(book, supplements=offers, farm=replace(book.farm, requirement_margin_pct=12.0))
    stages = {
        "hen_peak": 0.10,
        "layer_chick_0_6_brown": 0.10,
        "broiler_3_6": 0.125,
        "turkey_8_12": 0.15,
        "sw_gro_50_75": 0.0,
    }
    held = {}
    for ration in formulate(Farm(book, library), stages, ["south"]):
        caps = [line for line in ration.limits if line.feed == "dl_methionine" and line.evidence == "legal_max"]
        assert min(line.max_pct for line in caps) == pytest.approx(stages[ration.stage]), ration.stage
        assert any("7 CFR 205.603(d)" in line.source for line in caps)
        held[ration.stage] = 100 * sum(line.share for line in ration.mix if line.feed == "dl_methionine")
        assert held[ration.stage] <= stages[ration.stage] + 1e-6
        if stages[ration.stage]:
            assert any("lb of synthetic methionine per short ton" in line.reason for line in caps)
    assert max(held.values()) > 0.09


def test_eu_bars_synthetic_methionine_for_birds_too(demo_book, library):
    for ration in formulate(Farm(certified_demo(demo_book, "eu_organic"), library), ["hen_brown_110"]):
        assert "dl_methionine" not in {line.feed for line in ration.mix}
        assert any("DL-methionine" in note and "prohibited" in note for note in ration.notes)


def test_an_unknown_status_is_a_warning_and_not_a_yes(demo_book, library):
    book = certified_demo(demo_book, "us_organic", corn_bought=None, soy_pressed=True)
    (one,) = solve_rations(Farm(book, library), ["sw_gro_25_50"], ["north"])
    assert "corn_bought" not in {c.name for c in one.formula.candidates}
    (warning,) = [w for w in one.ration.warnings if "Corn" in w]
    assert "does not say whether certified" in warning


def test_where_the_library_knows_no_rule_the_books_word_counts_with_a_warning(demo_book, library):
    """EU status of choline chloride is not known to the library."""
    assert library.feeds["choline_chloride_60"].eu_organic == ""
    for organic, kept in ((None, False), (True, True)):
        book = certified_demo(demo_book, "eu_organic", choline=organic)
        (one,) = solve_rations(Farm(book, library), ["sw_gro_25_50"], ["north"])
        assert ("choline" in {c.name for c in one.formula.candidates}) is kept
        assert any("Choline" in w and "Ask the certifier" in w for w in one.ration.warnings)


def test_eu_share_of_own_feed_is_a_finding_with_its_article(demo_book, library):
    book = certified_demo(demo_book, "eu_organic")
    for ration in formulate(Farm(book, library), ["sw_gro_50_75", "broiler_3_6"], ["south"]):
        told = [w for w in ration.warnings if "home-grown" in w]
        assert bool(told) == (ration.home_grown_share < 0.30), ration.stage
        for warning in told:
            assert "30 %" in warning and "1.9.3.1" in warning and "region" in warning
    assert not any("home-grown" in w for r in formulate(Farm(demo_book, library), ["broiler_3_6"]) for w in r.warnings)


@pytest.mark.slow
def test_the_protein_exception_is_told_of_young_stock_and_never_used(demo_book, library):
    book = certified_demo(demo_book, "eu_organic", soy_pressed=False)
    rations = {r.stage: r for r in formulate(Farm(book, library), ["sw_nur_11_25", "sw_fin_75_100"], ["north"])}
    told = [n for n in rations["sw_nur_11_25"].notes if "Non-organic protein feed" in n]
    assert told and "5 % of agricultural dry matter" in told[0] and "1.9.3.1" in told[0]
    assert not any("Non-organic protein feed" in n for n in rations["sw_fin_75_100"].notes)
    assert "soybean_meal_expeller" not in used(rations["sw_nur_11_25"])


def test_without_a_certificate_nothing_is_said(demo_book, library):
    for ration in formulate(Farm(demo_book, library), ["sw_gro_25_50"]):
        assert not any("organic" in text.lower() for text in (*ration.notes, *ration.warnings))
