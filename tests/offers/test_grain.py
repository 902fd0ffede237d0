"""Grain of a bin shared over the groups of a farm: two groups and one bin, every figure calculated by hand."""

from __future__ import annotations

from datetime import date, timedelta
from types import SimpleNamespace

import pytest

from rationlp.book.records import Settings
from rationlp.offers.grain import SOON_DAYS, Choice, _verdict, grain_plans

FIRST = date(2026, 9, 1)
LATER = FIRST + timedelta(days=SOON_DAYS + 1)
PRICE = 150.0


def plan_of(tonnes, hens_from=LATER, price=PRICE, worths=(), harmful=False):
    """Pigs eat 8 t of north and save 500 by it, 62.50 a tonne; hens eat 6 t and save 600, 100 a tonne."""
    choices = [
        Choice("pigs", FIRST, 1000.0, {"north": 8.0}),
        Choice("pigs", FIRST, 1500.0, {}),
        Choice("hens", hens_from, 800.0, {"north": 6.0}),
        Choice("hens", hens_from, 1400.0, {}),
    ]
    bins = [SimpleNamespace(bin=name, sale_price_per_tonne=price) for name in ("north", "south")]
    cases = [SimpleNamespace(estimates=[SimpleNamespace(bin="north", tonnes=tonnes, harmful=harmful)])]
    (plan,) = grain_plans(cases, choices, worths, SimpleNamespace(bins=bins, farm=Settings()))
    return plan


def told(plan) -> tuple[float | None, ...]:
    return plan.feed, plan.hold, plan.sell, plan.last_tonne_worth


def worth(bin_: str, share: float, value: float | None):
    return SimpleNamespace(bin=bin_, share=share, worth=value)


def test_scarce_grain_goes_where_it_saves_most():
    """10 t: 6 to the hens, who come later, 4 to half of the pigs' days; one tonne more would save 62.50 of theirs."""
    plan = plan_of(10.0)
    assert told(plan) == pytest.approx((4, 6, 0, 212.5))
    assert plan.verdict.startswith("feed 4 t, hold 6 t for groups that come later; it does not reach for all")
    assert "212.5" in plan.verdict


@pytest.mark.parametrize(("hens_from", "feed", "hold"), [(LATER - timedelta(days=1), 10, 0), (None, 10, 0)])
def test_who_comes_within_a_month_is_fed_from_now_on(hens_from, feed, hold):
    assert told(plan_of(10.0, hens_from)) == pytest.approx((feed, hold, 0, 212.5))
    assert "hold" not in plan_of(10.0, hens_from).verdict


def test_grain_that_is_left_over_is_sold_or_held_for_what_it_is_worth_as_feed():
    worths = [worth("north", 0.3, 180.0), worth("north", 0.2, 210.0), worth("north", 0, 90.0), worth("south", 0.3, 1.0)]
    plan = plan_of(20.0, worths=[*worths, worth("north", 0.1, None)])
    assert told(plan) == pytest.approx((8, 6, 6, PRICE))
    assert "sell 6 t; held for another season it would have to be worth" in plan.verdict
    assert plan.verdict.count("180") == plan.verdict.count("210") == 1 and "90" not in plan.verdict.replace("150", "")
    assert "held for another season" not in plan_of(20.0).verdict, "nothing says what it is worth as feed"


def test_of_grain_with_a_danger_in_it_none_is_to_be_sold():
    plan = plan_of(20.0, worths=[worth("north", 0.3, 180.0)], harmful=True)
    assert "6 t are left over: sell none of it as feed or food until it is cleared." in plan.verdict
    assert "sell 6 t" not in plan.verdict and "held for another season" not in plan.verdict


def test_without_a_sale_price_it_is_left_over():
    plan = plan_of(20.0, price=None)
    assert told(plan) == pytest.approx((8, 6, 6, 0))
    assert (
        plan.verdict
        == "feed 8 t, hold 6 t for groups that come later, 6 t are left over (the book gives no sale price)."
    )


def test_of_a_bin_nobody_measured_all_that_is_wanted_is_fed():
    plan = plan_of(None)
    assert told(plan) == (pytest.approx(8), pytest.approx(6), None, None)
    assert plan.verdict == "feed 8 t, hold 6 t for groups that come later."


def test_an_empty_bin():
    """Both would be fed without it: one tonne more would save what it saves the hens."""
    plan = plan_of(0.0)
    assert told(plan) == pytest.approx((0, 0, 0, 250))
    assert plan.verdict.startswith("nothing to do; it does not reach for all")


@pytest.mark.parametrize(
    ("line", "price", "words"),
    [
        ({"indispensable": True}, 150.0, "feed: there is no ration of this stage without it"),
        ({"in_mix": False, "enters_below": None}, 150.0, "sell: it cannot go into this ration"),
        ({"in_mix": False, "enters_below": 140.0}, 150.0, "sell: it would be fed only below 140.00"),
        ({"in_mix": True, "worth_used": 172.5}, 150.0, "feed: worth 22.50 a tonne more than sold"),
        ({"in_mix": True, "worth_used": 172.5}, None, "feed (the book gives no sale price)"),
    ],
)
def test_grain_is_fed_where_it_is_worth_more_than_it_brings(line, price, words):
    told = SimpleNamespace(**{"indispensable": False, "enters_below": None, "worth_used": None} | line)
    assert _verdict(told, price, Settings()) == words
