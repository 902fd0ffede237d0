"""The year against programs written by hand, against a computed example, and against itself."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.year.plan import YearRequest, plan_year
from rationlp.year.program.choice import chosen
from rationlp.year.program.few import add_shared_mixes, choose
from rationlp.year.program.kitchen import same_mix

SEEDS = pytest.mark.parametrize("seed", range(40))

# Example multiblend_shared_stock (computed: HiGHS on the joint program; worked examples of the project).
# Mixed grain, corn, soybean meal, limestone: price, crude protein, lysine, calcium [%], energy [Mcal/kg].
SHARED_STOCK = {
    "prices": [180.0, 200.0, 480.0, 90.0],
    "means": [[13, 0.55, 0.1, 2.95], [8.5, 0.26, 0.03, 3.35], [47.5, 3.0, 0.3, 2.45], [0, 0, 38, 0]],
    "layer": [(0, 16.5, None), (1, 0.8, None), (2, 3.8, None), (3, 2.7, None)],
    "finisher": [(0, 14.0, None), (1, 0.75, None), (2, 0.5, None), (3, 3.0, None)],
    "stock": [60.0, 35.0, 20.0],
    "joint_cost": [32018.971, 33074.825, 33734.71],
    "shadow_price": [-42.2341, -42.2341, -48.2176],
}


@pytest.mark.parametrize("case", range(3))
def test_two_rations_share_a_stock(small_year, library, case):
    example = SHARED_STOCK
    year = replace(
        small_year(0),
        means=np.array(example["means"], float),
        prices=np.array(example["prices"]),
        stocks=[example["stock"][case], None, None, None],
        needs=[example["layer"], example["finisher"]],
        groups=[(0, 60.0, 0, 99), (1, 80.0, 0, 99)],
        until=[99] * 4,
        mixing=0.0,
    )
    plan = plan_year(year.farm(library))
    assert plan.cost == pytest.approx(example["joint_cost"][case], abs=0.01)
    assert -plan.search.master.scarcity("offer_0") == pytest.approx(example["shadow_price"][case], abs=1e-3)


@SEEDS
def test_the_plan_costs_what_one_program_written_by_hand_costs(small_year, library, seed):
    year = small_year(seed)
    plan = plan_year(year.farm(library))
    assert not plan.unfed
    assert plan.cost == pytest.approx(year.by_hand(), rel=1e-6)
    assert plan.bound == pytest.approx(plan.cost, rel=1e-5)


@SEEDS
def test_the_last_tonne_is_worth_what_solving_again_says(small_year, library, seed):
    year = small_year(seed)
    plan = plan_year(year.farm(library))
    there = year.stocks[0]
    more, less = (year.by_hand([there + step, *year.stocks[1:]]) for step in (0.001, -0.001))
    worth = plan.search.master.scarcity("offer_0")
    assert (plan.cost - more) / 0.001 - 0.05 <= worth <= (less - plan.cost) / 0.001 + 0.05


@pytest.mark.slow
@SEEDS
def test_few_mixes_are_the_best_of_every_choice_of_so_many(small_year, library, seed):
    year = small_year(seed)
    plan = plan_year(year.farm(library))
    search = plan.search
    add_shared_mixes(search)
    keys = list(dict.fromkeys(same_mix(mix.shares) for mix in search.master.mixes))[:9]
    others = {same_mix(mix.shares) for mix in search.master.mixes} - {*keys}
    search.barred.update({(shares, demand.stage): "" for shares in others for demand in search.demands})
    best = {
        most: min(_cost_with(search, some) for some in combinations(keys, min(most, len(keys)))) for most in (1, 2, 3)
    }
    for most, cost in best.items():
        assert chosen(search, most, 0.0).cost == pytest.approx(cost, rel=1e-6)
    for most, cost in best.items():  # makes more mixes
        assert choose(search, most).cost <= cost * (1 + 1e-6)


def _cost_with(search, keys):
    search.allow([i for i, mix in enumerate(search.master.mixes) if same_mix(mix.shares) in keys])
    return search.master.run().cost


@pytest.fixture(scope="session")
def split_farm(demo_book, library):
    """The demo farm with all grain it could want, nothing scarce: every group eats what `ration` says."""
    bins = tuple(replace(row, mass_kg=1e6, moisture_pct=12.0) for row in demo_book.bins[:1])
    offers = tuple(replace(row, stock_kg=None, until_date=None, lead_days=0) for row in demo_book.supplements)
    groups = tuple(row for row in demo_book.groups if row.group in ("growers_early", "hens", "sows_nursing"))
    farm = replace(demo_book.farm, objective="per_energy", mixing_cost=None, selling_cost=None)
    samples = tuple(row for row in demo_book.samples if row.bin == bins[0].bin)
    book = replace(
        demo_book, farm=farm, bins=bins, samples=samples, supplements=offers, groups=groups, herd=(), arrivals=()
    )
    return Farm(book, library)


@pytest.mark.slow
def test_a_year_in_which_nothing_is_scarce_is_the_sum_of_its_rations(split_farm):
    plan = plan_year(split_farm)
    rations = {made.ration.stage: made.ration for made in solve_rations(split_farm)}
    cost = tonnes = 0.0
    for fed in plan.animals:
        ration = rations[fed.stage]
        eaten = fed.head_days * ration.feed_kg_per_head_per_day / 1000
        tonnes += eaten
        cost += eaten * ration.cost_per_tonne
    assert plan.cost == pytest.approx(cost, rel=1e-6)
    assert plan.tonnes == pytest.approx(tonnes, rel=1e-6)
    for mix in plan.mixes:
        (stage,) = mix.stages
        assert mix.verdict.severity is rations[stage].verdict.severity
        assert {r.text for r in mix.verdict.reasons} == {
            r.text for r in rations[stage].verdict.reasons if r.kind != "stock"
        }


@pytest.mark.slow
def test_the_same_question_has_the_same_answer(split_farm):
    first, again = plan_year(split_farm), plan_year(split_farm)
    assert (first.cost, first.uses, first.purchases) == (again.cost, again.uses, again.purchases)


def test_a_home_grown_floor_is_kept(small_year, library):
    year = small_year(3)
    plan = plan_year(year.farm(library))
    most = plan_year(
        replace(year, stocks=[1e3, *year.stocks[1:]], until=[99] * len(year.until)).farm(library),
        YearRequest(home_grown=0.1),
    )
    assert most.home_grown_share >= 0.1 - 1e-6
    assert plan.home_grown_share <= 1


def test_somebody_who_cannot_be_fed_is_named_with_the_day(small_year, library):
    year = small_year(1)
    short = replace(year, stocks=[1.0, 1.0, *[3.0] * (len(year.stocks) - 2)])
    plan = plan_year(short.farm(library))
    assert plan.unfed
    assert plan.verdict.severity == "stop"
    first = plan.unfed[0]
    assert first.on >= plan.season.first
    assert "used up" in first.why
    assert all("more" in way for way in first.ways_out)
    assert sum(row.tonnes for row in plan.unfed) == pytest.approx(
        sum(tonnes for _, tonnes, _, _ in year.groups) - plan.tonnes, rel=1e-6
    )


def test_what_is_scarce_lasts_as_long_as_it_can_and_goes_to_those_that_must_not_lack(small_year, library):
    year = small_year(1)
    short = replace(year, stocks=[1.0, 1.0, *[5.0] * (len(year.stocks) - 2)], until=[49, *year.until[1:]])
    plan = plan_year(short.farm(library))
    by_group = {}
    for each in plan.unfed:
        by_group.setdefault(each.group, []).append(each.on)
    master = plan.search.master
    early, late = (next(d for d in master.demands if d.window[0] == day) for day in (0, 50))
    assert master.unfed_cost(early) / early.units > master.unfed_cost(late) / late.units
    kept = replace(late, first=True)
    assert master.unfed_cost(kept) == pytest.approx(2 * master.unfed_cost(late))
    assert by_group
