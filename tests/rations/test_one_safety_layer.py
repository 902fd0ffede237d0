"""Contaminants count from wherever they come: full rations of the demo farm, and mixes that the crew weighed."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from rationlp.bins import estimate_bin
from rationlp.book.records import Assay, Lot, OwnFigure, OwnRequirement, Place, Sample, Weighed
from rationlp.farm import Farm
from rationlp.feeds.candidates import bin_candidate, offer_candidates
from rationlp.feeds.contaminants import lots_in_stock
from rationlp.rations.formulate import solve_rations
from rationlp.reasons import Kind, Severity
from rationlp.stages.contaminants import contaminant_reasons
from rationlp.stages.needs import stage_needs

GROWER = "sw_gro_25_50"


def own(book, feed, nutrient, value, unit="mg/kg"):
    return replace(book, own_feeds=(*book.own_feeds, OwnFigure(Place(), feed, nutrient, value, unit, "as_fed")))


def assayed(book, *rows, **farm):
    """Assays (sample or lot, nutrient, value); a name that is a lot of the book stands for the lot."""
    lots = {row.lot for row in book.lots}
    more = tuple(
        Assay(
            Place(),
            "" if name in lots else name,
            nutrient,
            value,
            "%" if "sclerotia" in nutrient else "mg/kg",
            "as_fed",
            "",
            None,
            name if name in lots else "",
        )
        for name, nutrient, value in rows
    )
    return replace(book, assays=(*book.assays, *more), farm=replace(book.farm, **farm))


def candidate(book, library, name):
    return next(c for c in offer_candidates(book, library) if c.name == name)


def made(book, library, stage=GROWER, bins=("north",)):
    (one,) = solve_rations(Farm(book, library), [stage], bins)
    return one


# Bought feed ----------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("stage", [GROWER, "sw_gest_p2_late", "hen_brown_110", "broiler_0_3"])
@pytest.mark.parametrize(("nutrient", "value"), [("deoxynivalenol", 40.0), ("aflatoxin", 0.9)])
def test_a_certificate_of_bought_corn_keeps_it_out(demo_book, library, stage, nutrient, value):
    """FDA: deoxynivalenol 5 mg/kg of grain for pigs, 10 for chickens; aflatoxin 20 to 100 ug/kg of corn."""
    cheap = tuple(replace(o, price_per_tonne=20.0) if o.feed == "corn" else o for o in demo_book.supplements)
    one = made(own(replace(demo_book, supplements=cheap), "corn", nutrient, value), library, stage)
    assert "corn_bought" not in {part.offer for part in one.ration.mix if part.share > 0}
    (reason,) = one.formula.left_out
    assert (reason.feed, reason.nutrient, reason.severity) == ("corn_bought", nutrient, Severity.STOP)
    assert reason.value == value and reason.limit < value
    (told,) = [r for r in one.ration.verdict.reasons if r.feed == "corn_bought"]
    assert (told.text, told.severity, told.kind) == (reason.text, Severity.ASK, reason.kind)
    assert "corn_bought" in told.text and one.ration.verdict.severity is not Severity.FEED


def test_a_bought_lot_is_held_by_its_assay(demo_book, library):
    """0.9 mg/kg of deoxynivalenol in the lot: the row of 1 mg/kg counts it at the safe side beside the bin."""
    book = assayed(demo_book, ("maize_1", "deoxynivalenol", 1.6), ("n1", "deoxynivalenol", 1.2))
    one = made(book, library)
    (need,) = one.formula.contaminants
    assert set(need.contents) == {"north", "corn_bought"}
    safe = sum(part.share * need.safe_contents.get(part.offer, 0.0) for part in one.ration.mix)
    assert safe <= 1.0 + 1e-6
    line = next(row for row in one.ration.requirements if row.nutrient == "deoxynivalenol")
    assert line.meets
    assert line.gives == pytest.approx(sum(p.share * need.contents.get(p.offer, 0.0) for p in one.ration.mix))


@pytest.mark.slow
def test_a_premix_counts_too(demo_book, library):
    one = made(own(demo_book, "premix_swine", "ochratoxin_a", 5.0), library)
    need = next(n for n in one.formula.contaminants if n.nutrient == "ochratoxin_a")
    assert need.contents == {"premix_pigs": 5.0}
    assert need.maximum == 0.05  # EU guidance for pigs, the strictest published; the US sets none
    assert "strictest published limit, US sets none" in need.rule


def lot(name, day, tonnes=10.0, offer="corn_bought"):
    return Lot(Place(), name, offer, date(2025, 9, day), None if tonnes is None else 1000 * tonnes)


@pytest.mark.parametrize(
    ("weighed", "there"),
    [(0.0, "a b c"), (9_000.0, "a b c"), (10_000.0, "b c"), (25_000.0, "c"), (90_000.0, "c")],
)
def test_lots_used_up_by_what_was_weighed_no_longer_count(demo_book, library, weighed, there):
    book = replace(
        demo_book,
        lots=(lot("a", 1), lot("b", 5), lot("c", 9)),
        assays=(),
        actual=(Weighed(Place(), "sheet", date(2025, 10, 1), "corn_bought", weighed),) if weighed else (),
    )
    offer = next(row for row in book.supplements if row.offer == "corn_bought")
    assert [row.lot for row in lots_in_stock(offer, book)] == there.split()
    book = assayed(book, ("a", "deoxynivalenol", 3.0), ("b", "deoxynivalenol", 2.0), ("c", "deoxynivalenol", 1.0))
    held = candidate(book, library, "corn_bought").contaminants["deoxynivalenol"]
    assert held.value == {"a": 3.0, "b": 2.0, "c": 1.0}[there[0]]
    assert held.origin == f"lot {there[0]}"


def test_a_lot_of_unknown_mass_counts_until_it_is_struck_out(demo_book, library):
    book = replace(demo_book, lots=(lot("a", 1, None), lot("b", 5)), assays=())
    book = assayed(book, ("a", "deoxynivalenol", 3.0))
    assert candidate(book, library, "corn_bought").contaminants["deoxynivalenol"].value == 3.0


def test_nutrients_of_a_lot_beat_the_library(demo_book, library):
    rows = (("dry_matter", 88.0), ("crude_protein", 9.4))
    book = replace(
        demo_book,
        assays=(
            *demo_book.assays,
            *(Assay(Place(), "", nutrient, value, "%", "as_fed", "", 0.2, "maize_1") for nutrient, value in rows),
        ),
    )
    before, after = (candidate(b, library, "corn_bought") for b in (demo_book, book))
    assert after.values["crude_protein"] == pytest.approx(9.4)
    assert after.values["lysine"] != before.values["lysine"]  # the published equations follow the protein
    assert after.spread.covariance_of("crude_protein", "crude_protein") > 0


# Limits ---------------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("stage", [GROWER, "sw_lact_p2_230", "hen_brown_110", "broiler_0_3"])
@pytest.mark.parametrize("jurisdiction", ["us", "eu", "canada"])
@pytest.mark.parametrize(
    ("nutrient", "value"),
    [
        ("ochratoxin_a", 50.0),
        ("t2_ht2_toxin", 20.0),
        ("t2_toxin", 20.0),
        ("ht2_toxin", 20.0),
        ("zearalenone", 50.0),
        ("ergot_sclerotia", 5.0),
        ("ergot_alkaloids", 100.0),
    ],
)
def test_no_jurisdiction_leaves_a_poison_without_a_limit(demo_book, library, stage, jurisdiction, nutrient, value):
    book = assayed(demo_book, ("n1", nutrient, value), jurisdiction=jurisdiction)
    one = made(book, library, stage)
    share = sum(part.share for part in one.ration.mix if part.offer == "north")
    held = [need for need in one.formula.contaminants if need.nutrient == nutrient]
    assert share == 0 or (held and share * held[0].safe_contents["north"] <= held[0].maximum * (1 + 1e-6))
    assert share < 0.03


@pytest.mark.parametrize(
    ("jurisdiction", "nutrient", "value"),
    [
        ("canada", "deoxynivalenol", 12.0),
        ("canada", "fumonisin", 120.0),
        ("eu", "fumonisin", 120.0),
        ("canada", "ochratoxin_a", 5.0),
    ],
)
def test_what_may_not_be_thinned_is_left_out(demo_book, library, jurisdiction, nutrient, value):
    """Canada s. 34(2) (ca_feeds2024) and EU Directive 2002/32/EC Article 5 (eu_d32_uk_note)."""
    one = made(assayed(demo_book, ("n1", nutrient, value), jurisdiction=jurisdiction), library)
    assert "north" not in {part.offer for part in one.ration.mix}
    assert "prohibited" in one.formula.left_out[0].text


def test_a_bin_above_what_a_complete_feed_may_hold_is_not_thinned_without_asking(demo_book, library):
    """Where the law is silent on the grain itself only other feed makes a mix of it safe: 1.94 mg/kg of ergot alkaloids
    in the feed of broilers (contaminants.csv, a trial); the demo's bin is given fifty times that."""
    one = made(assayed(demo_book, ("n1", "ergot_alkaloids", 100.0)), library, "broiler_0_3")
    assert 0 < next(part.share for part in one.ration.mix if part.offer == "north") < 0.02
    (reason,) = (r for r in one.verdict.reasons if r.nutrient == "ergot_alkaloids")
    assert one.verdict.severity is Severity.ASK and reason.kind is Kind.SAFETY and "thinned" in reason.text
    little = made(assayed(demo_book, ("n1", "ergot_alkaloids", 0.5)), library, "broiler_0_3")
    assert not any(r.nutrient == "ergot_alkaloids" for r in little.verdict.reasons)


