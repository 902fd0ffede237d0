"""Sweeps against independent cold solves at every step, and breakpoints against what lies on both sides of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rationlp.errors import InputError, SolverError
from rationlp.farm import Farm
from rationlp.offers.live_ration import live_rations
from rationlp.offers.model import Sweep
from rationlp.offers.priced_program import PricedProgram
from rationlp.offers.sweep import Ask, asks, path, sweeps
from rationlp.rations.program.only_here import bare
from rationlp.rations.solve.optimum import solve_at
from rationlp.rations.solve.settle import settle
from rationlp.show.text.sweep import undecided_words


def at_price(program, column, price, other=None):
    costs = list(program.costs)
    costs[column] = price
    if other:
        costs[other[0]] = other[1]
    return replace(program, costs=tuple(costs))


def ration_at(case, column, price, other=None):
    """The ration itself at another price, crystals and scales settled, as `ration --price` makes it."""
    formula = bare(case.formula)
    return settle(replace(formula, program=at_price(formula.program, column, price, other)), 50.0).solution


@pytest.mark.slow
@pytest.mark.parametrize("objective", ["per_tonne", "per_energy"])
@pytest.mark.parametrize("offer", ["soy48_bulk", "corn_bought", "monocal", "north"])
def test_every_step_costs_what_the_ration_at_that_price_costs(objective, offer, demo_book, library):
    book = replace(demo_book, farm=replace(demo_book.farm, objective=objective))
    made = live_rations(Farm(book, library), ["sw_gro_25_50", "hen_brown_110", "turkey_8_12"], ["north"])
    today = {o.offer: o.price_per_tonne for o in book.supplements} | {"north": 182.0}
    for case, sweep in zip(made, sweeps(made, [Ask(offer, 0.3 * today[offer], 2.5 * today[offer], 9)]), strict=True):
        column = case.index(offer)
        for point in sweep.points:
            cold = ration_at(case, column, point.price)
            unit = point.cost_per_tonne if objective == "per_tonne" else point.cost_per_gcal
            assert unit == pytest.approx(cold.objective, rel=1e-7), (case.ration.stage, point.price)
            assert point.share == pytest.approx(sweep.pieces[point.piece].share)


@pytest.mark.slow
def test_the_mix_changes_at_a_breakpoint_and_nowhere_else(demo_book, library):
    made = live_rations(Farm(demo_book, library), ["sw_gro_25_50", "hen_brown_110"], ["north"])
    for case, sweep in zip(made, sweeps(made, [Ask("soy48_bulk", 100.0, 900.0, 3)]), strict=True):
        column = case.index("soy48_bulk")
        assert len(sweep.breakpoints) >= 3
        assert list(sweep.breakpoints) == sorted(sweep.breakpoints)
        shares = [piece.share for piece in sweep.pieces]
        assert shares == sorted(shares, reverse=True)  # a dearer offer is never used more
        for piece in sweep.pieces:
            for price in np.linspace(piece.price_from, piece.price_to, 5)[1:-1]:
                cold = ration_at(case, column, float(price))
                assert cold.amounts[column] / sum(cold.amounts) == pytest.approx(piece.share, abs=1e-8)
            part = (price - piece.price_from) / (piece.price_to - piece.price_from)
            level = piece.cost_from + part * (piece.cost_to - piece.cost_from)
            assert level == pytest.approx(cold.objective, rel=1e-9)


def test_ten_thousand_prices_are_proved_on_one_solver_object(demo_book, library, monkeypatch):
    (case,) = live_rations(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    solves = []
    plain = PricedProgram.solve

    def counted(self, *arguments, **named):
        solves.append(1)
        return plain(self, *arguments, **named)

    monkeypatch.setattr(PricedProgram, "solve", counted)
    along = path(case.priced, case.index("soy48_bulk"), np.linspace(200, 700, 10_000))
    assert len(solves) < 60
    assert len(along.costs) == 10_000
    assert (np.diff(along.costs) >= -1e-9).all()
    slopes = np.diff(along.costs)
    assert (np.diff(slopes) <= 1e-9).all()  # concave


def test_a_wrong_answer_of_the_solver_is_not_shown(demo_book, library, monkeypatch):
    """The mix of one price handed out for every price: the check of the steps notices."""
    (case,) = live_rations(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    cheap = case.priced.best(case.priced.costs)
    monkeypatch.setattr(PricedProgram, "best", lambda self, costs: cheap)
    with pytest.raises(SolverError, match="did not stand up"):
        path(case.priced, case.index("soy48_bulk"), np.linspace(100, 700, 50))


def test_a_basis_that_is_not_feasible_is_not_shown(demo_book, library, monkeypatch):
    from rationlp.rations.program.program import Basis
    from rationlp.rations.solve.solver import LiveProgram

    (case,) = live_rations(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    good = case.priced._live.basis()
    places = [place for place in range(len(case.formula.program.columns)) if place not in good.columns]
    bad = Basis((*good.columns[1:], places[0]), good.rows)
    monkeypatch.setattr(LiveProgram, "run_for_basis", lambda self, anew=False: ("optimal", bad))
    with pytest.raises(SolverError):
        case.priced.solve(case.priced.costs * 1.01)


def test_a_grid_is_a_sweep_for_every_price_of_the_other(demo_book, library):
    made = live_rations(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    rows = sweeps(made, [Ask("soy48_bulk", 300, 500, 6), Ask("peas_neighbour", 160, 240, 5)])
    assert [row.other_price for row in rows] == [160, 180, 200, 220, 240]
    (case,) = made
    columns = case.index("soy48_bulk"), case.index("peas_neighbour")
    for row in rows:
        for point in row.points:
            cold = ration_at(case, columns[0], point.price, (columns[1], row.other_price))
            assert point.cost_per_gcal == pytest.approx(cold.objective, rel=1e-7)


@pytest.mark.slow
def test_a_sweep_at_a_confidence(demo_book, library):
    book = replace(demo_book, farm=replace(demo_book.farm, confidence_pct=75.0))
    (case,) = made = live_rations(Farm(book, library), ["sw_boar"], ["north"])
    (sweep,) = sweeps(made, [Ask("bran", 100, 260, 9)])
    for point in sweep.points:
        program = at_price(case.formula.program, case.index("bran"), point.price)
        _, cold = solve_at(case.formula, program, 75.0)
        assert sweep.objective == "per_energy"
        assert point.cost_per_gcal == pytest.approx(cold.objective, rel=3e-5)


@pytest.mark.parametrize(("settings", "told"), [({}, 0), ({"confidence_pct": 75.0}, 1), ({"confidence_of": "all"}, 1)])
def test_what_a_sweep_does_not_decide_anew_is_said_where_it_is_shown(demo_book, settings, told):
    book = replace(demo_book, farm=replace(demo_book.farm, **settings))
    sweep = Sweep("sw_boar", "north", "bran", "per_energy", (), (), ())
    assert len(list(undecided_words([sweep], book))) == told and not list(undecided_words([], book))


def test_cuts_are_dropped_and_rows_lifted_without_a_trace(demo_book, library):
    book = replace(demo_book, farm=replace(demo_book.farm, confidence_pct=75.0))
    (case,) = live_rations(Farm(book, library), ["sw_boar"], ["north"])
    bench, first = case.priced, case.priced.solve(case.priced.costs)
    for column in range(len(bench.costs)):
        bench.solve(bench.costs * np.where(np.arange(len(bench.costs)) == column, 3.0, 1.0))
        bench.solve(bench.costs, out=[column])
    assert len(bench.rows.keys) < len(case.formula.program.rows) + 200
    again = bench.solve(bench.costs)
    assert again.value(bench.costs) == pytest.approx(first.value(bench.costs), rel=1e-6)


def test_what_a_sweep_is_asked_with(demo_book):
    (plain,) = asks(["soy48_bulk:300:500:11"], demo_book)
    assert (plain.offer, plain.low, plain.high, plain.steps) == ("soy48_bulk", 300, 500, 11)
    assert plain.prices[[0, 5, 10]] == pytest.approx([300, 400, 500])
    (bag,) = asks(["soy48_bags:8:14:7:25kg"], demo_book)
    assert (bag.low, bag.high) == pytest.approx((320, 560))
    (one,) = asks(["north:180:180:1"], demo_book)
    assert list(one.prices) == [180]


@pytest.mark.parametrize(
    "texts",
    [
        ["soy:300:500:11"],
        ["soy48_bulk:300:500"],
        ["soy48_bulk:500:300:11"],
        ["soy48_bulk:300:500:0"],
        ["soy48_bulk:300:500:1"],
        ["soy48_bulk:a:500:11"],
        ["soy48_bulk:300:inf:11"],
        ["soy48_bulk:-5:500:11"],
        ["soy48_bulk:300:500:11:acre"],
        ["soy48_bulk:300:500:11", "soy48_bulk:300:500:11"],
        ["soy48_bulk:300:500:11", "bran:1:2:3", "corn_bought:1:2:3"],
        ["soy48_bulk:300:500:99999999"],
    ],
)
def test_a_sweep_that_cannot_be_read_is_refused(texts, demo_book):
    with pytest.raises(InputError) as refused:
        asks(texts, demo_book)
    assert all(problem.sheet == "sweep" for problem in refused.value.problems)
