"""Bins on hold, what notes say, and poisonous seeds in the hand sort. Every bin is invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from rationlp.bins import estimate_bin
from rationlp.bins.findings.hold import hold_reason, on_hold
from rationlp.book.records import Assay, Bin, Lot, OwnRequirement, Place, Settings
from rationlp.farm import Farm
from rationlp.feeds.candidates import bin_candidate, offer_candidates
from rationlp.feeds.contaminants import own_book
from rationlp.rations.formulate import formula_of
from rationlp.reasons import Kind, Severity

TODAY = date(2026, 3, 1)
BEFORE, AFTER = date(2026, 2, 20), date(2026, 3, 9)
OFFERS = [
    {"offer": feed, "feed": feed, "price": price}
    for feed, price in (
        ("corn", 200),
        ("soybean_meal_48_dehulled_solvent", 390),
        ("limestone_fine", 90),
        ("salt", 200),
        ("monocalcium_phosphate", 800),
        ("l_lysine_hcl", 1700),
        ("dl_methionine", 3300),
        ("l_threonine", 1900),
        ("premix_swine", 2500),
    )
]


def row(**given):
    return Bin(Place("bins", 2), "north", **given)


@pytest.mark.parametrize(
    ("given", "held"),
    [
        ({}, False),
        ({"hold": "treated_seed"}, True),
        ({"hold": "treated_seed", "released_by": "the vet"}, False),
        ({"hold": "treated_seed", "hold_until": BEFORE}, True),
        ({"hold": "treated_seed", "hold_until": BEFORE, "released_by": "the vet"}, False),
        ({"hold": "treated_seed", "hold_until": AFTER, "released_by": "the vet"}, True),
        ({"hold": "fumigated"}, True),
        ({"hold": "fumigated", "hold_until": BEFORE}, False),
        ({"hold": "fumigated", "hold_until": TODAY}, True),
        ({"hold": "fumigated", "hold_until": AFTER}, True),
        ({"hold": "fumigated", "released_by": "the fumigator"}, False),
        ({"hold": "do_not_feed", "released_by": "  "}, True),
        ({"hold": "mould", "released_by": "x"}, True),
        ({"hold": "mould", "released_by": "no"}, True),
        ({"hold": "mould", "released_by": "not yet"}, True),
        ({"hold": "mould", "released_by": "No. 4 elevator"}, False),
        ({"hold_until": AFTER}, True),
        ({"hold_until": BEFORE}, False),
    ],
)
def test_who_and_what_releases_a_bin(given, held):
    """In doubt the animal's safety wins: a date alone ends the hold of a fumigated bin only."""
    assert on_hold(row(**given), TODAY) == held
    assert (hold_reason(row(**given), Settings(), TODAY) is not None) == held


def test_the_reason_names_the_hold_and_who_can_release_it():
    reason = hold_reason(row(hold="mould"), Settings(), TODAY)
    assert (reason.kind, reason.severity, reason.feed) == (Kind.SAFETY, Severity.STOP, "north")
    assert "mould" in reason.text and "a nutritionist" in reason.text and "released_by" in reason.text


def formula(book, library, stage="sw_gro_25_50"):
    farm = Farm(book, library)
    return formula_of(farm, farm.stage(stage), ("north",))


def with_offers(make_book, bin_, samples=({"sample": "n1", "bin": "north"},), sorts=None, assays=(), offers=OFFERS):
    sorts = sorts or {"n1": {"triticale": 300.0, "peas_field": 200.0}}
    return make_book(
        {
            "farm": [{"setting": "name", "value": "holds"}],
            "bins": [{"bin": "north", "mass": "40 t", "moisture_pct": 12, **bin_}],
            "samples": list(samples),
            "sorted": [
                {"sample": sample, "crop": crop, "mass_g": grams}
                for sample, masses in sorts.items()
                for crop, grams in masses.items()
            ],
            "assays": list(assays),
            "supplements": list(offers),
        }
    )


