"""Random farm books of own feeds and one own stage, for comparing with other solvers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from rationlp.book.records import Book, Offer, OwnFigure, OwnRequirement, Place, Settings

STAGE = "random_stage"


@dataclass(frozen=True)
class RandomBook:
    """A book with its numbers as arrays: means and sds by offer and nutrient, energy last in both.

    `needs` are (nutrient index, minimum or None, maximum or None, per) with per `kg` or `mcal`.
    """

    book: Book
    means: np.ndarray
    sds: np.ndarray
    prices: np.ndarray
    needs: tuple[tuple[int, float | None, float | None, str], ...]

    @property
    def energy(self) -> np.ndarray:
        return self.means[:, -1]

    def rows(self, mark_up: float = 0.0):
        """Every bound as (sign, row, sds by offer, bound index): sign * row @ x >= 0 at sum(x) = 1; energy in Mcal."""
        for k, low, high, per in self.needs:
            for sign, bound in ((1.0, low), (-1.0, high)):
                if bound is None:
                    continue
                weight = self.energy / 1000 if per == "mcal" else np.ones(len(self.prices))
                spread = self.sds[:, k] ** 2
                if per == "mcal":
                    spread = spread + (bound * self.sds[:, -1] / 1000) ** 2
                yield sign, self.means[:, k] - bound * weight, np.sqrt(spread), bound

    def at(self, **farm) -> Book:
        """The same book with other settings."""
        return replace(self.book, farm=replace(self.book.farm, **farm))


def _id(k: int, last: int) -> str:
    return "me_pig" if k == last else f"nutrient_{k}"


def build(means, sds, prices, needs, objective="per_tonne", confidence_pct=50.0) -> RandomBook:
    """The book that says what the arrays say."""
    last = means.shape[1] - 1
    figures = tuple(
        OwnFigure(
            Place(),
            f"feed_{i}",
            _id(k, last),
            float(means[i, k]),
            "kcal/kg" if k == last else "%",
            "as_fed",
            float(sds[i, k]) or None,
        )
        for i in range(len(means))
        for k in range(last + 1)
    )
    offers = tuple(Offer(Place(), f"offer_{i}", f"feed_{i}", price_per_tonne=float(p)) for i, p in enumerate(prices))
    stages = tuple(
        OwnRequirement(Place(), STAGE, _id(k, last), low, high, "kcal/kg" if k == last else "%", per)
        for k, low, high, per in needs
    )
    farm = Settings(name="random", objective=objective, confidence_pct=confidence_pct)
    book = Book(Path("random"), farm, supplements=offers, own_feeds=figures, own_stages=stages)
    return RandomBook(book, np.asarray(means, float), np.asarray(sds, float), np.asarray(prices, float), tuple(needs))


@pytest.fixture(scope="session")
def random_book() -> Callable[..., RandomBook]:
    """Makes a book that a known mix meets with room to spare (with `room` negative: one that hardly any mix meets)."""

    def make(seed: int, room: float = 0.10, objective: str | None = None, confidence_pct: float = 50.0) -> RandomBook:
        rng = np.random.default_rng(seed)
        offers, nutrients = int(rng.integers(4, 9)), int(rng.integers(2, 6))
        means = rng.uniform(0.2, 10.0, (offers, nutrients + 1))
        means[:, -1] = rng.uniform(1500, 3800, offers)
        sds = means * rng.uniform(0.01, 0.06, means.shape) * (rng.random(means.shape) < 0.8)
        mix = rng.dirichlet(np.ones(offers))
        held = mix @ means
        needs = []
        for k in range(nutrients):
            per = "mcal" if rng.random() < 0.4 else "kg"
            level = held[k] / (held[-1] / 1000 if per == "mcal" else 1.0)
            low = level * (1 - room * rng.uniform(0.9, 1.6))
            high = max(low, level) * (1 + abs(room) * rng.uniform(2.0, 6.0)) if rng.random() < 0.4 else None
            needs.append((k, float(low), high if high is None else float(high), per))
        needs.append((nutrients, float(held[-1] * (1 - room)), None, "kg"))
        kind = objective or ("per_energy" if seed % 2 else "per_tonne")
        return build(means, sds, rng.uniform(80, 900, offers), needs, kind, confidence_pct)

    return make


@pytest.fixture(scope="session")
def remake() -> Callable[..., RandomBook]:
    """Makes a book from arrays."""
    return build
