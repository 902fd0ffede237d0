"""What goes in when: nothing lost, nothing too light, every scoop thinned as the bulletins say."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.sheets.bucket import Ingredient, fill_bucket
from rationlp.sheets.order import GRAIN, SECTIONS, SMALL_PART, is_liquid, order_of_adding
from rationlp.sheets.practice import DILUTION, HAND_ADD, LEAST_HAND_ADD
from rationlp.sheets.weights.rounding import whole_mix
from rationlp.sheets.weights.scale import Scale, exact, farm_scale
from rationlp.sheets.weights.whole_program import Way

SCALE = Scale("kg", Fraction(1), Fraction(1, 100), Fraction(10))
BATCH = Fraction(500)


@pytest.fixture(scope="module")
def orders(demo_book, library):
    """Every ration of the demo with its whole weights and order."""
    scale = farm_scale(demo_book.farm)
    found = []
    for recipe in solve_rations(Farm(demo_book, library)):
        mix = whole_mix(recipe, exact(500, "kg"), scale)
        found.append((recipe, mix, order_of_adding(mix, recipe.formula.candidates, scale)))
    return found


@pytest.mark.slow
def test_every_gram_goes_in_once(orders):
    for _, mix, order in orders:
        added: dict[int, Fraction] = {}
        for add in order.adds:
            if add.candidate is not None:
                added[add.candidate] = added.get(add.candidate, 0) + add.mass
        for scoop in order.bucket.scoops if order.bucket else ():
            added[scoop.candidate] = added.get(scoop.candidate, 0) + scoop.mass
        assert added == mix.masses()
        assert sum(add.mass for add in order.adds) == mix.batch


@pytest.mark.slow
def test_sections_stand_in_the_order_of_the_reference(orders):
    for _, _, order in orders:
        places = [list(SECTIONS).index(add.section) for add in order.adds]
        assert places == sorted(places)


@pytest.mark.slow
def test_liquids_last_and_only_they(orders):
    seen = 0
    for recipe, _, order in orders:
        for add in order.adds:
            if add.candidate is not None:
                liquid = is_liquid(recipe.formula.candidates[add.candidate])
                assert liquid == (add.section == "liquid")
                seen += liquid
    assert seen, "the demo has a ration with oil"


@pytest.mark.slow
def test_grain_comes_first_and_about_half_to_two_thirds_of_it(orders):
    for recipe, _, order in orders:
        candidates = recipe.formula.candidates
        lots = [add for add in order.adds if add.candidate is not None and candidates[add.candidate].group in GRAIN]
        first = sum(add.mass for add in lots if add.section == "grain")
        share = first / sum(add.mass for add in lots)
        assert order.adds[0].section == "grain"
        assert 0.5 <= share <= 0.67, (recipe.ration.stage, float(share))


@pytest.mark.slow
def test_nothing_lighter_than_half_a_percent_is_added_by_hand(orders):
    for recipe, mix, order in orders:
        masses = mix.masses()  # the small part of an ingredient goes in with the large one
        for add in order.adds:
            if add.candidate is not None and not is_liquid(recipe.formula.candidates[add.candidate]):
                assert (masses[add.candidate] if add.part == SMALL_PART else add.mass) >= LEAST_HAND_ADD * mix.batch
        if order.bucket:
            assert order.bucket.mass >= HAND_ADD * mix.batch
            assert order.bucket.carrier_share >= 0.5
            assert order.bucket.mass % 1 == 0, "the mixer scale shows the bucket truly"


@pytest.mark.slow
def test_no_scoop_is_more_than_nine_times_what_is_in(orders):
    for _, _, order in orders:
        if order.bucket:
            check_dilution(order.bucket)


def check_dilution(bucket):
    held = Fraction(0)
    for scoop in bucket.scoops:
        assert held == 0 or scoop.mass <= (DILUTION - 1) * held
        held += scoop.mass


def item(candidate, mass, tool="hand scale"):
    step = SCALE.hand_step if tool == "hand scale" else SCALE.step
    return Ingredient(candidate, Fraction(mass), Way(tool, step, 1, 10**6))


def test_a_trace_is_thinned_in_steps():
    """10 g in 500 kg: one part to ten, and again, until there are 5 kg of it."""
    bucket = fill_bucket([item(1, "0.01")], [item(0, "400", "mixer scale")], BATCH, SCALE)
    assert [float(scoop.mass) for scoop in bucket.scoops] == [0.01, 0.09, 0.9, 4.0]
    check_dilution(bucket)


def test_random_buckets():
    rng = random.Random(1)
    for _ in range(300):
        small = [item(i, Fraction(rng.randint(1, 249), 100)) for i in range(1, rng.randint(2, 9))]
        bucket = fill_bucket(small, [item(0, "400", "mixer scale")], BATCH, SCALE)
        check_dilution(bucket)
        assert bucket.mass >= HAND_ADD * BATCH
        for one in small:
            assert sum(scoop.mass for scoop in bucket.scoops if scoop.candidate == one.candidate) == one.mass


def test_without_a_carrier_the_small_things_are_mixed_with_each_other():
    bucket = fill_bucket([item(1, "0.5"), item(2, "0.7")], [item(0, "1", "mixer scale")], BATCH, SCALE)
    assert bucket.carrier is None and bucket.mass == Fraction("1.2")


def test_nothing_small_no_bucket():
    assert fill_bucket([], [item(0, "400", "mixer scale")], BATCH, SCALE) is None
