"""A farm under the law of the EU has a way out of its vitamin and copper maxima: published premixes of the library.

The amounts a kilogram of feed: grower-finisher computed from PLOS ONE 2017 (doi 10.1371/journal.pone.0174688, Table 3),
weaned pigs as printed in Toxins 2018 10:114 (Table 5), broilers as printed in PMC8643103 (Table 1). The maxima are of
ceilings.csv: EU 2015/724 (vitamin A, table of a chamber of agriculture), EU 2017/1492 (vitamin D, page), EU 2018/1039
(copper, page).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.book.records import Offer, Place
from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.reasons import Kind, Severity
from rationlp.stages.stage import ceilings_of

LAWFUL = ("premix_swine_finisher", "premix_swine_weaner", "premix_broiler_10")
TOPPED = {"vitamin_a": 6500, "vitamin_d": 2000, "copper": 25}
SOME = ["sw_nur_11_25", "sw_gro_25_50", "sw_gest_p2_early", "broiler_3_6", "hen_brown_110"]


@pytest.fixture(scope="module")
def book(demo_book):
    """The demo under the law of the EU."""
    return replace(demo_book, farm=replace(demo_book.farm, jurisdiction="eu"))


@pytest.mark.slow
def test_the_premix_on_offer_stops_and_the_reason_names_the_one_that_mends_it(book, library):
    """2,205 IU of vitamin D and 8,818 of A a kilogram are too much; the first screen did not say what to buy."""
    (made,) = solve_rations(Farm(book, library), ["sw_gro_25_50"], ["north"])
    stops = [reason.text for reason in made.verdict.reasons if reason.severity is Severity.STOP]
    assert any("Vitamin D at most 2,000" in text and "would mend it: Grower-finisher" in text for text in stops), stops


@pytest.mark.slow
@pytest.mark.parametrize("stage", ["broiler_3_6", "sw_gro_25_50"])
def test_beside_a_premix_past_the_law_the_mix_is_the_one_of_another_premix(stage, book, demo_book, library):
    """Chicks had no grain of the farm, 2.4 % of phosphate and too little protein to stay below the copper that their
    premix all but fills; growers half of their minerals as filler."""
    (made,) = solve_rations(Farm(book, library), [stage], ["north"])
    (elsewhere,) = solve_rations(Farm(demo_book, library), [stage], ["north"])
    assert made.ration.status == "nearest" and elsewhere.ration.status == "optimal"
    assert made.column_shares == pytest.approx(elsewhere.column_shares, abs=1e-6)
    *laws, conflict = made.verdict.weighing(Severity.STOP)
    assert {reason.kind for reason in laws} == {Kind.LAW}
    assert "one full dose of vitamins from the premixes on offer. Not on offer, and would mend it" in conflict.text
    assert conflict.text.endswith("If the label of your premix says otherwise, write its figures on own_feeds.")


@pytest.mark.slow
@pytest.mark.parametrize("stage", ["sw_gest_p2_early", "sw_lact_p2_230"])
def test_a_premix_that_fills_the_copper_law_is_told_as_copper(stage, book, library):
    """Protein and zinc were told first, of a mix without grain: 25 mg/kg of copper are a dose of the sow premix."""
    offers = tuple(offer for offer in book.supplements if offer.offer != "premix_pigs")
    (made,) = solve_rations(Farm(replace(book, supplements=offers), library), [stage], ["north"])
    first, *_, conflict = made.verdict.weighing(Severity.STOP)
    assert first.nutrient == "copper" and first.limit == 25
    assert not [line for line in made.ration.shortfalls if line.side == "minimum"]
    assert made.ration.home_grown_share > 0.6
    assert "Copper at most 25 mg/kg;" in conflict.text and len(made.answer.conflict) <= 4


def test_a_dose_of_the_lawful_ones_leaves_room_for_what_the_feeds_hold(library):
    for nutrient, most in TOPPED.items():
        dose = library.feeds["premix_swine_finisher"].premix_inclusion_pct / 100
        assert dose * library.premix_figures["premix_swine_finisher"][nutrient].value < 0.95 * most


@pytest.mark.parametrize(
    ("stage", "most"),
    [("broiler_3_6", 10_000), ("hen_brown_110", 10_000), ("turkey_8_12", 10_000), ("broiler_fast_0_10d", 20_000)],
)
def test_vitamin_a_of_birds_has_its_lawful_maximum_in_the_eu(stage, most, library):
    """Regulation (EU) 2015/724: 10,000 IU/kg, 20,000 to 14 days (turkeys 28): LWK_VITA2016. There was none."""
    found = ceilings_of(library.stages[stage], "eu", library.ceilings)
    assert [row.maximum for row in found if row.nutrient == "vitamin_a" and row.kind == "legal"] == [most]
    elsewhere = ceilings_of(library.stages[stage], "us", library.ceilings)
    assert not [row for row in elsewhere if row.nutrient == "vitamin_a" and row.kind == "legal"]


@pytest.mark.parametrize("stages", [SOME, pytest.param([], marks=pytest.mark.long)])
def test_with_the_lawful_ones_on_offer_no_ration_is_stopped(stages, book, library):
    """With --long every ration of the demo."""
    offers = [Offer(Place(), feed, feed, "", 1500.0) for feed in LAWFUL]
    farm = Farm(replace(book, supplements=(*book.supplements, *offers)), library)
    for made in solve_rations(farm, stages, [] if not stages else ["north"]):
        assert made.verdict.severity is not Severity.STOP, (made.ration.name, made.verdict.reasons)
