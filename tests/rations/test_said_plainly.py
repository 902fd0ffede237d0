"""What a ration says must be so: prices by re-solving, short premixes, feeds the book fixes, added selenium."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.book.records import OwnFigure, OwnRequirement, Place
from rationlp.errors import BookError
from rationlp.farm import Farm
from rationlp.rations.answer.words import told_conflict
from rationlp.rations.formulate import formulate
from rationlp.reasons import Kind, Severity


def per_tonne(book):
    return replace(book, farm=replace(book.farm, objective="per_tonne"))


@pytest.mark.slow
@pytest.mark.parametrize("nutrient", ["sid_lysine_pig", "sid_tryptophan_pig", "sid_threonine_pig"])
def test_a_shadow_price_is_the_change_of_cost_for_one_more_unit_of_the_bound_shown(nutrient, demo_book, library):
    """The need as a row of the farm's own at the bound shown, a little more and a little less."""
    stage, step = "sw_gro_50_75", 1e-5
    book = per_tonne(demo_book)
    (base,) = formulate(Farm(book, library), [stage], ["north"])
    line = next(line for line in base.requirements if line.nutrient == nutrient)
    assert line.binding == "minimum"

    def cost(minimum):
        own = OwnRequirement(Place(), stage, nutrient, minimum, None, line.unit, "kg", "test")
        (ration,) = formulate(Farm(replace(book, own_stages=(own,)), library), [stage], ["north"])
        return ration.cost_per_tonne

    slope = (cost(line.minimum + step) - cost(line.minimum - step)) / (2 * step)
    assert line.shadow_price == pytest.approx(slope, rel=0.12)  # energy is free to move in the re-solve
    own = OwnRequirement(Place(), stage, nutrient, line.minimum, None, line.unit, "kg", "test")
    (fixed,) = formulate(Farm(replace(book, own_stages=(own,)), library), [stage], ["north"])
    again = next(row for row in fixed.requirements if row.nutrient == nutrient)
    assert again.shadow_price == pytest.approx(slope, rel=1e-4)


