"""What the first week of a plan asks of the farm: what is ordered, and what becomes of grain left over."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from rationlp.book.records import Book, Settings
from rationlp.herd.season import Season
from rationlp.numbers import money
from rationlp.show.year.decisions import decisions
from rationlp.show.year.lines import packages_line
from rationlp.year.model import Purchase, RunsOut, Sale, Year

FIRST, LAST = date(2025, 10, 1), date(2026, 7, 31)


@pytest.fixture
def book() -> Book:
    return Book(Path("farm"), Settings())


def _year(purchases: tuple[Purchase, ...] = (), bins: tuple[tuple[str, float, date | None, float], ...] = ()) -> Year:
    """A plan of these purchases and bins: name, tonnes left over, the day it keeps to, what a tonne brings."""
    return cast(
        Year,
        SimpleNamespace(
            season=Season(FIRST, LAST),
            purchases=purchases,
            sales=tuple(Sale(name, name, left, 8.0) for name, left, _, _ in bins),
            runs_out=tuple(RunsOut(name, name, None, None, None, keeps) for name, _, keeps, _ in bins),
            next_sample=(),
            unfed=(),
            tonnes=100.0,
            portions=(),
            mixes=(),
            search=SimpleNamespace(
                supplies=(), master=SimpleNamespace(prices_per_tonne={name: price for name, *_, price in bins})
            ),
        ),
    )


def test_an_offer_is_ordered_once_with_all_its_packages(book):
    """Meal for two months stood twice in the list, the second time without a package."""
    rows = [("2025-10", "soy", 0.6, 1, FIRST), ("2025-11", "soy", 0.3, 0, FIRST), ("2025-10", "salt", 0.01, 1, FIRST)]
    bought = tuple(
        Purchase(m, name, name, tonnes, packs, 100 * tonnes, on, 100.0 * packs) for m, name, tonnes, packs, on in rows
    )
    (order,) = decisions(_year(bought), book)
    assert order.count("soy") == 1 and "soy 900 kg (1 package), salt 10 kg (1 package)" in order
    assert "(200.00 USD)" in order


def test_grain_that_does_not_keep_is_told_before_the_larger_heap_that_does(book):
    """Only the larger one was told, while the other was about to spoil."""
    bins = (("dry", 30.0, None, 250.0), ("damp", 25.0, date(2025, 10, 31), 250.0), ("rest", 1.0, None, 250.0))
    (told,) = decisions(_year(bins=bins), book)[:1]
    assert told.startswith("Sell or dry 25.00 t of damp: it keeps to 2025-10-31")
    assert "Sell up to 30.00 t of dry:" in told and "rest" not in told


def test_grain_that_brings_nothing_is_not_to_be_sold(book):
    (told,) = decisions(_year(bins=(("dry", 30.0, None, 0.0),)), book)[:1]
    assert "Sell" not in told and "30.00 t of dry" in told


def test_grain_with_a_danger_in_it_is_not_to_be_sold(book):
    """Of 42 t with 125 times the aflatoxin that is allowed the first screen said: sell them."""
    year = _year(bins=(("mouldy", 30.0, FIRST, 250.0), ("dry", 25.0, None, 250.0)))
    mouldy, dry = year.sales
    year.sales = (replace(mouldy, harmful=True), dry)
    told = decisions(year, book)[0]
    assert told.startswith("Keep 30.00 t of mouldy apart; sell none of it as feed or food until it is cleared")
    assert "Sell up to 25.00 t of dry" in told and told.count("mouldy") == 1


def test_no_minus_stands_before_a_nought():
    assert money(-0.001, "USD") == "0.00 USD"
    assert money(-0.01) == "-0.01"


def test_what_is_left_over_in_packages_is_told_where_it_is_much():
    """Two pigs and twelve hens were told 213 dollars; the packages it comes out of cost half as much again."""
    bought = (Purchase("2025-10", "premix", "premix", 0.001, 1, 7.0, FIRST, 35.0),)
    year = Year.left_in_packages.fget(cast(Year, SimpleNamespace(purchases=bought, bought_cost=7.0)))
    assert year == pytest.approx(28.0)
    assert "28.00 more" in packages_line(cast(Year, SimpleNamespace(left_over=(), left_in_packages=28.0, cost=213.0)))
    assert not packages_line(cast(Year, SimpleNamespace(left_over=(), left_in_packages=28.0, cost=21_300.0)))
