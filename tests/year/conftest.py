"""Small years of own feeds and stages, and the same year as one program written by hand for scipy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise, product
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import linprog

from rationlp.book.records import Book, Group, Offer, OwnFigure, OwnRequirement, Place, Settings
from rationlp.farm import Farm

START = date(2026, 10, 1)
DAYS = 100


@dataclass(frozen=True)
class SmallYear:
    """Offers by nutrient, stages with bounds, groups that eat a weight; `stocks` in tonnes, None without end."""

    means: np.ndarray
    prices: np.ndarray
    stocks: list[float | None]
    needs: list[list[tuple[int, float | None, float | None]]]
    groups: list[tuple[int, float, int, int]]  # (stage, tonnes in all, first day, last day)
    until: list[int]  # last day of each offer
    mixing: float = 0.0

    def farm(self, library, **settings) -> Farm:
        """The farm that says so."""
        figures = tuple(
            OwnFigure(Place(), f"feed_{i}", f"nutrient_{k}", float(value), "%", "as_fed")
            for i, row in enumerate(self.means)
            for k, value in enumerate(row)
        )
        offers = tuple(
            Offer(
                Place(),
                f"offer_{i}",
                f"feed_{i}",
                price_per_tonne=float(price),
                stock_kg=None if stock is None else 1000 * stock,
                until_date=START + timedelta(days=until),
                home_grown=i == 0,
            )
            for i, (price, stock, until) in enumerate(zip(self.prices, self.stocks, self.until, strict=True))
        )
        stages = tuple(
            OwnRequirement(Place(), f"stage_{s}", f"nutrient_{k}", low, high, "%", "kg")
            for s, needs in enumerate(self.needs)
            for k, low, high in needs
        )
        groups = tuple(
            Group(
                Place(),
                f"group_{g}",
                f"stage_{stage}",
                100,
                START + timedelta(days=first),
                START + timedelta(days=last),
                10.0 * tonnes / (last - first + 1),
            )
            for g, (stage, tonnes, first, last) in enumerate(self.groups)
        )
        plan = {"plan_from": START, "next_harvest_on": START + timedelta(days=DAYS), "mixing_cost": self.mixing}
        farm = Settings(name="small", objective="per_tonne", **{**plan, **settings})
        return Farm(
            Book(Path("small"), farm, supplements=offers, own_feeds=figures, own_stages=stages, groups=groups), library
        )

    def by_hand(self, stocks: list[float | None] | None = None, package: float = 0.0) -> float:
        """The least cost of the year as one program over tonnes of each offer in each group and stretch of days; of
        each offer whole packages of so many tonnes are paid, if any."""
        stocks = self.stocks if stocks is None else stocks
        breaks = sorted({0, DAYS, *(min(day + 1, DAYS) for day in self.until)})
        blocks = []
        for stage, tonnes, first, last in self.groups:
            for low, high in pairwise(breaks):
                days = min(high - 1, last) - max(low, first) + 1
                if days > 0:
                    blocks.append((stage, tonnes * days / (last - first + 1), low))
        offers, nutrients = len(self.prices), self.means.shape[1]
        columns = len(blocks) * offers
        upper, most, equal, right = [], [], [], []
        bounds = [(0, None)] * columns
        for b, (stage, tonnes, low) in enumerate(blocks):
            at = slice(b * offers, (b + 1) * offers)
            row = np.zeros(columns)
            row[at] = 1
            equal.append(row)
            right.append(tonnes)
            for k, least, greatest in self.needs[stage]:
                assert k < nutrients
                for sign, bound in ((-1.0, least), (1.0, greatest)):
                    if bound is not None:
                        row = np.zeros(columns)
                        row[at] = sign * (self.means[:, k] - bound)
                        upper.append(row)
                        most.append(0.0)
            for i, until in enumerate(self.until):
                if until < low:
                    bounds[b * offers + i] = (0, 0)
        for i, stock in enumerate(stocks):
            if stock is not None:
                row = np.zeros(columns)
                row[i::offers] = 1
                upper.append(row)
                most.append(stock)
        costs, whole = np.tile(self.prices + self.mixing, len(blocks)), np.zeros(columns)
        if package:
            costs = np.concatenate([np.full(columns, self.mixing), self.prices * package])
            whole = np.concatenate([whole, np.ones(offers)])
            upper = [np.concatenate([row, np.zeros(offers)]) for row in upper]
            equal = [np.concatenate([row, np.zeros(offers)]) for row in equal]
            bounds += [(0, None)] * offers
            for i in range(offers):
                row = np.zeros(columns + offers)
                row[i:columns:offers] = 1
                row[columns + i] = -package
                upper.append(row)
                most.append(0.0)
        found = linprog(costs, np.array(upper), most, np.array(equal), right, bounds, method="highs", integrality=whole)
        return found.fun if found.status == 0 else float("nan")

    def cheapest_few(self, plan, most: int) -> float:
        """The least cost of the year with so many mixes, by hand: every way to give each demand one of them, and for
        each way one program over the tonnes of every offer in every mix."""
        demands = [(d.stage, d.units, d.window[0]) for d in plan.search.demands]
        best = np.inf
        for ways in product(range(most), repeat=len(demands) - 1):
            best = min(best, _pooled_by_hand(self, demands, (0, *ways)))
        return best


@pytest.fixture(scope="session")
def small_year() -> Callable[[int], SmallYear]:
    """A small year that some plan meets, its first two offers scarce."""

    def make(seed: int) -> SmallYear:
        rng = np.random.default_rng(seed)
        offers, nutrients, stages = int(rng.integers(4, 7)), int(rng.integers(2, 4)), int(rng.integers(2, 4))
        means = rng.uniform(0.2, 10.0, (offers, nutrients))
        needs = []
        for _ in range(stages):
            held = rng.dirichlet(np.ones(offers - 2)) @ means[2:]
            needs.append(
                [
                    (k, float(held[k] * 0.9), float(held[k] * rng.uniform(1.1, 1.6)) if rng.random() < 0.4 else None)
                    for k in range(nutrients)
                ]
            )
        groups = [
            (s, float(rng.uniform(5, 40)), int(rng.integers(0, 40)), int(rng.integers(60, 100))) for s in range(stages)
        ]
        groups.append((0, float(rng.uniform(5, 20)), 0, 99))
        prices = rng.uniform(150, 500, offers)
        prices[:2] *= 0.4
        stocks = [float(rng.uniform(2, 25)), float(rng.uniform(2, 25)), *[None] * (offers - 2)]
        until = [int(rng.integers(30, 90)), 99, *[99] * (offers - 2)]
        return SmallYear(means, prices, stocks, needs, groups, until, float(rng.choice([0.0, 12.0])))

    return make


def _pooled_by_hand(year: SmallYear, demands, eats) -> float:
    offers, mixes = len(year.prices), sorted(set(eats))
    columns = len(mixes) * offers
    upper, most, equal, right, bounds = [], [], [], [], [(0, None)] * columns
    for place, mix in enumerate(mixes):
        eaters = [d for d, eaten in zip(demands, eats, strict=True) if eaten == mix]
        at = slice(place * offers, (place + 1) * offers)
        row = np.zeros(columns)
        row[at] = 1
        equal.append(row)
        right.append(sum(tonnes for _, tonnes, _ in eaters))
        for stage in {stage for stage, _, _ in eaters}:
            for k, least, greatest in year.needs[int(stage.removeprefix("stage_"))]:
                for sign, bound in ((-1.0, least), (1.0, greatest)):
                    if bound is not None:
                        row = np.zeros(columns)
                        row[at] = sign * (year.means[:, k] - bound)
                        upper.append(row)
                        most.append(0.0)
        for i, until in enumerate(year.until):
            if any(until < low for _, _, low in eaters):
                bounds[place * offers + i] = (0, 0)
    for i, stock in enumerate(year.stocks):
        if stock is not None:
            row = np.zeros(columns)
            row[i::offers] = 1
            upper.append(row)
            most.append(stock)
    costs = np.tile(year.prices + year.mixing, len(mixes))
    found = linprog(costs, np.array(upper), most, np.array(equal), right, bounds, method="highs")
    return found.fun if found.status == 0 else np.inf