def test_a_bin_on_hold_is_in_no_mix(make_book, library):
    book = with_offers(make_book, {"hold": "treated_seed"})
    made = formula(book, library)
    assert "north" not in made.program.columns
    (reason,) = made.left_out
    assert reason.feed == "north" and "on hold" in reason.text
    free = replace(book, bins=(replace(book.bins[0], released_by="the vet"),))
    assert "north" in formula(free, library).program.columns and formula(free, library).left_out == ()


def test_a_note_of_treated_seed_is_a_question_and_not_a_bar(make_book, library):
    made = formula(with_offers(make_book, {"note": "contains treated seed"}), library)
    (candidate,) = [c for c in made.candidates if c.name == "north"]
    (reason,) = candidate.reasons
    assert (reason.kind, reason.severity) == (Kind.SAFETY, Severity.ASK)
    assert "treated" in reason.text and "hold" in reason.text


def test_the_note_of_a_sample_that_says_nothing_else_counts(make_book, library):
    samples = ({"sample": "n1", "bin": "north"}, {"sample": "n2", "bin": "north", "note": "rat poison dropped in"})
    estimate = estimate_bin("north", with_offers(make_book, {}, samples), library)
    assert any("sample n2" in reason.text and "bait" in reason.text for reason in estimate.reasons)
    assert any("rat poison" in finding.text for finding in estimate.notices)


@pytest.mark.parametrize(
    ("crop", "grams", "severity"),
    [
        ("castor", 0.2, Severity.STOP),  # 0.04 %; the EU maximum is 10 mg/kg (Directive 2002/32/EC, item Ricinus)
        ("datura", 0.2, Severity.ASK),  # 0.04 %; the EU maximum is 1000 mg/kg = 0.1 % (the same, item Datura)
        ("datura", 2.0, Severity.STOP),  # 0.4 %
        ("kidney_beans", 5.0, Severity.STOP),
        ("ergot", 1.0, Severity.STOP),
    ],
)
def test_a_poisonous_seed_in_the_sort_holds_the_bin(make_book, library, crop, grams, severity):
    book = with_offers(make_book, {}, sorts={"n1": {"triticale": 300.0, "peas_field": 200.0, crop: grams}})
    made = formula(book, library)
    held = severity is Severity.STOP
    assert ("north" in made.program.columns) != held
    (reason,) = made.left_out if held else next(c for c in made.candidates if c.name == "north").reasons
    assert reason.severity is severity and reason.kind is Kind.SAFETY and reason.source
    estimate = estimate_bin("north", book, library)
    assert estimate.share_of("foreign_matter") > 0 and estimate.share_of(crop) == 0


def test_no_seed_of_it_holds_nothing(make_book, library):
    book = with_offers(make_book, {}, sorts={"n1": {"triticale": 300.0, "castor": 0.0}})
    assert estimate_bin("north", book, library).reasons == ()


def test_ergot_that_is_assayed_too_is_left_to_the_limits_on_the_assay(make_book, library):
    book = with_offers(
        make_book,
        {},
        sorts={"n1": {"triticale": 499.9, "ergot": 0.1}},
        assays=[{"sample": "n1", "nutrient": "ergot_sclerotia", "value": 0.02, "unit": "%", "basis": "as_fed"}],
    )
    assert estimate_bin("north", book, library).reasons == ()


def test_a_newer_sort_without_it_leaves_a_question(make_book, library):
    samples = (
        {"sample": "n1", "bin": "north", "taken_on": "2025-10-01"},
        {"sample": "n2", "bin": "north", "taken_on": "2025-11-01"},
    )
    sorts = {"n1": {"triticale": 500.0, "castor": 1.0}, "n2": {"triticale": 500.0}}
    (reason,) = estimate_bin("north", with_offers(make_book, {}, samples, sorts), library).reasons
    assert reason.severity is Severity.ASK and "newer sort" in reason.text