def test_hens_are_not_told_what_pigs_may_eat(demo_book, library):
    """9 mg/kg of deoxynivalenol: above 5 for pigs, below 10 for chickens (FDA, fda_uky_don)."""
    one = made(assayed(demo_book, ("n1", "deoxynivalenol", 9.0)), library, "hen_brown_110")
    assert any(part.offer == "north" and part.share > 0.2 for part in one.ration.mix)
    assert not any(r.nutrient == "deoxynivalenol" or "not to be fed" in r.text for r in one.verdict.reasons)


@pytest.mark.parametrize(("energy", "most"), [("ne_pig", 1.0), ("me_pig", 1.0), ("amen_poultry", 2.0)])
def test_an_own_stage_has_the_limits_of_the_strictest_class_of_its_species(demo_book, library, energy, most):
    """FDA: 1 mg/kg of deoxynivalenol in the diet of pigs, 5 of chickens, 2 of turkeys and ducks."""
    need = OwnRequirement(Place(), "mine", energy, 2300.0, None, "kcal/kg", "kg")
    book = assayed(replace(demo_book, own_stages=(need,)), ("n1", "deoxynivalenol", 2.5))
    one = made(book, library, "mine")
    (row,) = one.formula.contaminants
    assert row.maximum == most
    bad = assayed(replace(demo_book, own_stages=(need,)), ("n1", "ergot_sclerotia", 5.0), ("n1", "zearalenone", 50.0))
    assert "north" not in {part.offer for part in made(bad, library, "mine").ration.mix}


