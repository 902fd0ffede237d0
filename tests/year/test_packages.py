"""Whole packages: what is paid is the cost of the plan, of what is beside it and of its draws."""

from __future__ import annotations

from dataclasses import replace
from math import ceil

import pytest

from rationlp.book_units import units_of
from rationlp.farm import Farm
from rationlp.show.data.year import year_document
from rationlp.show.year.lines import change_lines
from rationlp.year.plan import YearRequest, plan_year, planned
from rationlp.year.program.search import search_of
from rationlp.year.studies.change import year_change

PACKAGE = 1.0  # tonnes
SEEDS = pytest.mark.parametrize(
    "seed", [1, *(pytest.param(seed, marks=pytest.mark.slow) for seed in (0, *range(2, 8)))]
)


@pytest.fixture
def packed(small_year, library):
    """A small year whose offers come in loads, asked to be planned by what whole ones cost, or not."""

    def made(seed: int, whole: str = "yes", **settings) -> Farm:
        farm = small_year(seed).farm(library, whole_packages=whole, **settings)
        return farm.with_offers(replace(row, package_kg=1000 * PACKAGE) for row in farm.book.supplements)

    return made


def _used(plan):
    used: dict[str, float] = {}
    for portion in plan.portions:
        for name, share in portion.mix.shares:
            used[name] = used.get(name, 0.0) + share * portion.tonnes
    return used


@SEEDS
def test_whole_loads_cost_what_one_integer_program_written_by_hand_says(small_year, packed, seed):
    """The program by hand has every mix there is, the plan those that were found: it is near, and never below."""
    year = small_year(seed)
    best, plan, loose = year.by_hand(package=PACKAGE), plan_year(packed(seed)), plan_year(packed(seed, "no"))
    assert not plan.unfed
    assert best * (1 - 1e-6) <= plan.cost <= best * 1.02
    assert plan.bound <= best * (1 + 1e-6)
    assert plan.cost <= (loose.cost + loose.left_in_packages) * (1 + 2e-6)  # as good as packages counted after the plan
    assert loose.cost == pytest.approx(year.by_hand(), rel=1e-6)  # without the setting nothing is paid for them


@SEEDS
def test_what_is_left_over_makes_up_whole_packages(packed, seed):
    plan = plan_year(packed(seed))
    used, left = _used(plan), {row.offer: row for row in plan.left_over}
    for name, row in left.items():
        assert used[name] + row.tonnes == pytest.approx(row.packages * PACKAGE, abs=1e-3)
        assert 0 < row.tonnes < PACKAGE
        assert row.packages == sum(p.packages for p in plan.purchases if p.offer == name)
    paid = sum(row.paid for row in plan.purchases)
    assert plan.bought_cost == pytest.approx(paid, rel=1e-5)
    assert plan.cost == pytest.approx(paid + plan.tonnes * plan.search.master.mixing, rel=1e-5)
    document = year_document(plan, packed(seed).book)
    assert document["cost"] == plan.cost and list(document["left_over"]) == list(plan.left_over)
    assert "left_over" not in year_document(plan_year(packed(seed, "no")), packed(seed).book)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_plans_beside_it_count_whole_packages_too(packed, seed):
    few, least = plan_year(packed(seed), YearRequest(most_mixes=2)), plan_year(packed(seed))
    assert few.few.used <= 2 and len(few.mixes) <= 2
    assert few.few.cost_of_any <= few.cost * (1 + 1e-9)
    assert few.few.cost_of_any >= least.bound
    for beside in (few.few.cost_of_one_fewer, few.few.cost_of_one_more):
        assert beside is None or beside >= least.bound
    assert few.few.cost_of_one_fewer is None or few.few.cost_of_one_fewer >= few.cost * (1 - 1e-6)


def test_draws_pay_whole_packages_and_leave_the_plan_as_it_was(packed):
    """Nothing varies in them: what they cost is at least what the plan pays less what other mixes would spare."""
    plan = plan_year(packed(1), YearRequest(draws=2))
    assert plan.draws.survived == 1
    assert plan.draws.cost_low == pytest.approx(plan.draws.cost_high)
    assert plan.draws.cost_low >= plan.cost * (1 - 1e-6)
    assert plan.search.master.packages == plan.search.master.needed()


def test_what_lies_on_the_farm_is_fed_before_a_package_is_bought(packed):
    """Ten tonnes lie there of an offer that is bought: packages are those beyond."""
    farm = packed(2)
    before = plan_year(farm)
    name = max(before.left_over, key=lambda row: row.packages).offer
    search = before.search
    supplies = [replace(s, on_farm=10.0) if s.name == name else s for s in search.supplies]
    made = search_of(farm, search.season, before.animals, supplies)
    plan = planned(made, YearRequest())
    (bought,) = [
        packages
        for held, packages in zip(made.master.packed, made.master.packages, strict=True)
        if held.supply.name == name
    ]
    used = _used(plan)[name]
    assert bought == sum(p.packages for p in plan.purchases if p.offer == name)
    assert bought * PACKAGE >= used - 10.0 - 1e-3
    (there,) = plan.on_farm
    assert there.used_tonnes == pytest.approx(min(used, 10.0), abs=1e-3)
    assert plan.cost <= before.cost + 1e-6


def test_a_plan_in_whole_packages_is_set_beside_what_whole_packages_of_the_other_cost(packed):
    """What is paid stood beside what is eaten: asking for whole packages seemed to make the year dearer."""
    loose, whole = plan_year(packed(1, "no")), plan_year(packed(1))
    paid = sum(row.paid for row in loose.purchases)
    used, name = _used(loose), {row.offer for row in loose.purchases}
    in_packages = sum(PACKAGE * ceil(tonnes / PACKAGE - 1e-5) for offer, tonnes in used.items() if offer in name)
    change = year_change(loose, whole)
    assert change.whole_packages
    assert loose.left_in_packages > 0  # else there is nothing to see
    assert change.cost == pytest.approx(whole.cost - (loose.cost - loose.bought_cost + paid), rel=1e-9)
    assert change.cost <= 2e-6 * whole.cost  # planned by them it is never dearer than counted after the plan
    assert change.bought_tonnes == pytest.approx(whole.bought_tonnes - in_packages, rel=1e-6)
    same = year_change(whole, whole)
    assert same.cost == same.bought_tonnes == 0
    assert not year_change(loose, loose).whole_packages
    (told, *_) = change_lines(change, packed(1).book, units_of(packed(1).settings), "Against it")
    assert told.startswith("Against it, both in whole packages: ")