def test_what_a_label_says_stands_on_the_candidate(make_book, library):
    offers = [
        *OFFERS,
        {"offer": "med", "feed": "premix_swine", "price": 2000, "label": "Swine premix MEDICATED monensin"},
        {"offer": "beans", "feed": "soybeans_roasted", "price": 300, "label": "Soybeans RAW, not roasted"},
    ]
    made = {c.name: c for c in offer_candidates(with_offers(make_book, {}, offers=offers), library)}
    assert [r.severity for r in made["med"].reasons] == [Severity.ASK, Severity.ASK]
    (raw,) = made["beans"].reasons
    assert raw.severity is Severity.ASK and "raw" in raw.text
    assert made["corn"].reasons == () and made["l_lysine_hcl"].reasons == ()


@pytest.mark.parametrize(("feed", "asked"), [("corn", 0), ("limestone_fine", 0), ("soybeans_roasted", 1)])
def test_raw_says_something_only_of_feeds_that_heat_makes_safe(make_book, library, feed, asked):
    """Raw corn is corn; raw soybeans in the place of roasted ones hold trypsin inhibitors (soy_raw_chick)."""
    offers = [{"offer": "one", "feed": feed, "price": 300, "label": "Raw, whole"}]
    (made,) = offer_candidates(with_offers(make_book, {}, offers=offers), library)
    assert len(made.reasons) == asked


def test_several_assays_of_a_lot_are_as_sure_as_their_mean(make_book, library):
    """Of three results with 0.3, 0.6 and 0.6 of error their mean has sqrt(0.09 + 0.36 + 0.36) / 3 = 0.3."""
    book = with_offers(
        make_book, {}, offers=[{"offer": "soy", "feed": "soybean_meal_48_dehulled_solvent", "price": 390}]
    )
    results = [(46.0, 0.3), (47.0, 0.6), (49.5, 0.6)]
    assays = [Assay(Place(), "", "crude_protein", value, "%", "as_fed", lab_sd=sd, lot="l1") for value, sd in results]
    book = replace(book, lots=(Lot(Place(), "l1", "soy"),), assays=tuple(assays))
    (figure,) = [
        row for row in own_book(book.supplements[0], book, library).own_feeds if row.nutrient == "crude_protein"
    ]
    assert (figure.value, figure.sd) == (pytest.approx(47.5), pytest.approx(0.3))


@pytest.mark.parametrize(("stage", "left_out"), [("tk_starter", True), ("sw_gro_25_50", False)])
def test_salinomycin_is_never_fed_to_turkeys(make_book, library, stage, left_out):
    """Poultry Science 65:1955 (1986): 44 to 66 mg/kg killed 13 of 20 turkeys of 27 and 32 weeks."""
    stages = [name for name, known in library.stages.items() if known.species == "turkey"]
    stage = stages[0] if left_out else stage
    offers = [*OFFERS, {"offer": "grower", "feed": "corn", "price": 180, "label": "Grower with salinomycin"}]
    offers += [{"offer": "premix_poultry_growing", "feed": "premix_poultry_growing", "price": 2400}]
    made = formula(with_offers(make_book, {}, offers=offers), library, stage)
    assert ("grower" not in made.program.columns) == left_out
    assert any("salinomycin" in reason.text for reason in made.left_out) == left_out


def test_bird_bones_and_meat_meal_are_barred_by_eu_law_only(make_book, library):
    """Regulation (EC) No 999/2001 Annex IV as amended by Regulation (EU) 2021/1372."""
    offers = [*OFFERS, {"offer": "mbm", "feed": "meat_and_bone_meal", "price": 300}]
    book = with_offers(make_book, {}, offers=offers)
    assert "mbm" in formula(book, library).program.columns
    eu = replace(book, farm=replace(book.farm, jurisdiction="eu"))
    made = formula(eu, library)
    assert "mbm" not in made.program.columns
    (reason,) = made.left_out
    assert (reason.kind, reason.severity, reason.feed) == (Kind.LAW, Severity.STOP, "mbm")
    assert "999/2001" in reason.text