@pytest.mark.parametrize(
    ("offer", "severity"), [("premix_pigs", Severity.ASK), ("limestone", Severity.FEED), ("soy48_bulk", Severity.ASK)]
)
def test_a_lot_past_its_day_is_asked_about_by_what_it_is(demo_book, library, offer, severity):
    """Vitamins fade, meal spoils, stone keeps (common practice); a day to come is nothing."""
    for use_by, said in ((date(2025, 10, 1), True), (date(2999, 1, 1), False)):
        lot = Lot(Place(), "old", offer, date(2025, 6, 1), 9e6, "", use_by)
        verdict = made(replace(demo_book, lots=(lot,)), library).verdict
        assert any("used by" in reason.text for reason in verdict.weighing(severity)) is said


# Evidence -------------------------------------------------------------------------------------------------------


def test_two_results_of_a_sample_that_disagree_count_by_the_higher_and_are_asked_about(demo_book, library):
    book = assayed(demo_book, ("n1", "deoxynivalenol", 9.0), ("n1", "deoxynivalenol", 0.1))
    estimate = estimate_bin("north", book, library)
    assert estimate.values["deoxynivalenol"] == pytest.approx(9.0, rel=2e-3)
    line = next(row for row in estimate.nutrients if row.nutrient == "deoxynivalenol")
    assert line.assay == line.value == estimate.values["deoxynivalenol"]
    (reason,) = estimate.reasons
    assert (reason.kind, reason.severity, reason.nutrient) == (Kind.EVIDENCE, Severity.ASK, "deoxynivalenol")
    assert any(notice.severity == "danger" and notice.text == reason.text for notice in estimate.notices)
    assert bin_candidate(estimate, book).reasons == estimate.reasons
    assert "north" not in {part.offer for part in made(book, library).ration.mix}


