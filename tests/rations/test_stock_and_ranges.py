"""Which days of a group are still to come, and what is said of a nutrient outside a range that is no row."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from rationlp.book.records import Group, Place
from rationlp.farm import Farm
from rationlp.library import load_library
from rationlp.rations.answer.mix import make_mix
from rationlp.rations.answer.model import MixLine
from rationlp.rations.answer.stock import _after
from rationlp.rations.answer.words import _beyond
from rationlp.rations.formulate import solve_rations

FIRST, LAST, NEXT, LATER = date(2025, 11, 1), date(2025, 11, 20), date(2025, 11, 21), date(2025, 12, 24)


@pytest.mark.parametrize(
    ("from_date", "to_date", "left"),
    [
        (FIRST, LATER, (NEXT, LATER)),
        (FIRST, None, (NEXT, None)),
        (None, None, (NEXT, None)),
        (None, LATER, (NEXT, LATER)),
        (FIRST, LAST, None),
        (FIRST, NEXT, (NEXT, NEXT)),
        (NEXT, LATER, (NEXT, LATER)),
        (LATER, None, (LATER, None)),
    ],
)
def test_a_group_eats_on_the_days_after_the_last_batch(from_date, to_date, left):
    group = Group(Place(), "pigs", "sw_gro_25_50", from_date=from_date, to_date=to_date)
    after = _after(group, LAST)
    assert (after and (after.from_date, after.to_date)) == left
    assert _after(group, None) is group


@pytest.fixture(scope="module")
def mix(demo_book):
    (made,) = solve_rations(Farm(demo_book, load_library()), ["sw_gro_25_50"], ["north"])
    return make_mix(made.formula, made.answer.amounts, load_library())


@pytest.mark.parametrize(
    ("least", "most", "sure_pct", "words"),
    [
        (None, 0.99, None, ", over "),
        (None, 1.01, None, ""),
        (None, 1.001, 95.0, ", near "),  # so close that one lot in twenty may be over it
        (None, 10.0, 95.0, ""),
        (1.01, 2.0, None, ", under "),
        (0.99, 2.0, None, ""),
    ],
)
def test_what_lies_outside_a_range_is_said_with_the_range(mix, least, most, sure_pct, words):
    """Bounds in parts of the crude protein that the mix holds."""
    held = sum(share * candidate.values["crude_protein"] for share, candidate in mix.used)
    row = replace(
        load_library().ceilings[0],
        nutrient="crude_protein",
        unit="%",
        minimum=None if least is None else least * held,
        maximum=most * held,
        probability_pct=sure_pct,
    )
    said = _beyond(row, mix)
    assert (words in said and said.startswith(f"{held:.4g} %")) if words else said == ""
    assert ("chance of more" in said) is bool(words and sure_pct)


@pytest.mark.parametrize(("sale_price", "told"), [(None, True), (182.0, False)])
def test_grain_that_costs_nothing_is_told(demo_book, sale_price, told):
    bins = tuple(replace(row, sale_price_per_tonne=sale_price) for row in demo_book.bins)
    (made,) = solve_rations(Farm(replace(demo_book, bins=bins), load_library()), ["sw_gro_25_50"], ["north"])
    assert ("Bin north is calculated at no cost: the book gives no sale price." in made.ration.notes) is told


@pytest.mark.parametrize(
    ("price", "reduced", "enters_at"), [(300.0, 120.0, 180.0), (0.5, 0.0, 0.5), (90.0, 90.0, 0.0), (90.0, 91.0, None)]
)
def test_a_feed_comes_in_at_its_price_less_what_it_must_fall_by(price, reduced, enters_at):
    assert MixLine("one", "corn", "Corn", 0.0, price, reduced).enters_at == enters_at
