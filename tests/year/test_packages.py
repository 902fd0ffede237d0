"""What is bought comes in whole packages, and the plan looks at what is left over in the last of them."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import ceil

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from rationlp.farm import Farm
from rationlp.year import plan
from rationlp.year.draws import draw_years
from rationlp.year.plan import YearRequest, plan_year

SEEDS = pytest.mark.parametrize(
    "seed", [pytest.param(seed, marks=pytest.mark.slow if seed > 1 else ()) for seed in range(12)]
)
KG = 5_000.0
NEAR = 1e-4
"""So near to the least that any plan in whole packages pays: what a program written by hand says."""


def packed_farm(year, library, kilograms=KG):
    """The farm of a small year whose offers come in packages."""
    farm = year.farm(library)
    offers = tuple(replace(row, package_kg=kilograms, stock_kg=None) for row in farm.book.supplements)
    return Farm(replace(farm.book, supplements=offers), library)


def paid(year):
    return year.cost + year.left_in_packages


def least_paid(year, days=100):
    """The least that any plan pays: tonnes of each offer in each group and stretch of days, and whole packages."""
    breaks = sorted({0, days, *(min(day + 1, days) for day in year.until)})
    blocks = [
        (stage, tonnes * held / (last - first + 1), low)
        for stage, tonnes, first, last in year.groups
        for low, high in pairwise(breaks)
        if (held := min(high - 1, last) - max(low, first) + 1) > 0
    ]
    offers = len(year.prices)
    columns = len(blocks) * offers + offers
    costs = np.concatenate([np.full(len(blocks) * offers, year.mixing), year.prices * KG / 1000])
    rows, low, high = [], [], []
    most = np.full(columns, np.inf)
    for b, (stage, tonnes, begins) in enumerate(blocks):
        at = slice(b * offers, (b + 1) * offers)
        row = np.zeros(columns)
        row[at] = 1
        rows.append(row)
        low.append(tonnes)
        high.append(tonnes)
        for k, least, greatest in year.needs[stage]:
            for bound, ends in ((least, (0.0, np.inf)), (greatest, (-np.inf, 0.0))):
                if bound is not None:
                    row = np.zeros(columns)
                    row[at] = year.means[:, k] - bound
                    rows.append(row)
                    low.append(ends[0])
                    high.append(ends[1])
        for i, until in enumerate(year.until):
            if until < begins:
                most[b * offers + i] = 0
    for i in range(offers):
        row = np.zeros(columns)
        row[i : len(blocks) * offers : offers] = 1
        row[len(blocks) * offers + i] = -KG / 1000
        rows.append(row)
        low.append(-np.inf)
        high.append(0.0)
    whole = np.concatenate([np.zeros(len(blocks) * offers), np.ones(offers)])
    found = milp(costs, integrality=whole, bounds=Bounds(0, most), constraints=LinearConstraint(rows, low, high))
    assert found.status == 0
    return found.fun


@SEEDS
def test_a_plan_in_whole_packages_pays_the_least_that_any_pays(small_year, library, seed):
    """Packages were counted after the plan was made: some were bought for a little out of them."""
    year = replace(small_year(seed), stocks=[None] * len(small_year(seed).prices))
    made = plan_year(packed_farm(year, library))
    least = least_paid(year)
    assert made.bound <= least * (1 + 1e-6)
    assert least * (1 - 1e-6) <= paid(made) <= least * (1 + NEAR)


@SEEDS
def test_nobody_pays_more_for_packages_being_looked_at(small_year, library, monkeypatch, seed):
    farm, request = packed_farm(small_year(seed), library), YearRequest(most_mixes=2 if seed % 2 else None)
    made = plan_year(farm, request)
    monkeypatch.setattr(plan, "within_whole_packages", lambda search: None)
    before = plan_year(farm, request)
    assert paid(made) <= paid(before) * (1 + 1e-9)
    assert not made.unfed
    assert made.few.used <= 2 or not request.most_mixes
    assert made.few.cost == pytest.approx(before.cost)
    bought: dict[str, int] = {}
    for row in made.purchases:
        bought[row.offer] = bought.get(row.offer, 0) + row.packages
    for name, packages in bought.items():
        used = sum(row.tonnes for row in made.purchases if row.offer == name)
        assert packages == ceil(used / (KG / 1000) - 1e-6)


def test_draws_may_buy_more_packages_than_the_plan(small_year, library):
    """What the plan buys is no end of what there is to have."""
    for seed in range(12):
        made = plan_year(packed_farm(small_year(seed), library))
        if made.search.master.limited:
            break
    assert made.search.master.limited
    tonnes = {name: made.search.master.supplies[name].tonnes for name in made.search.master.limited}
    again = replace(made, search=made.search)
    made.search.master.set_needed(0, 3.0)
    found = draw_years(again, 2)
    assert found.survived == 1
    assert {name: made.search.master.supplies[name].tonnes for name in tonnes} == tonnes
    assert made.search.master.answer.cost == pytest.approx(made.cost, rel=1e-6)


def test_next_to_nothing_left_over_is_let_be(small_year, library, monkeypatch):
    farm = packed_farm(small_year(1), library, kilograms=1.0)
    monkeypatch.setattr("rationlp.year.program.packages._fewest", lambda *told: pytest.fail("looked at"))
    assert plan_year(farm).left_in_packages < 1e-3 * plan_year(farm).cost