@pytest.mark.parametrize(("energy", "lysine"), [("ne_pig", "sid_lysine_pig"), ("amen_poultry", "sid_lysine_poultry")])
def test_the_law_holds_for_a_stage_of_the_farms_own(make_book, library, energy, lysine):
    offers = [*OFFERS, {"offer": "mbm", "feed": "meat_and_bone_meal", "price": 300}]
    book = with_offers(make_book, {}, offers=offers)
    rows = [(energy, 2300, "kcal/kg"), (lysine, 0.8, "%"), ("calcium", 0.6, "%"), ("sodium", 0.1, "%")]
    own = tuple(OwnRequirement(Place(), "mine", name, least, None, unit, "kg") for name, least, unit in rows)
    made = formula(replace(book, farm=replace(book.farm, jurisdiction="eu"), own_stages=own), library, "mine")
    assert [reason.kind for reason in made.left_out] == [Kind.LAW]


def test_an_offer_fixed_in_every_mix_stays_with_its_reason(make_book, library):
    offers = [*OFFERS, {"offer": "mbm", "feed": "meat_and_bone_meal", "price": 300, "min_pct": 3}]
    book = with_offers(make_book, {}, offers=offers)
    made = formula(replace(book, farm=replace(book.farm, jurisdiction="eu")), library)
    (fixed,) = [c for c in made.candidates if c.name == "mbm"]
    assert [r.kind for r in fixed.reasons if r.severity is Severity.STOP] == [Kind.LAW]


def test_a_bin_is_a_candidate_with_its_reasons(make_book, library):
    book = with_offers(make_book, {"note": "mouldy"})
    estimate = estimate_bin("north", book, library)
    assert bin_candidate(estimate, book).reasons == estimate.reasons != ()


def noted(make_book, note, *results):
    assays = [
        {"sample": "n1", "nutrient": nutrient, "value": value, "unit": "ppm", "basis": "as_fed"}
        for nutrient, value in results
    ]
    return with_offers(make_book, {"note": note}, assays=assays)


@pytest.mark.parametrize(
    ("results", "asked"),
    [
        ((), True),
        ((("deoxynivalenol", 3.2),), False),
        ((("deoxynivalenol", 3.1),), False),
        ((("deoxynivalenol", 0.4),), True),
        ((("zearalenone", 0.1),), True),
    ],
)
def test_a_result_in_a_note_is_asked_about_until_it_stands_on_assays(make_book, library, results, asked):
    """A note "DON 3.2" was read by nobody; entered as well, it is held to the limits and asked about no more."""
    reasons = estimate_bin("north", noted(make_book, "strip test, DON 3.2 ppm", *results), library).reasons
    assert bool([reason for reason in reasons if "don 3.2 ppm" in reason.text]) == asked


@pytest.mark.parametrize(("of", "asked"), [("n2", False), ("n1", True)])
def test_a_result_in_the_note_on_a_sample_is_looked_for_among_its_own(make_book, library, of, asked):
    samples = ({"sample": "n1", "bin": "north"}, {"sample": "n2", "bin": "north", "note": "DON 3.2"})
    result = {"sample": of, "nutrient": "deoxynivalenol", "value": 3.2, "unit": "ppm", "basis": "as_fed"}
    reasons = estimate_bin("north", with_offers(make_book, {}, samples, assays=[result]), library).reasons
    assert any("note on sample n2" in reason.text for reason in reasons) == asked


@pytest.mark.parametrize(
    ("note", "stage", "barred"),
    [
        ("not for pigs", "sw_gro_25_50", True),
        ("not for pigs", "hen_peak", False),
        ("salinomycin feed got in", "turkey_8_12", True),
        ("not for laying hens", "broiler_0_3", False),
        ("not for laying hens", "hen_peak", True),
    ],
)
def test_a_note_on_a_bin_bars_the_animals_it_names(make_book, library, note, stage, barred):
    offers = [*OFFERS, {"offer": "premix_poultry", "feed": "premix_poultry_growing", "price": 2400}]
    made = formula(with_offers(make_book, {"note": note}, offers=offers), library, stage)
    assert ("north" not in made.program.columns) == barred
    assert any("Never feed it to" in reason.text for reason in made.left_out) == barred


def test_what_is_no_danger_is_told_and_not_asked(make_book, library):
    book = with_offers(make_book, {"note": "frosted in August"})
    (reason,) = estimate_bin("north", book, library).reasons
    assert reason.severity is Severity.FEED
