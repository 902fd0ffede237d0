"""Rations that meet each requirement with a stated chance: published programs, a general cone solver, random draws."""

from __future__ import annotations

from math import sqrt
from statistics import NormalDist

import clarabel
import numpy as np
import pytest
from scipy import sparse

from rationlp.bins import estimate_bin
from rationlp.farm import Farm
from rationlp.feeds.candidates import bin_candidate, offer_candidates
from rationlp.rations.formulate import formulate, solve_rations
from rationlp.rations.solve.chance import TOLERANCE, Demanding, chance_rows, margin_multiplier
from rationlp.show.text.ration import print_rations


def test_published_cattle_feed_at_95_percent(published, make_book, library):
    """Test problem 73 of the nonlinear collection (hs73): protein met with probability 0.95."""
    example = published["cc_cattle_feed_95"]
    given, expected = example["inputs"], example["expected"]
    feeds = [f"{name}_feed" for name in given["variables"]]
    figures = []
    for i, feed in enumerate(feeds):
        for nutrient, value, variance in (
            ("test_fat", given["fat_min"]["coef"][i], 0.0),
            ("test_protein", given["protein_mean"][i], given["protein_variance"][i]),
        ):
            figures.append(
                {
                    "feed": feed,
                    "nutrient": nutrient,
                    "value": value,
                    "unit": "per_kg",
                    "basis": "as_fed",
                    "sd": sqrt(variance) or "",
                    "source": "example",
                }
            )
    book = make_book(
        {
            "farm": [{"setting": "confidence_pct", "value": 100 * given["probability"]}],
            "supplements": [
                {"offer": feed, "feed": feed, "price": price} for feed, price in zip(feeds, given["cost"], strict=True)
            ],
            "own_feeds": figures,
            "own_stages": [
                {"stage": "cattle", "nutrient": nutrient, "minimum": least, "unit": "per_kg", "per": "kg"}
                for nutrient, least in (("test_fat", given["fat_min"]["rhs"]), ("test_protein", given["protein_min"]))
            ],
        }
    )
    (ration,) = formulate(Farm(book, library))
    assert ration.cost_per_tonne == pytest.approx(expected["objective"], abs=example["tolerance"]["objective_abs"])
    shares = {line.offer: line.share for line in ration.mix}
    assert [shares[feed] for feed in feeds] == pytest.approx(expected["x"], abs=1e-3)  # the example rounds z to 1.645
    protein = next(line for line in ration.requirements if line.nutrient == "test_protein")
    assert protein.probability == pytest.approx(0.95, abs=1e-6)


def test_published_margins(published):
    example = published["z_table"]
    for probability, z in zip(example["inputs"]["probabilities"], example["expected"]["z"], strict=True):
        assert margin_multiplier(probability) == pytest.approx(z, abs=example["tolerance"]["z_abs"])
    for probability, z in example["expected"]["published_pairs"]:
        assert margin_multiplier(probability) == pytest.approx(z, abs=5e-3)


def cone_cost(made, confidence_pct):
    """The least cost by a general second-order cone solver, from the book's numbers; None if nothing meets them."""
    n, z = len(made.prices), NormalDist().inv_cdf(confidence_pct / 100)
    norm = np.ones(n) if made.book.farm.objective == "per_tonne" else made.energy / 1000
    blocks, right, cones = [norm[None, :]], [1.0], [clarabel.ZeroConeT(1)]
    blocks.append(-np.eye(n))
    right += [0.0] * n
    cones.append(clarabel.NonnegativeConeT(n))
    for sign, row, sds, bound in made.rows():
        scale = bound or 1.0
        blocks.append(np.vstack([-sign * row / scale, -np.diag(z * sds / scale)]))
        right += [0.0] * (n + 1)
        cones.append(clarabel.SecondOrderConeT(n + 1))
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = 1e-11
    matrix = sparse.csc_matrix(np.vstack(blocks))
    answer = clarabel.DefaultSolver(
        sparse.csc_matrix((n, n)), made.prices, matrix, np.array(right), cones, settings
    ).solve()
    if "Infeasible" in str(answer.status):
        return None
    assert "Solved" in str(answer.status), answer.status
    return float(made.prices @ np.array(answer.x))


@pytest.mark.slow
def test_two_hundred_random_books_cost_what_a_cone_solver_finds(random_book, library, few):
    met, seeds = 0, few(range(200), 20)
    for seed in seeds:
        made = random_book(seed)
        confidence = (60.0, 75.0, 90.0, 97.0)[seed % 4]
        (ration,) = formulate(Farm(made.at(confidence_pct=confidence), library))
        expected = cone_cost(made, confidence)
        if expected is None:
            assert ration.status == "nearest", seed
            continue
        met += 1
        cost = ration.cost_per_tonne if ration.objective == "per_tonne" else ration.cost_per_gcal
        assert ration.status == "optimal", seed
        assert cost == pytest.approx(expected, rel=1e-6), seed
        assert min(line.probability for line in ration.requirements) >= confidence / 100 - 1e-6, seed
    assert met > 0.6 * len(seeds)