@pytest.mark.parametrize(("older", "newer"), [(9.0, 0.1), (0.1, 9.0)])
def test_a_newer_sample_does_not_drown_an_older_result(demo_book, library, older, newer):
    retest = Sample(Place(), "n2", "north", date(2025, 10, 1), 1)
    book = replace(demo_book, samples=(*demo_book.samples, retest))
    book = assayed(book, ("n1", "deoxynivalenol", older), ("n2", "deoxynivalenol", newer))
    for sample in (None, "n2"):
        estimate = estimate_bin("north", book, library, sample)
        assert estimate.values["deoxynivalenol"] == pytest.approx(9.0, rel=2e-3)
        assert [reason.severity for reason in estimate.reasons] == [Severity.ASK]


@pytest.mark.parametrize("pair", [(3.0, 3.4), (0.04, 0.01), (0.0, 0.02)])
def test_results_that_agree_or_do_not_matter_are_not_asked_about(demo_book, library, pair):
    book = assayed(demo_book, *(("n1", "deoxynivalenol", value) for value in pair))
    estimate = estimate_bin("north", book, library)
    assert estimate.reasons == ()
    assert estimate.values["deoxynivalenol"] == pytest.approx(sum(pair) / 2, rel=2e-3)


def test_a_lot_that_contradicts_its_certificate_counts_by_the_higher(demo_book, library):
    book = assayed(own(demo_book, "corn", "deoxynivalenol", 4.0), ("maize_1", "deoxynivalenol", 0.3))
    found = candidate(book, library, "corn_bought")
    assert found.contaminants["deoxynivalenol"].value == 4.0
    assert [reason.kind for reason in found.reasons] == [Kind.EVIDENCE]


# Any finished mix -----------------------------------------------------------------------------------------------


def of_mix(book, library, shares, stage=GROWER):
    bins = [bin_candidate(estimate_bin(row.bin, book, library), book) for row in book.bins]
    known = [*bins, *offer_candidates(book, library)]
    return contaminant_reasons(shares, known, stage_needs(stage, book, library), book.farm.jurisdiction, library)


def test_a_weighed_mix_with_a_lot_over_its_limit_is_a_stop(demo_book, library):
    """At any share: FDA advises at most 5 mg/kg of deoxynivalenol in grain for pigs."""
    book = assayed(demo_book, ("maize_1", "deoxynivalenol", 12.0))
    (reason,) = of_mix(book, library, {"corn_bought": 0.01, "north": 0.99})
    assert (reason.severity, reason.feed, reason.value, reason.limit) == (Severity.STOP, "corn_bought", 12.0, 5.0)
    assert reason.unit == "mg/kg" and reason.source == "fda_uky_don"
    assert of_mix(book, library, {"north": 1.0}) == ()


