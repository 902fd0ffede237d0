"""Needs that older tables do not have: coarse calcium, milk sugar, bulk, present hens, the feed of animals outdoors.

Sources beside each check; ids are those of feed_library/sources.csv.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.book.records import Offer, Place
from rationlp.farm import Farm
from rationlp.library.equations import animals
from rationlp.rations.formulate import formulate
from rationlp.reasons import Severity
from rationlp.stages.needs import stage_needs

HEN = "hen_brown_peak_26_45"
LOHMANN = {"methionine": 50, "methionine_cystine": 90, "threonine": 70, "tryptophan": 22, "isoleucine": 80}
LOHMANN |= {"valine": 88, "arginine": 104}  # LOH_CAGE_23, Table 7, layer column, percent of digestible lysine


def ration(book, library, stage, bin_name="north"):
    (found,) = formulate(Farm(book, library), [stage], [bin_name])
    return found


def without(book, *offers):
    return replace(book, supplements=tuple(offer for offer in book.supplements if offer.offer not in offers))


def shares(found):
    return {line.offer: line.share for line in found.mix}


# Coarse calcium -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("stage", "least"), [(HEN, 0.5), ("hen_brown_late_66_80", 0.65)])
def test_half_of_a_hens_limestone_is_coarse_and_more_past_65_weeks(demo_book, library, stage, least):
    """One half to two thirds of the supplement over 1 mm (ENCY_LAYER_CA); 70 % at 73 weeks (SREP_OLDHEN_CA)."""
    found = ration(demo_book, library, stage)
    held = shares(found)
    coarse = held.get("limestone_grit", 0) + held.get("oyster", 0)
    assert coarse >= least * (coarse + held["limestone"]) - 1e-6 > 0
    (line,) = [line for line in found.ratios if line.numerator == "coarse_calcium"]
    assert line.minimum == least and line.meets


@pytest.mark.slow
def test_where_nothing_coarse_is_on_offer_a_nutritionist_is_asked(demo_book, library):
    found = ration(without(demo_book, "limestone_grit", "oyster"), library, HEN)
    assert found.status == "optimal" and found.verdict.severity is Severity.ASK
    (reason,) = [reason for reason in found.verdict.reasons if reason.nutrient == "coarse_calcium"]
    assert reason.text.startswith("No coarse limestone or shell is on offer")
    assert not [line for line in found.ratios if line.numerator == "coarse_calcium"]


# Milk sugar -----------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_weaned_pigs_get_milk_sugar_where_whey_is_on_offer(demo_book, library):
    """Whey powder is 66 % lactose (stein_whey_2012); 10 % of the feed of 5 to 7 kg pigs at the table's energy."""
    whey = Offer(Place(), "whey", "dried_whey", price_per_tonne=1100.0)
    found = ration(replace(demo_book, supplements=(*demo_book.supplements, whey)), library, "sw_nur_5_7")
    (line,) = [line for line in found.requirements if line.nutrient == "lactose"]
    assert line.meets and line.gives == pytest.approx(66 * shares(found)["whey"], rel=0.01)
    assert found.status == "optimal"


@pytest.mark.slow
def test_without_milk_a_nutritionist_is_asked_and_the_feed_is_not_barred(demo_book, library):
    found = ration(demo_book, library, "sw_nur_5_7")
    assert found.verdict.severity is Severity.ASK
    assert any(reason.nutrient == "lactose" for reason in found.verdict.reasons)


# Bulk -----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("stage", ["sw_gest_p2_early", "sw_boar"])
def test_animals_fed_by_weight_get_bulk(demo_book, library, stage):
    """EU law asks for bulky feed of dry sows, without a figure (EU_2008_120), Germany 8 % of dry matter (LGL_FIBRE)."""
    found = ration(demo_book, library, stage)
    (line,) = [line for line in found.requirements if line.nutrient == "crude_fibre" and line.minimum]
    assert line.minimum == 5 and line.meets


# Hens -----------------------------------------------------------------------------------------------------------------


def test_hens_of_every_table_have_one_least_energy(demo_book, library):
    """Four strains laid alike on 2519 kcal/kg (FOURSTRAINS_E); pullets that begin to lay keep more."""
    for stage in library.stages.values():
        if stage.kind == "layer" and stage.stage != "hen_brown_start_19_25":
            needs = stage_needs(stage.stage, demo_book, library).needs
            (floor,) = [need for need in needs if need.kind == "energy_floor"]
            assert floor.minimum == pytest.approx(2519, abs=6), stage.stage


def test_digestible_amino_acids_of_todays_hens_keep_the_breeders_ratios(library):
    for stage, rows in library.requirements.items():
        mg = {row.nutrient: row.minimum for row in rows if row.use == "row" and row.per == "day" and row.unit == "mg"}
        if library.stages[stage].animals_of != "hens of the 2020s":
            continue
        for acid, percent in LOHMANN.items():
            assert mg[f"sid_{acid}_poultry"] == pytest.approx(percent / 100 * mg["sid_lysine_poultry"], rel=0.002)


