"""Offers that are out, or in by just so much, because of what the farm's scales can weigh into a batch."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.farm import Farm
from rationlp.offers.live_ration import live_rations
from rationlp.offers.sweep import Ask, sweeps
from rationlp.offers.worth import worth_of
from rationlp.rations.formulate import formulate


@pytest.fixture(scope="module")
def weighed(demo_book):
    """The demo as it is: 20 steps of a 10 g scale (memory: NIST Handbook 44) in 500 kg, 0.04 %."""
    return replace(demo_book, farm=replace(demo_book.farm, hand_least_kg=None))


def at_price(book, offer, price):
    offers = tuple(replace(o, price_per_tonne=price) if o.offer == offer else o for o in book.supplements)
    return replace(book, supplements=offers)


def share(ration, offer):
    return next(line.share for line in ration.mix if line.offer == offer)


@pytest.mark.slow
def test_offers_and_ration_speak_of_one_mix(weighed, library):
    (case,) = live_rations(Farm(weighed, library), ["sw_gro_25_50"], ["north"])
    (ration,) = formulate(Farm(weighed, library), ["sw_gro_25_50"], ["north"])
    for line, held in zip(case.formula.candidates, case.shares, strict=True):
        assert share(ration, line.name) == pytest.approx(held, abs=1e-7)


@pytest.mark.parametrize(("stage", "offer"), [("sw_gro_25_50", "tryptophan"), ("broiler_3_6", "lysine")])
def test_one_that_is_out_enters_at_the_price_that_is_named(stage, offer, weighed, library):
    (case,) = live_rations(Farm(weighed, library), [stage], ["north"])
    told = worth_of(case, case.index(offer))
    if told.in_mix or told.enters_below is None or told.enters_below <= 0:
        pytest.skip("in the mix")
    (below,) = formulate(Farm(at_price(weighed, offer, told.enters_below - 2.0), library), [stage], ["north"])
    assert share(below, offer) > 0
    assert told.enters_below <= told.price + 1e-6


def test_one_that_is_in_by_the_least_leaves_at_the_price_that_is_named(weighed, library):
    stage = "sw_fin_75_100"
    (case,) = live_rations(Farm(weighed, library), [stage], ["north"])
    told = worth_of(case, case.index("methionine"))
    assert told.share == pytest.approx(case.formula.least_share, rel=1e-6)
    assert told.mix_stays_to is not None and told.mix_stays_to > told.price
    (above,) = formulate(Farm(at_price(weighed, "methionine", told.mix_stays_to * 1.02), library), [stage], ["north"])
    assert share(above, "methionine") == 0


def test_a_sweep_asks_the_rows_of_the_ration(weighed, library):
    (case,) = live_rations(Farm(weighed, library), ["sw_gro_25_50"], ["north"])
    price = next(o.price_per_tonne for o in weighed.supplements if o.offer == "soy48_bulk")
    (swept,) = sweeps([case], [Ask("soy48_bulk", price, price, 1)])
    assert swept.points[0].cost_per_tonne == pytest.approx(case.ration.cost_per_tonne, rel=1e-9)