@pytest.mark.slow
def test_a_premix_that_is_short_is_named(demo_book, library):
    offers = tuple(offer for offer in demo_book.supplements if offer.offer != "niacin")
    (ration,) = formulate(Farm(replace(demo_book, supplements=offers), library), ["turkey_4_8"], ["north"])
    short = {line.nutrient: line for line in ration.requirements if line.met_by == "premix" and line.meets is False}
    assert short
    told = {reason.nutrient: reason for reason in ration.verdict.of(Kind.PREMIX)}
    assert told.keys() == short.keys() and ration.verdict.severity is Severity.ASK
    for nutrient, line in short.items():
        reason = told[nutrient]
        assert (reason.severity, reason.value, reason.limit) == (Severity.ASK, line.gives, line.minimum)
        assert reason.text.startswith(f"{line.label} is ") and "premix" in reason.text
    (covered,) = formulate(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    assert not covered.verdict.of(Kind.PREMIX)


def test_a_feed_the_book_puts_into_every_mix_is_never_left_out_unsaid(make_book, library):
    book = make_book(
        {
            "farm": [{"setting": "name", "value": "fixed"}],
            "supplements": [
                {"offer": "a", "feed": "feed_a", "price": 1},
                {"offer": "b", "feed": "feed_b", "price": 1, "min_pct": 10, "max_pct": 10},
            ],
            "own_feeds": [
                {"feed": "feed_a", "nutrient": "zip", "value": 5, "unit": "per_kg", "basis": "as_fed"},
                {"feed": "feed_b", "nutrient": "zap", "value": 5, "unit": "per_kg", "basis": "as_fed"},
            ],
            "own_stages": [{"stage": "mine", "nutrient": "zip", "minimum": 1, "unit": "per_kg", "per": "kg"}],
        }
    )
    with pytest.raises(BookError, match="b with min_pct 10 and no figure for zip"):
        formulate(Farm(book, library))


def test_a_premix_of_other_animals_stays_where_the_book_fixes_it(demo_book, library):
    """All offers fixed: the mix is analysed as it is, not rescaled without the premix."""
    shares = {"corn_bought": 0.85, "soy48_bulk": 0.145, "premix_pigs": 0.005}
    offers = tuple(
        replace(offer, min_share=shares[offer.offer], max_share=shares[offer.offer])
        for offer in demo_book.supplements
        if offer.offer in shares
    )
    (ration,) = formulate(Farm(replace(demo_book, bins=(), supplements=offers), library), ["hen_late"])
    assert {line.offer: line.share for line in ration.mix} == pytest.approx(shares)
    assert ration.status == "nearest"


@pytest.mark.slow
def test_added_selenium_over_the_us_limit_is_a_stop(demo_book, library):
    """21 CFR 573.920: at most 0.3 mg/kg may be added; the swine premix holds 75 mg/kg."""
    heavy = tuple(
        replace(offer, min_share=0.006, max_share=0.006) if offer.offer == "premix_pigs" else offer
        for offer in demo_book.supplements
    )
    (ration,) = formulate(Farm(replace(demo_book, supplements=heavy), library), ["sw_gro_25_50"], ["north"])
    assert ration.verdict.severity is Severity.STOP
    (usual,) = formulate(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    assert usual.status == "optimal" and not usual.conflict
    line = next(line for line in usual.requirements if line.label == "Selenium that is added")
    assert line.maximum == 0.3 and line.gives == pytest.approx(0.3) and line.meets


@pytest.mark.slow
def test_a_slip_of_the_decimal_point_in_a_premix_is_a_stop(demo_book, library):
    """20,000 instead of 75 mg/kg of selenium: 80 mg/kg of feed, where 5 to 10 lames pigs (ksu_selenium)."""
    slip = OwnFigure(Place(), "premix_swine", "selenium", 20000.0, "mg/kg", "as_fed")
    offers = tuple(offer for offer in demo_book.supplements if offer.offer != "premix_sows")
    book = replace(demo_book, own_feeds=(*demo_book.own_feeds, slip), supplements=offers)
    (ration,) = formulate(Farm(book, library), ["sw_gro_25_50"], ["north"])
    assert ration.verdict.severity is Severity.STOP
    assert any("Selenium that is added" in words for words in ration.conflict)
    assert any("Selenium that is added" in reason.text for reason in ration.verdict.reasons)
    assert ration.mix and sum(line.share for line in ration.mix) == pytest.approx(1)


def test_without_a_premix_there_is_a_stop(demo_book, library):
    offers = tuple(offer for offer in demo_book.supplements if offer.offer not in ("premix_pigs", "premix_sows"))
    (ration,) = formulate(Farm(replace(demo_book, supplements=offers), library), ["sw_gro_25_50"], ["north"])
    (reason,) = ration.verdict.weighing(Severity.STOP)
    assert reason.kind is Kind.PREMIX
    assert reason.text.startswith("No premix is on offer that brings these animals vitamins and trace minerals. Put")


@pytest.mark.slow
def test_a_premix_for_other_animals_is_not_denied(demo_book, library):
    """With a premix for growing ducks on offer, breeding ducks were told: no premix is on offer."""
    offers = tuple(offer for offer in demo_book.supplements if offer.offer != "premix_layers")
    (ration,) = formulate(Farm(replace(demo_book, supplements=offers), library), ["duck_breeder"], ["north"])
    (reason,) = ration.verdict.of(Kind.PREMIX)
    assert reason.text.startswith(
        "No premix is on offer that brings these animals vitamins and trace minerals. Put one"
    )


@pytest.mark.slow
def test_protein_that_is_short_is_told_in_one_sentence(demo_book, library):
    """Every amino acid a sentence of its own hid what else was wrong; the table of requirements has them all."""
    bare = ("soy", "canola_meal", "peas", "fish", "lysine", "methionine", "threonine", "tryptophan", "valine")
    offers = tuple(offer for offer in demo_book.supplements if not offer.offer.startswith(bare))
    for stage, worst in (("sw_gro_25_50", "sid_lysine_pig"), ("hen_peak", "methionine")):
        (ration,) = formulate(Farm(replace(demo_book, supplements=offers), library), [stage], ["north"])
        short = [line for line in ration.shortfalls if line.nutrient != "amen_poultry"]
        assert len(short) > 8
        (reason,) = (r for r in ration.verdict.of(Kind.REQUIREMENT) if r.text.startswith("Protein is short"))
        assert reason.severity is Severity.STOP and reason.nutrient == worst
        assert f"and {len(short) - 1} other amino acids" in reason.text
        lowest = min(short, key=lambda line: line.gives / line.needs)
        assert (reason.value, reason.limit) == (lowest.gives, lowest.needs)
        legumes = [r for r in ration.verdict.reasons if "raw legumes" in r.text]
        assert len(legumes) <= 1


@pytest.mark.slow
def test_a_stated_feed_that_makes_dear_feed_is_told_with_the_cheaper_amount(demo_book, library):
    groups = tuple(
        replace(group, feed_kg_per_head_per_day=2.5) if group.stage == "sw_boar" else group
        for group in demo_book.groups
    )
    (ration,) = formulate(Farm(replace(demo_book, groups=groups), library), ["sw_boar"], ["north"])
    (free,) = formulate(Farm(demo_book, library), ["sw_boar"], ["north"])
    assert (ration.objective, free.objective) == ("per_tonne", "per_energy")
    (note,) = [note for note in ration.warnings if note.startswith("The book states 2.5 kg")]
    day = free.feed_kg_per_head_per_day * free.cost_per_tonne / 1000
    assert 2.5 * ration.cost_per_tonne / 1000 > day
    assert f"{free.feed_kg_per_head_per_day:.3g} kg of the mix" in note and f"for {day:.3g} USD" in note


@pytest.mark.slow
@pytest.mark.parametrize(("stated_kg", "told"), [(0.08, True), (0.108, False), (None, False)])
def test_a_need_that_a_small_stated_feed_puts_out_of_reach(demo_book, library, stated_kg, told):
    """4.1 g of calcium a day in 80 g are 5.1 % of the feed, above the ceiling: the farm hears of the stated feed."""
    groups = tuple(
        replace(group, stage="hen_brown_mid_46_65", feed_kg_per_head_per_day=stated_kg)
        for group in demo_book.groups
        if group.stage == "hen_brown_110"
    )
    (ration,) = formulate(Farm(replace(demo_book, groups=groups), library), ["hen_brown_mid_46_65"], ["north"])
    notes = [note for note in ration.warnings if "of feed per head and day" in note]
    assert bool(notes) is told and (ration.verdict.severity is Severity.STOP) is told
    for note in notes:
        assert "less than the table's" in note and "a day of Calcium must stand in less feed" in note


def test_one_requirement_alone_conflicts_with_nothing():
    assert (
        told_conflict(["Crude fibre at least 5 %"]) == "Cannot be had from what is on offer: Crude fibre at least 5 %."
    )
    assert told_conflict(["a at most 1 %", "b"]) == "These requirements conflict: a at most 1 %; b."