@pytest.mark.slow
def test_the_stated_chances_are_those_of_random_draws(demo_book, library):
    """100,000 draws of every figure of bin and feeds: each requirement is met as often as stated."""
    from dataclasses import replace

    book = replace(demo_book, farm=replace(demo_book.farm, confidence_pct=80.0))
    (made,) = solve_rations(Farm(book, library), ["hen_peak"], ["north"])
    ration, formula = made.ration, made.formula
    draws, rng = 100_000, np.random.default_rng(20251125)
    stage = formula.stage
    shares = {line.offer: line.share for line in ration.mix}
    used = [c for c in formula.candidates if shares[c.name] > 1e-7]
    checked = 0
    for line in ration.requirements:
        needs = [need for need in stage.needs if need.nutrient == line.nutrient]
        needs = [need for need in needs if not need.of_groups and not need.usual]
        if not needs or line.met_by == "premix" or "added" in line.basis or line.kind == "usual":
            continue
        amounts, energy = np.zeros(draws), np.zeros(draws)
        for c in used:
            pair = (line.nutrient, stage.energy)
            covariance = np.array([[c.spread.covariance_of(a, b) for b in pair] for a in pair])
            mean = [c.values.get(n, 0.0) for n in pair]  # a feed without a figure counts nothing in a maximum
            drawn = rng.multivariate_normal(mean, covariance, draws, check_valid="raise", tol=1e-6)
            amounts += shares[c.name] * drawn[:, 0]
            energy += shares[c.name] * drawn[:, 1]
        holds = np.ones(draws, bool)
        for need in needs:
            weight = energy / need.reference_energy if need.reference_energy else 1.0
            if line.nutrient == stage.energy:
                weight = 1.0
            if need.minimum is not None:
                holds &= amounts >= need.minimum * weight
            if need.maximum is not None:
                holds &= amounts <= need.maximum * weight
        error = sqrt(max(line.probability * (1 - line.probability), 1e-4) / draws)
        assert holds.mean() == pytest.approx(line.probability, abs=4.5 * error), line.nutrient
        checked += 1
    assert checked > 20
    assert ration.confidence.attained_pct == 80
    binding = [line for line in ration.requirements if line.binding and line.met_by == "ration"]
    assert min(line.probability for line in binding) == pytest.approx(0.80, abs=1e-4)


def test_energy_and_amino_acids_of_a_bin_and_of_bought_meal_move_together(demo_book, library):
    """Not independent: a lot rich in protein is rich in lysine."""
    bin_ = bin_candidate(estimate_bin("north", demo_book, library), demo_book)
    meal = next(c for c in offer_candidates(demo_book, library) if c.name == "soy_pressed")
    for candidate in (bin_, meal):
        spread = candidate.spread
        together = spread.covariance_of("crude_protein", "lysine")
        apart = sqrt(spread.covariance_of("crude_protein", "crude_protein") * spread.covariance_of("lysine", "lysine"))
        assert 0.1 < together / apart < 1


@pytest.mark.slow
def test_the_confidence_says_what_it_costs_and_the_plain_margin_is_dearer(demo_book, library, capsys):
    from dataclasses import replace

    averages = {(r.stage, r.bin): r for r in formulate(Farm(demo_book, library))}
    book = replace(demo_book, farm=replace(demo_book.farm, confidence_pct=90.0))
    rations = formulate(Farm(book, library), ["sw_gro_25_50", "hen_peak"])
    for ration in rations:
        told, plain = ration.confidence, averages[ration.stage, ration.bin]
        own = (lambda r: r.cost_per_tonne if r.objective == "per_tonne" else r.cost_per_gcal)(plain)
        assert told.cost_of_averages == pytest.approx(own, rel=1e-9)
        assert told.cost > told.cost_of_averages
        assert told.cost_of_fixed_margins is None or told.cost_of_fixed_margins > told.cost
        assert plain.confidence is None
        assert all(line.probability is not None for line in plain.requirements if line.met_by == "ration")
    print_rations(rations, Farm(book, library))
    text = " ".join(capsys.readouterr().out.split())
    assert "more than plain averages (50 %)" in text
    assert "conventional safety margin on every feed" in text