def test_isoleucine_follows_eggs_and_weight(library):
    """MANNION1993_ILE: 9.91 mg per g of egg and 33.56 mg per kg; 569 mg at 52 g and 1.6 kg, 622 mg at 56 g and 2 kg."""
    assert animals.isoleucine_need_of_hen(52, 1.6) == pytest.approx(569, abs=0.5)
    assert animals.isoleucine_need_of_hen(56, 2.0) == pytest.approx(622, abs=0.5)
    for stage, mg in (("hen_white_100", 569), ("hen_brown_110", 622)):
        rows = [row for row in library.requirements[stage] if row.nutrient == "isoleucine" and row.per == "day"]
        assert [row.minimum for row in rows if row.use == "row"] == [mg]
        assert any(row.use == "check" for row in rows), "the older table's figure stays as a check"


def test_todays_hen_is_fed_from_the_demo_bin(demo_book, library):
    assert ration(demo_book, library, HEN).verdict.severity is Severity.FEED


# Protein --------------------------------------------------------------------------------------------------------------


def test_protein_is_a_floor_at_the_share_that_trials_support(library):
    """0.90 broilers (VANHARN2019), 0.90 hens and never under 14 % (JAS2026_BALCP, SANTOS2014), 0.86 turkeys."""
    seen = 0
    for stage, rows in library.requirements.items():
        for row in rows:
            share = row.note.split(" of the ")[0]
            if row.nutrient != "crude_protein" or row.use != "row" or not share.startswith("0."):
                continue
            table = [r.minimum for r in rows if r.nutrient == "crude_protein" and r.use == "check" and r.per == row.per]
            if library.stages[stage].animals_of.startswith(("birds of the table", "birds of the standard")):
                assert float(share) * max(table) <= row.minimum + 0.06 * (row.unit == "%") + 1, stage
                assert row.minimum < max(table)
                seen += 1
    assert seen > 15


# Whose needs they are -------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_an_older_table_names_its_year_and_todays_stage(demo_book, library):
    notes = " ".join(ration(demo_book, library, "hen_brown_110").notes)
    assert "birds of the table of 1994" in notes and HEN in notes


def test_every_stage_says_whose_needs_it_has_and_names_known_stages_of_today(library):
    for stage in library.stages.values():
        assert stage.animals_of, stage.stage
        assert set(stage.today) <= set(library.stages), stage.stage


def test_a_row_of_todays_animals_whose_source_was_seen_as_an_abstract_is_not_called_read(library):
    for stage, rows in library.requirements.items():
        if any(word in library.stages[stage].animals_of for word in ("table", "standard")):
            continue
        for row in rows:
            seen = [library.sources[source].citation for source in row.source.split("; ")]
            if row.use == "row" and row.how == "page" and not row.note.startswith("as "):
                assert not all("(seen: abstract" in citation for citation in seen), (stage, row.nutrient)


# Outdoors -------------------------------------------------------------------------------------------------------------


def housed(book, group_stage, housing):
    return replace(
        book,
        groups=tuple(replace(g, housing=housing) if g.stage == group_stage else g for g in book.groups),
    )


@pytest.mark.slow
def test_animals_outdoors_eat_more_of_the_same_mix_and_it_is_said_with_its_spread(demo_book, library):
    """About 15 % more for sows (OUTDOOR_SOWS_FWI), 10 to 20; 420 g of grass dry matter a day (ESKILDSEN_SUMMER)."""
    stage = "sw_gest_p2_early"
    indoors = ration(demo_book, library, stage)
    outside = ration(housed(demo_book, stage, "pasture"), library, stage)
    assert outside.feed_kg_per_head_per_day == pytest.approx(1.15 * indoors.feed_kg_per_head_per_day)
    assert shares(outside) == pytest.approx(shares(indoors))
    (note,) = [note for note in outside.notes if note.startswith("Animals on pasture")]
    assert "15 % more than indoors (10 to 20 %)" in note and "420 g of dry matter a day" in note


@pytest.mark.parametrize(
    ("units", "words"), [("metric", "574 g of dry matter (472 g to 574 g)"), ("us", "1.27 lb of dry")]
)
def test_what_animals_take_from_a_pasture_is_told_in_the_units_of_the_book(demo_book, library, units, words):
    """472 to 574 g of dry matter, nursing sows at day 40 and at the peak of milk (ESKILDSEN_SUMMER)."""
    book = housed(demo_book, "sw_lact_p2_230", "pasture")
    book = replace(book, farm=replace(book.farm, units=units))
    notes = Farm(book, library).stage("sw_lact_p2_230").notes
    (note,) = [note for note in notes if note.startswith("Animals on pasture")]
    assert words in note and ("g of" not in note or units == "metric")


@pytest.mark.slow
def test_where_nothing_was_read_of_animals_outdoors_that_is_said(demo_book, library):
    stage = "turkey_8_12"
    outside = ration(housed(demo_book, stage, "outdoor"), library, stage)
    assert outside.feed_kg_per_head_per_day == ration(demo_book, library, stage).feed_kg_per_head_per_day
    assert any("no published figure was found" in note for note in outside.notes)
