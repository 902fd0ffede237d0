"""Ranges of price against the definition: solve again just inside and just outside, from cold or by another solver."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog

from rationlp.farm import Farm
from rationlp.offers import ties
from rationlp.offers.live_ration import SAME_COST, live_rations
from rationlp.offers.priced_program import PricedProgram
from rationlp.offers.ties import equal_mixes, steadiest
from rationlp.offers.worth import offer_worths, what_if, worth_of
from rationlp.rations.formulate import formulate
from rationlp.rations.solve.optimum import solve_at
from rationlp.rations.solve.solver import LiveProgram, solve

BOOKS = range(1000)
FEW_BOOKS = 20
COLD = 40  # every so many books are also solved by another solver


class Price:
    """The least cost of a program at a price of one column: in place, in an object of its own."""

    def __init__(self, program):
        self.program, self.live = program, LiveProgram(program)

    def cost(self, column, price):
        costs = list(self.program.costs)
        costs[column] = price
        self.live.set_costs(costs)
        if self.live.run().status != "optimal":  # a jump of prices may leave the solver where it cannot go on
            self.live = LiveProgram(self.live.program)
        assert self.live.solution.status == "optimal"
        return self.live.solution.objective

    def amounts(self, column, price):
        self.cost(column, price)
        return np.array(self.live.solution.amounts)


def other_solver(program, column, price):
    """The same by scipy, written out as inequalities."""
    costs = np.array(program.costs)
    costs[column] = price
    upper = [np.array(row.coefficients) * (1 if row.sense == "<=" else -1) for row in program.rows if row.sense != "="]
    equal = [np.array(row.coefficients) for row in program.rows if row.sense == "="] + [np.array(program.normalizer)]
    right = [0.0] * (len(equal) - 1) + [1.0]
    found = linprog(
        costs,
        upper or None,
        [0.0] * len(upper) or None,
        equal,
        right,
        method="highs-ds",
        options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10},
    )
    assert found.status == 0
    return found.fun


@pytest.mark.slow
def test_ranges_of_a_thousand_random_books_hold_just_inside_and_end_just_outside(random_book, case_of_book, few):
    """Inside, today's mix is the cheapest; outside, something is cheaper; below `enters_below` the offer is in."""
    ends = made = 0
    books = few(BOOKS, FEW_BOOKS)
    for seed in books:
        case = case_of_book(random_book(seed))
        if case.priced is None:
            continue
        made += 1
        program, at = case.formula.program, Price(case.formula.program)
        for j, line in enumerate(offer_worths(case)):

            def gap(price, case=case, at=at, j=j):
                """What today's mix costs more than the best at a price of this offer."""
                held = case.value + (price - case.priced.costs[j]) * case.held[j]
                best = at.cost(j, price)
                return (held - best) / max(abs(best), 1.0)

            assert line.mix_stays_from is None or line.mix_stays_from <= line.price + 1e-6
            assert line.mix_stays_to is None or line.mix_stays_to >= line.price - 1e-6
            for end, inward in ((line.mix_stays_from, 1.0), (line.mix_stays_to, -1.0)):
                if end is None:
                    assert gap(line.price - inward * 1e4) < 1e-9, (seed, line.offer)
                    continue
                ends += 1
                step = 1e-3 * max(line.price, abs(end), 1.0)
                inside = end + inward * step
                if inward * (line.price - inside) > 0:
                    assert gap(inside) < 1e-9, (seed, line.offer, "inside")
                assert gap(end - inward * step) > 1e-11, (seed, line.offer, "outside")
            if line.enters_below is not None:
                step = 1e-3 * max(line.price, abs(line.enters_below), 1.0)
                assert at.amounts(j, line.enters_below - step)[j] > 1e-9, (seed, line.offer, "below")
                out = at.cost(j, 1e6)
                assert at.cost(j, line.enters_below + step) == pytest.approx(out, rel=1e-9), (seed, line.offer, "above")
            if seed % COLD == 0:
                assert at.cost(j, line.price) == pytest.approx(other_solver(program, j, line.price), rel=1e-9)
    assert made > 0.9 * len(books)
    assert ends > 5 * len(books)


