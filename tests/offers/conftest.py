"""Small books made in memory: own feeds, one own stage, a handful of offers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from rationlp.book.records import Book, Offer, OwnFigure, OwnRequirement, Place, Settings
from rationlp.farm import Farm
from rationlp.offers.live_ration import live_ration
from rationlp.rations.formulate import solve_ration

ENERGY = "ne_pig"
HERE = Place()


def _small_book(prices, figures, bounds, objective="per_tonne", **columns):
    """A book of own feeds f0, f1 ... with one stage `mine`.

    `figures` are nutrients by name, one value per feed; `bounds` (least, most) by nutrient. `columns` are further
    fields of the offers, one value per offer.
    """
    units = {name: "kcal/kg" if name == ENERGY else "per_kg" for name in figures}
    offers = tuple(
        Offer(
            HERE,
            f"o{j}",
            f"f{j}",
            price_per_tonne=float(price),
            **{name: values[j] for name, values in columns.items()},
        )
        for j, price in enumerate(prices)
    )
    own_feeds = tuple(
        OwnFigure(HERE, f"f{j}", name, float(value), units[name], "as_fed")
        for name, values in figures.items()
        for j, value in enumerate(values)
    )
    own_stages = tuple(
        OwnRequirement(HERE, "mine", name, low, high, units[name], "kg") for name, (low, high) in bounds.items()
    )
    return Book(
        Path("small.xlsx"),
        Settings(objective=objective, hand_least_kg=0.0),
        supplements=offers,
        own_feeds=own_feeds,
        own_stages=own_stages,
    )


@pytest.fixture(scope="session")
def demo_book(demo_book):
    """The demo with scales that weigh anything: its rations are plain linear programs, as the solvers here are.

    `test_least.py` asks the demo as it is.
    """
    return replace(demo_book, farm=replace(demo_book.farm, hand_least_kg=0.0))


def _case_of_book(book, library):
    """The one ration of a small book, ready to be asked."""
    farm = Farm(book, library)
    return live_ration(solve_ration(farm, farm.stage("mine"), ()))


def _random_book(seed):
    """A book that has a ration; every fifth with two like offers, every third with round figures that make ties."""
    rng = np.random.default_rng(seed)
    count, nutrients = int(rng.integers(5, 8)), int(rng.integers(2, 4))
    figures = {f"n{k}": rng.uniform(0, 10, count) for k in range(nutrients)}
    figures[ENERGY] = rng.uniform(1500, 3500, count)
    prices = rng.uniform(50, 500, count)
    if seed % 3 == 0:
        figures = {name: np.round(values, 0 if name != ENERGY else -2) for name, values in figures.items()}
        prices = np.round(prices, -1)
    if seed % 5 == 0:
        for values in figures.values():
            values[1] = values[0]
    mix = rng.dirichlet(np.ones(count))
    bounds = {}
    for name, values in figures.items():
        at = float(values @ mix)
        if name == ENERGY:
            bounds[name] = (0.95 * at, None)
        else:
            bounds[name] = (
                at * rng.uniform(0.85, 1.0) if rng.random() < 0.8 else None,
                at * rng.uniform(1.0, 1.3) + 0.5,
            )
    columns = {"max_share": [0.5 if rng.random() < 0.2 and share < 0.5 else None for share in mix]}
    return _small_book(prices, figures, bounds, "per_energy" if seed % 2 else "per_tonne", **columns)


@pytest.fixture(scope="session")
def small_book():
    """Makes a book of own feeds; see _small_book."""
    return _small_book


@pytest.fixture(scope="session")
def random_book():
    """Makes a random book from a seed; see _random_book."""
    return _random_book


@pytest.fixture(scope="session")
def case_of_book(library):
    """Makes the one ration of a small book, ready to be asked."""
    return lambda book: _case_of_book(book, library)


@pytest.fixture(scope="session")
def demo_per_tonne(demo_book):
    """The demo book, every ration cheapest per tonne."""
    return replace(demo_book, farm=replace(demo_book.farm, objective="per_tonne"))