def test_needs_that_bite_at_once_carry_a_higher_chance(demo_book, library):
    """The library says which: salt, and calcium for birds that do not lay."""
    from dataclasses import replace

    asked = {(row.nutrient, row.probability_pct) for row in library.ceilings if row.probability_pct}
    assert asked == {("sodium", 95), ("chloride", 95), ("calcium", 95), ("selenium", 95)}
    assert all("95 %: bites at once" in row.note for row in library.ceilings if row.probability_pct)
    book = replace(demo_book, farm=replace(demo_book.farm, confidence_pct=70.0))
    made = solve_rations(Farm(book, library), ["layer_chick_0_6_brown", "hen_peak", "sw_gro_25_50"], ["north"])
    for one in made:
        needs = {need.nutrient: need for need in one.formula.stage.needs if need.probability_pct}
        assert {"sodium", "chloride"} <= set(needs)
        assert ("calcium" in needs) == (one.ration.stage == "layer_chick_0_6_brown")
        for line in one.ration.requirements:
            if line.nutrient in needs and line.maximum is not None:
                high = needs[line.nutrient].maximum
                shares = {m.offer: m.share for m in one.ration.mix}
                pair = (line.nutrient, line.nutrient)
                sd = sqrt(sum(shares[c.name] ** 2 * c.spread.covariance_of(*pair) for c in one.formula.candidates))
                assert NormalDist(line.gives, sd).cdf(high) >= 0.95 - 1e-6, line.nutrient


def test_a_confidence_out_of_reach_is_said_and_the_best_there_is_given(remake, library):
    """Two feeds with 8 and 12 of a nutrient of which 11 is the least; the better one has sd 1: at best 84 %."""
    made = remake(
        np.array([[8.0, 3000.0], [12.0, 3000.0]]),
        np.array([[0.1, 0.0], [1.0, 0.0]]),
        [100, 200],
        [(0, 11.0, None, "kg"), (1, 2900.0, None, "kg")],
        confidence_pct=95.0,
    )
    (ration,) = formulate(Farm(made.book, library))
    assert ration.status == "nearest"
    assert ration.confidence.attained_pct == pytest.approx(100 * NormalDist().cdf(1.0), abs=0.01)
    assert any("95 % confidence" in finding and "84.1 %" in finding for finding in ration.findings)


def test_a_confidence_missed_by_rounding_is_reached(remake, library):
    """The same at the best that can be had and a hair above, as a bound that was moved just so far leaves it: it was
    asked about because 60 % was not reached, only 60.0 %."""
    made = remake(
        np.array([[8.0, 3000.0], [12.0, 3000.0]]),
        np.array([[0.1, 0.0], [1.0, 0.0]]),
        [100, 200],
        [(0, 11.0, None, "kg"), (1, 2900.0, None, "kg")],
        confidence_pct=100 * NormalDist().cdf(1.0) + 3e-7,
    )
    (ration,) = formulate(Farm(made.book, library))
    assert ration.status == "optimal"
    assert ration.confidence.attained_pct == made.book.farm.confidence_pct


def test_which_chances_a_mix_misses_is_seen_for_all_rows_at_once(demo_book, library):
    """The cuts of all rows in one product are those of each row by itself: the tangent at the mix of what it has to
    spare less z standard deviations (J. E. Kelley 1960)."""
    (made,) = solve_rations(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    formula = made.formula
    chances = chance_rows(formula.program, formula.sources, formula.candidates, formula.stage.energy, 90)
    count = len(formula.candidates)
    for amounts in (made.answer.amounts, (1 / count,) * count):
        alone = [cut for chance in chances if (cut := _tangent(formula.program, chance, amounts))]
        cuts = Demanding(formula.program, chances).cuts(amounts)
        assert alone
        assert [cut.key.split(" at confidence ")[0] for cut in cuts] == [key for key, _ in alone]
        for cut, (_, coefficients) in zip(cuts, alone, strict=True):
            assert cut.coefficients == pytest.approx(coefficients, rel=1e-12, abs=1e-12)


def _tangent(program, chance, amounts):
    """The key and the coefficients of the row that cuts the amounts off; None where they keep the chance."""
    row, z = program.rows[chance.index], margin_multiplier(chance.probability)
    sign = {">=": 1, "<=": -1}[row.sense]
    sd = sqrt(sum(v * x * x for v, x in zip(chance.variances, amounts, strict=True)))
    spare = sign * sum(a * x for a, x in zip(row.coefficients, amounts, strict=True)) - z * sd
    if not sd or spare >= -TOLERANCE * sum(amounts):
        return None
    terms = zip(row.coefficients, chance.variances, amounts, strict=True)
    return row.key, [a - sign * z * v * x / sd for a, v, x in terms]