@pytest.mark.slow
def test_cost_without_is_that_of_a_book_without_the_offer(library, random_book, case_of_book, few):
    for seed in few(range(200), FEW_BOOKS // 2):
        book = random_book(seed)
        case = case_of_book(book)
        if case.priced is None:
            continue
        for line in offer_worths(case):
            if not line.in_mix:
                assert line.cost_without == case.ration.cost_per_tonne
                continue
            rest = replace(book, supplements=tuple(o for o in book.supplements if o.offer != line.offer))
            (ration,) = formulate(Farm(rest, library))
            if ration.status == "optimal":
                assert line.cost_without == pytest.approx(ration.cost_per_tonne, rel=1e-6), seed
                assert line.saves_per_tonne >= -1e-9
                assert not line.indispensable
            else:
                assert line.indispensable
                assert line.cost_without is None
                assert line.enters_below is None


def test_the_published_example_has_its_published_cost_ranges(published, make_book, small_book, case_of_book):
    """lp_sensitivity_ref (source id lpsolve_sensitivity): cost ranges as printed there."""
    example = published["lp_sensitivity_ref"]
    given, expected = example["inputs"], example["expected"]["published"]
    total, count = 200.0, len(example["inputs"]["variables"])
    bounds = {
        f"row_{row['name'].lower()}": (row["rhs"] / total, None) if row["sense"] == ">=" else (None, row["rhs"] / total)
        for row in given["rows"]
    }
    figures = {f"row_{row['name'].lower()}": [*row["coef"], 0.0] for row in given["rows"]}
    book = small_book(
        [*given["cost"], 0.0],
        figures,
        bounds,
        min_share=[*(low / total or None for low, _ in given["bounds"]), None],
        max_share=[*(high / total if high else None for _, high in given["bounds"]), None],
    )
    lines = offer_worths(case_of_book(book))
    for j, name in enumerate(given["variables"]):
        low, high = expected["cost_range"][name]
        assert lines[j].mix_stays_from == pytest.approx(low, abs=2e-6), name
        assert lines[j].mix_stays_to == (None if high is None else pytest.approx(high, abs=2e-6)), name
    two = lines[given["variables"].index("COLTWO")]
    assert two.enters_below == pytest.approx(given["cost"][1] - expected["reduced_cost"]["COLTWO"], abs=2e-6)
    assert count == 4


# Degenerate on purpose ------------------------------------------------------------------------------------------


def test_two_like_offers_of_one_price_are_said_to_be_equal(small_book, case_of_book):
    book = small_book([300, 300, 100], {"protein": [40, 40, 10]}, {"protein": (19.0, None)})
    case = case_of_book(book)
    first, second, _ = offer_worths(case)
    inside, outside = (first, second) if first.in_mix else (second, first)
    assert inside.mix_stays_to == pytest.approx(300)
    assert inside.enters_below == pytest.approx(300)
    assert outside.enters_below == pytest.approx(300)
    assert inside.worth_used == pytest.approx(300)
    equal = equal_mixes(case)
    spans = {name: (low, high) for name, low, _, high in equal.spans}
    assert spans["o0"] == pytest.approx((0.0, 0.3), abs=1e-3)
    assert spans["o1"] == pytest.approx((0.0, 0.3), abs=1e-3)


def test_of_equal_mixes_the_one_nearest_the_last_is_preferred(small_book, case_of_book):
    book = small_book([300, 300, 100], {"protein": [40, 40, 10]}, {"protein": (19.0, None)})
    case = case_of_book(book)
    last = {"o0": 0.1, "o1": 0.2, "o2": 0.7}
    assert steadiest(case, last) == pytest.approx([0.1, 0.2, 0.7], abs=1e-4)
    equal = equal_mixes(case, last, "sheet 1")
    assert dict(equal.nearest) == pytest.approx(last, abs=1e-4)
    assert equal.last_mix == "sheet 1"


def test_a_single_cheapest_mix_is_not_said_to_have_equals(small_book, case_of_book):
    book = small_book([300, 320, 100], {"protein": [40, 40, 10]}, {"protein": (19.0, None)})
    assert equal_mixes(case_of_book(book)) is None


@pytest.mark.parametrize("confidence_pct", [50, 90])
def test_what_no_equal_mix_can_hold_is_not_looked_for(confidence_pct, demo_book, library):
    """Shares left out by the prices of today's answer (weak duality) are as small as the solver finds them."""
    farm = Farm(demo_book, library).with_setting("confidence_pct", str(confidence_pct))
    (case,) = live_rations(farm, ["sw_gro_25_50"], ["north"])
    able = ties.able_to_move(case, SAME_COST)
    others = [index for index in range(len(case.formula.candidates)) if index not in able]
    assert able and others
    priced = PricedProgram(ties.as_cheap(case, SAME_COST), case.live.chances)
    assert max(ties.end(priced, index, -1.0) for index in others) < ties.VISIBLE / 2


def degenerate_program(small_book, case_of_book):
    """Three rows through one corner of a mix of two feeds: the optimal basis is one of several."""
    figures = {"a": [40, 10, 25, 30], "b": [20, 5, 12.5, 14], "c": [4, 1, 2.5, 3.2]}
    bounds = {"a": (19.0, None), "b": (9.5, None), "c": (1.9, None)}
    return case_of_book(small_book([300, 100, 240, 245], figures, bounds))


def test_a_degenerate_corner_has_the_range_of_the_mix_and_not_of_a_basis(small_book, case_of_book):
    """The range of any one basis is that of HiGHS; the true one, by bisection on cold solves, is wider."""
    case = degenerate_program(small_book, case_of_book)
    program = case.formula.program
    for j in range(4):
        line = worth_of(case, j)
        if not line.in_mix:
            continue

        def stays(price, j=j):
            costs = list(program.costs)
            costs[j] = price
            held = case.value + (price - program.costs[j]) * case.held[j]
            return held - solve(replace(program, costs=tuple(costs))).objective < 1e-9

        for end, far in ((line.mix_stays_to, 1e5), (line.mix_stays_from, -1e5)):
            if end is None:
                assert stays(far)
                continue
            low, high = line.price, far
            for _ in range(60):
                middle = (low + high) / 2
                low, high = (middle, high) if stays(middle) else (low, middle)
            assert end == pytest.approx(low, abs=1e-5)


def test_the_basis_at_hand_may_have_a_narrower_range_than_the_mix(random_book, case_of_book):
    """So that the tests above mean something: the answer of book 35 is degenerate, and its basis gives out too soon."""
    case = case_of_book(random_book(35))
    corner = case.priced.solve(case.priced.costs)
    line = worth_of(case, 0)
    prices = np.tile(case.priced.costs, (50, 1))
    prices[:, 0] = np.linspace(line.price, line.mix_stays_to - 0.1, 50)
    assert corner.proves(prices[:1]).all()
    assert not corner.proves(prices).all()


def test_an_offer_that_must_be_in_has_no_end_and_no_substitute(small_book, case_of_book):
    book = small_book(
        [300, 100, 50],
        {"protein": [40, 10, 0]},
        {"protein": (19.0, None)},
        min_share=[None, None, 0.05],
        max_share=[None, None, 0.05],
    )
    fixed = worth_of(case_of_book(book), 2)
    assert fixed.in_mix
    assert (fixed.mix_stays_from, fixed.mix_stays_to) == (None, None)
    assert fixed.share == pytest.approx(0.05)
    only = worth_of(case_of_book(book), 0)
    assert only.indispensable
    assert only.cost_without is None


def test_without_an_offer_its_own_floor_does_not_count(library, small_book, case_of_book):
    book = small_book(
        [300, 100, 280], {"protein": [40, 10, 36]}, {"protein": (19.0, None)}, min_share=[0.1, None, None]
    )
    line = worth_of(case_of_book(book), 0)
    rest = replace(book, supplements=book.supplements[1:])
    (ration,) = formulate(Farm(rest, library))
    assert line.cost_without == pytest.approx(ration.cost_per_tonne)
    assert line.enters_below == pytest.approx((ration.cost_per_tonne - 0.0 - 100 * 0.7) / 0.3, rel=0.05)


# The demo -------------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("objective", ["per_tonne", "per_energy"])
def test_ranges_of_the_demo_by_cold_solves(objective, demo_book, library):
    book = replace(demo_book, farm=replace(demo_book.farm, objective=objective))
    for case in live_rations(Farm(book, library), ["sw_gro_25_50", "hen_brown_110", "sw_boar"], ["north"]):
        program = case.formula.program
        for line in offer_worths(case):
            j = case.index(line.offer)
            for end, outward in ((line.mix_stays_from, -1.0), (line.mix_stays_to, 1.0)):
                if end is None:
                    continue
                step = 1e-2 * line.price
                for price, stays in ((end - outward * step, True), (end + outward * step, False)):
                    costs = list(program.costs)
                    costs[j] = price
                    best = solve(replace(program, costs=tuple(costs))).objective
                    held = case.value + (price - program.costs[j]) * case.held[j]
                    assert (held - best < 1e-11 * best) == stays, (case.ration.stage, line.offer, price)


@pytest.mark.slow
def test_a_mix_at_a_confidence_stays_while_it_costs_the_same(demo_book, library):
    book = replace(demo_book, farm=replace(demo_book.farm, confidence_pct=80.0))
    (case,) = live_rations(Farm(book, library), ["sw_boar"], ["north"])
    assert case.regret == pytest.approx(SAME_COST * case.value)
    for line in (w for w in offer_worths(case) if w.in_mix and w.mix_stays_to is not None):
        j, prices = case.index(line.offer), list(case.formula.program.costs)

        def gap(price, j=j, prices=prices):
            costs = [price if i == j else other for i, other in enumerate(prices)]
            _, best = solve_at(case.formula, replace(case.formula.program, costs=tuple(costs)), 80.0)
            return (case.value + (price - prices[j]) * case.held[j]) / best.objective - 1

        assert gap(line.mix_stays_to) < 2 * SAME_COST
        assert gap(line.mix_stays_to * 1.1) > SAME_COST


@pytest.mark.slow
def test_a_feed_that_nobody_quotes_comes_in_just_below_its_worth(demo_book, library):
    base = live_rations(Farm(demo_book, library), ["sw_gro_25_50", "hen_brown_110"], ["north"])
    for line in what_if("flaxseed", base, Farm(demo_book, library)):
        for price, comes_in in ((line.enters_below * 0.999, True), (line.enters_below * 1.001, False)):
            offer = replace(demo_book.supplements[0], offer="flax", feed="flaxseed", label="", price_per_tonne=price)
            book = replace(demo_book, supplements=(*demo_book.supplements, offer))
            (ration,) = formulate(Farm(book, library), [line.stage], ["north"])
            share = next(part.share for part in ration.mix if part.offer == "flax")
            assert (share > 1e-6) == comes_in, line.stage
            if comes_in:
                assert share == pytest.approx(line.share, abs=0.02)