@pytest.mark.parametrize(("share", "severity"), [(0.2, None), (0.45, Severity.ASK), (0.7, Severity.STOP)])
def test_the_whole_of_a_weighed_mix_is_held_to_the_limit_of_the_complete_feed(demo_book, library, share, severity):
    """2 mg/kg in corn with a standard deviation of 13.4 % (jaoac_2000_don_wheat), 1 mg/kg in the diet of pigs."""
    book = assayed(demo_book, ("maize_1", "deoxynivalenol", 2.0))
    found = of_mix(book, library, {"corn_bought": share, "bran": 1 - share})
    assert [reason.severity for reason in found] == ([] if severity is None else [severity])
    for reason in found:
        assert reason.nutrient == "deoxynivalenol" and reason.limit == 1.0
        assert reason.value == pytest.approx(2.0 * share)
        assert "e-" not in reason.text and "e+" not in reason.text


def test_the_law_is_called_law_and_guidance_safety(demo_book, library):
    law = of_mix(assayed(demo_book, ("maize_1", "aflatoxin", 0.9)), library, {"corn_bought": 1.0})
    guidance = of_mix(assayed(demo_book, ("maize_1", "deoxynivalenol", 9.0)), library, {"corn_bought": 1.0})
    assert {reason.kind for reason in law} == {Kind.LAW}  # an action level of the US, enforced
    assert {reason.kind for reason in guidance} == {Kind.SAFETY}  # an advisory level


def test_a_feed_the_book_puts_into_every_mix_stays_and_stops_it(demo_book, library):
    offers = tuple(
        replace(o, min_share=0.02, max_share=0.02) if o.offer == "corn_bought" else o for o in demo_book.supplements
    )
    book = assayed(replace(demo_book, supplements=offers), ("maize_1", "deoxynivalenol", 12.0))
    one = made(book, library)
    assert [reason.severity for reason in one.formula.reasons] == [Severity.STOP]
    assert sum(part.share for part in one.ration.mix if part.offer == "corn_bought") == pytest.approx(0.02)


# Stages of the farm's own ---------------------------------------------------------------------------------------------

PIG = (("ne_pig", 2300.0, "kcal/kg"), ("sid_lysine_pig", 0.9, "%"), ("calcium", 0.6, "%"), ("sodium", 0.1, "%"))


def own_pig(book, *more, **premix):
    """A stage of the five basic rows and `more`; the shares of the swine premix, 0 to 1."""
    rows = (*PIG, ("sttd_phosphorus_pig", 0.28, "%"), *more)
    needs = tuple(OwnRequirement(Place(), "mine", name, least, None, unit, "kg") for name, least, unit in rows)
    offers = tuple(replace(o, **premix) if o.offer == "premix_pigs" else o for o in book.supplements)
    return replace(book, own_stages=needs, supplements=offers)


def test_an_own_stage_without_vitamins_and_trace_minerals_is_asked_about(demo_book, library):
    """No premix in the mix, and nobody asked for one: five rows are no complete ration."""
    bare = made(own_pig(demo_book), library, "mine").verdict
    asked = [reason.text for reason in bare.of(Kind.STAGE)]
    assert bare.severity is Severity.ASK
    assert any("no vitamins and no trace minerals" in text for text in asked)
    assert any("no row for methionine" in text for text in asked)
    whole = made(own_pig(demo_book, ("sid_methionine_pig", 0.26, "%"), min_share=0.004), library, "mine").verdict
    assert not whole.of(Kind.STAGE) and whole.severity is Severity.FEED
    half = made(own_pig(demo_book, ("sid_methionine_pig", 0.26, "%"), max_share=0.002), library, "mine").verdict
    assert half.of(Kind.STAGE) and half.severity is Severity.ASK
