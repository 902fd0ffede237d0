"""What must hold of every least-cost ration, on random books."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import linprog

from rationlp.book.records import Offer, OwnFigure, OwnRequirement, Place
from rationlp.farm import Farm
from rationlp.rations.formulate import formulate, solve_rations
from rationlp.rations.solve.verify import verify

SEEDS = range(1000, 1060)
FEW_SEEDS = 12


def cost(book, library):
    """Cost by the objective; None where nothing meets everything."""
    (ration,) = formulate(Farm(book, library))
    if ration.status != "optimal":
        return None
    return ration.cost_per_tonne if ration.objective == "per_tonne" else ration.cost_per_gcal


@pytest.fixture(scope="module")
def solved(random_book, library, few):
    """Random books, half of them at a confidence, that can be met."""
    books = [random_book(seed, confidence_pct=(50.0, 85.0)[seed // 2 % 2]) for seed in few(SEEDS, FEW_SEEDS)]
    found = [(made, value) for made in books if (value := cost(made.book, library)) is not None]
    assert len(found) > 0.66 * len(books)
    assert sum(made.book.farm.confidence_pct > 50 for made, _ in found) > len(books) / 6
    return found


@pytest.mark.slow
def test_loosening_a_requirement_never_raises_cost(solved, library):
    cheaper = 0
    for made, before in solved:
        for k, row in enumerate(made.book.own_stages):
            looser = replace(row, minimum=row.minimum * 0.97, maximum=row.maximum and row.maximum * 1.03)
            stages = (*made.book.own_stages[:k], looser, *made.book.own_stages[k + 1 :])
            after = cost(replace(made.book, own_stages=stages), library)
            assert after <= before * (1 + 1e-7)
            cheaper += after < before * (1 - 1e-6)
    assert cheaper > 0.8 * len(solved)  # the test would see a difference


@pytest.mark.slow
def test_dropping_a_requirement_never_raises_cost(solved, library):
    for made, before in solved:
        assert cost(replace(made.book, own_stages=made.book.own_stages[1:]), library) <= before * (1 + 1e-7)


@pytest.mark.slow
def test_adding_an_offer_never_raises_cost(solved, library):
    cheaper = 0
    for index, (made, before) in enumerate(solved):
        rng = np.random.default_rng(index)
        figures = tuple(
            OwnFigure(Place(), "new_feed", row.nutrient, row.value * rng.uniform(0.6, 1.6), row.unit, "as_fed", row.sd)
            for row in made.book.own_feeds
            if row.feed == "feed_0"
        )
        offer = Offer(Place(), "new_offer", "new_feed", price_per_tonne=float(rng.uniform(60, 600)))
        book = replace(
            made.book, own_feeds=(*made.book.own_feeds, *figures), supplements=(*made.book.supplements, offer)
        )
        after = cost(book, library)
        assert after <= before * (1 + 1e-7)
        cheaper += after < before * (1 - 1e-6)
    assert cheaper > len(solved) / 6


@pytest.mark.parametrize("factor", [0.001, 7.5])
def test_scaling_all_prices_scales_cost(factor, solved, library):
    for made, before in solved:
        offers = tuple(replace(o, price_per_tonne=o.price_per_tonne * factor) for o in made.book.supplements)
        assert cost(replace(made.book, supplements=offers), library) == pytest.approx(before * factor, rel=1e-6)


@pytest.mark.slow
def test_the_order_of_rows_and_offers_changes_nothing(solved, library):
    for index, (made, before) in enumerate(solved):
        rng = np.random.default_rng(index)
        mixed = replace(
            made.book,
            supplements=tuple(made.book.supplements[i] for i in rng.permutation(len(made.book.supplements))),
            own_stages=tuple(made.book.own_stages[i] for i in rng.permutation(len(made.book.own_stages))),
            own_feeds=tuple(made.book.own_feeds[i] for i in rng.permutation(len(made.book.own_feeds))),
        )
        (first,), (second,) = formulate(Farm(made.book, library)), formulate(Farm(mixed, library))
        assert cost(mixed, library) == pytest.approx(before, rel=1e-7)
        shares = {line.offer: line.share for line in second.mix}
        assert {line.offer: pytest.approx(line.share, abs=1e-5) for line in first.mix} == shares


@pytest.mark.slow
def test_confidence_up_cost_up(random_book, library, few):
    rose, seeds = 0, few(SEEDS, FEW_SEEDS)
    for seed in seeds:
        made = random_book(seed)
        costs = [cost(made.at(confidence_pct=c), library) for c in (50.0, 65.0, 80.0, 95.0)]
        for low, high in pairwise(costs):
            assert high is None or (low is not None and high >= low * (1 - 1e-7))
            rose += high is not None and high > low * (1 + 1e-6)
    assert rose > len(seeds)


@pytest.mark.slow
def test_a_margin_up_cost_up_and_more_of_the_demo_is_never_cheaper_with_a_home_grown_floor(demo_book, library):
    stages = ["sw_gro_25_50", "sw_gest_p2_early"]
    plain = formulate(Farm(demo_book, library), stages)
    with_margin = formulate(
        Farm(replace(demo_book, farm=replace(demo_book.farm, requirement_margin_pct=5.0)), library), stages
    )
    floored = formulate(Farm(demo_book, library), stages, home_grown=0.88)
    for before, margin, floor in zip(plain, with_margin, floored, strict=True):
        by_energy = before.objective == "per_energy"
        costs = [r.cost_per_gcal if by_energy else r.cost_per_tonne for r in (before, margin, floor)]
        assert costs[1] >= costs[0] * (1 - 1e-9)
        assert costs[2] >= costs[0] * (1 - 1e-9)
        assert floor.home_grown_share >= 0.88 - 1e-9


def test_every_ration_passes_verification_and_meets_its_rows_recomputed(solved, library):
    for made, _ in solved:
        (one,) = solve_rations(Farm(made.book, library))
        verify(one.answer.program, one.answer.solution)
        x = np.array([line.share for line in sorted(one.ration.mix, key=lambda line: line.offer)])
        order = np.argsort([f"offer_{i}" for i in range(len(made.prices))])
        shares = np.zeros(len(x))
        shares[order] = x
        assert shares.sum() == pytest.approx(1, abs=1e-9)
        for sign, row, _, bound in made.rows():
            assert sign * row @ shares >= -1e-6 * max(abs(bound), 1)
        assert one.ration.cost_per_tonne == pytest.approx(made.prices @ shares, rel=1e-9)


def scan(made, levels):
    """The least cost per Mcal found by fixing the energy of the mix, level by level (tonnes, then divided)."""
    n, best = len(made.prices), np.inf
    upper = [-sign * row for sign, row, _, _ in made.rows()]
    for level in levels:
        answer = linprog(
            made.prices,
            upper,
            np.zeros(len(upper)),
            np.vstack([np.ones(n), made.energy]),
            [1.0, level],
            [(0, None)] * n,
            method="highs",
        )
        if answer.status == 0:
            best = min(best, 1000 * answer.fun / level)
    return best


@pytest.mark.slow
def test_the_energy_objective_against_a_fine_scan_over_energy(random_book, library, few):
    """Exact, not by trial: no energy level of a fine scan is cheaper, and the finest comes close."""
    compared, seeds = 0, few(range(300, 312), 4)
    for seed in seeds:
        made = random_book(seed, objective="per_energy")
        value = cost(made.book, library)
        if value is None:
            continue
        coarse = np.linspace(made.energy.min(), made.energy.max(), 60)
        found = scan(made, coarse)
        (ration,) = formulate(Farm(made.book, library))
        near = ration.energy_kcal_kg + np.linspace(-20, 20, 21)
        fine = min(found, scan(made, near))
        assert value <= fine * (1 + 1e-9)
        assert value == pytest.approx(fine, rel=1e-6)  # the level of the answer itself is in the scan
        compared += 1
    assert compared > 0.7 * len(seeds)


@pytest.mark.slow
def test_the_two_objectives_differ_and_each_is_best_at_its_own(random_book, library, few):
    differ, seeds = 0, few(SEEDS, FEW_SEEDS)
    for seed in seeds:
        made = random_book(seed, objective="per_tonne")
        (tonne,), (energy,) = (
            formulate(Farm(made.book, library)),
            formulate(Farm(made.at(objective="per_energy"), library)),
        )
        if tonne.status != "optimal":
            continue
        assert tonne.cost_per_tonne <= energy.cost_per_tonne * (1 + 1e-9)
        assert energy.cost_per_gcal <= tonne.cost_per_gcal * (1 + 1e-9)
        differ += energy.cost_per_gcal < tonne.cost_per_gcal * (1 - 1e-6)
    assert differ > len(seeds) / 12


def test_a_requirement_per_mcal_is_the_same_as_the_amount_at_the_energy_of_the_mix(random_book, library):
    """6.0 % for each Mcal at 2.7 Mcal/kg asks for 16.2 %."""
    made = random_book(1001)
    row = (
        next(row for row in made.book.own_stages if row.per == "mcal")
        if any(row.per == "mcal" for row in made.book.own_stages)
        else OwnRequirement(Place(), "random_stage", "nutrient_0", 0.5, None, "%", "mcal")
    )
    (ration,) = formulate(Farm(made.book, library))
    line = next(line for line in ration.requirements if line.nutrient == row.nutrient)
    assert line.minimum == pytest.approx(row.minimum * ration.energy_kcal_kg / 1000, rel=1e-9)
