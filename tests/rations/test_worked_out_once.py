"""What many rations share is worked out once: tables, caps of a stage, feeds not on offer, programs in the solver."""

from __future__ import annotations

import weakref
from itertools import pairwise
from math import inf

import numpy as np
import pytest

from rationlp.farm import Farm
from rationlp.library import load_library
from rationlp.library.records import Price
from rationlp.rations import formulate
from rationlp.rations.formulate import solve_rations
from rationlp.rations.solve import solver
from rationlp.rations.solve.checked import run_settled
from rationlp.rations.studies import missing_offer as studies
from rationlp.rations.studies.missing_offer import GRAINS, missing_offer
from rationlp.stages import limits

STAGE = ["sw_gro_25_50"]


@pytest.fixture
def calls(monkeypatch):
    """How often something was called, by its name, while it still does its work."""
    found: dict[str, int] = {}

    def count(module, name):
        real = getattr(module, name)

        def counted(*told, **named):
            found[name] = found.get(name, 0) + 1
            return real(*told, **named)

        monkeypatch.setattr(module, name, counted)

    count(limits, "rows_that_cap")
    count(solver, "_built_and_solved")
    return found


def test_a_table_is_read_once():
    library = load_library()
    assert library.table("prices", Price) is library.table("prices", Price)


@pytest.mark.slow
def test_the_caps_of_a_stage_are_worked_out_once_for_both_bins(demo_book, calls):
    library = load_library()
    assert len(solve_rations(Farm(demo_book, library), STAGE)) == 2
    assert calls["rows_that_cap"] == 1


def caps_of(farm):
    fed = [*farm.candidates, farm.bin_candidate("north")]
    return limits.caps_of(farm.stage("hen_peak"), fed, farm.book, farm.library)


@pytest.mark.slow
def test_farms_that_say_other_things_have_caps_of_their_own(demo_book):
    farm = Farm(demo_book, load_library())
    plain = caps_of(farm)
    for name, value in (("enzyme", "yes"), ("varieties", "faba_beans:low_vicine"), ("certification", "us_organic")):
        other = farm.with_setting(name, value)
        assert caps_of(other) == caps_of(Farm(other.book, load_library())) != plain, name
    assert caps_of(farm) == plain


def test_a_plain_ration_is_put_into_the_solver_once(demo_book, calls):
    solve_rations(Farm(demo_book, load_library()), STAGE, ["north"])
    assert calls["_built_and_solved"] == 1


def test_the_grain_of_a_bin_is_made_once_while_its_price_stays(demo_book):
    """Each had the covariance of its bin: half of the memory of a ration."""
    farm = Farm(demo_book, load_library())
    grain = farm.bin_candidate("north")
    assert farm.bin_candidate("north") is grain is farm.with_price("soy48_bulk", 500).bin_candidate("north")
    dearer = farm.with_price("north", 222)
    assert dearer.bin_candidate("north").price_per_tonne == pytest.approx(222)  # the book's unit is a tonne
    assert farm.bin_candidate("north").price_per_tonne == grain.price_per_tonne != pytest.approx(222)


@pytest.mark.slow
def test_a_bound_that_is_the_same_for_every_feed_is_one_number(demo_book):
    (made,) = solve_rations(Farm(demo_book, load_library()), ["sw_boar"], ["north"])
    rows = made.formula.program.rows
    caps, alike = ([row for row in rows if row.key.startswith("limit:")], [r for r in rows if len(set(r.sizes)) == 1])
    assert len(alike) > len(rows) / 2 and all(len(set(map(id, row.sizes))) == 1 for row in alike)
    assert all(len(set(map(id, row.coefficients))) < len(row.coefficients) / 2 for row in caps)


@pytest.mark.slow
def test_no_more_than_two_programs_are_held_where_nobody_asks_for_them(demo_book, monkeypatch):
    """`rationlp many` has no more of a farm in memory than its rations."""
    farm, stages, real = Farm(demo_book, load_library()), ["sw_boar", "hen_brown_110"], formulate.solve_ration
    expected = [made.ration for made in solve_rations(farm, stages)]
    held = weakref.WeakSet()

    class Held:
        def __init__(self, *told):
            assert len(held) < 2
            held.add(self)
            self.ration = real(*told).ration

    monkeypatch.setattr(formulate, "solve_ration", Held)
    assert formulate.formulate(farm, stages) == expected


def test_a_feed_that_nobody_offers_is_made_once_whatever_the_prices(demo_book):
    farm = Farm(demo_book, load_library())
    feed = farm.as_if_offered("rye")
    assert farm.with_price("soy48_bulk", 500).as_if_offered("rye") is feed
    assert feed.price_per_tonne == 0.0 and not feed.home_grown


@pytest.mark.slow
def test_only_feeds_that_have_a_price_are_made_to_look_for_the_missing_offer(demo_book, monkeypatch):
    farm, made = Farm(demo_book, load_library()), []
    (ration,) = solve_rations(farm, ["sw_nur_11_25"], ["north"])
    real = farm.as_if_offered
    monkeypatch.setattr(farm, "as_if_offered", lambda feed: made.append(feed) or real(feed))
    missing_offer(ration.formula, ration.answer, farm)
    priced = {row.feed for row in farm.library.table("prices", Price)} | set(GRAINS)
    assert set(made) <= priced < set(farm.library.feeds)
    assert made


@pytest.mark.slow
@pytest.mark.parametrize("stage", ["sw_nur_11_25", "hen_peak", "turkey_8_12"])
def test_the_best_missing_offer_is_found_without_trying_all(demo_book, monkeypatch, stage):
    """Feeds come in the order of what the ration costs with each, and none before it is solved for: as when all are."""
    farm, tried = Farm(demo_book, load_library()), []
    (ration,) = solve_rations(farm, [stage], ["south"])
    monkeypatch.setattr(studies, "run_settled", lambda live: tried.append(live) or run_settled(live))
    extras = studies._priced(ration.formula, farm)
    best = next(studies._cheapest_first(ration.formula, extras, farm))
    few = len(tried)
    monkeypatch.setattr(studies, "_least_cost", lambda *asked: -inf)
    every = list(studies._cheapest_first(ration.formula, extras, farm))
    assert [cost for _, cost in every] == sorted(cost for _, cost in every)
    assert best == (every[0][0], pytest.approx(every[0][1], rel=1e-9))
    assert few < len(tried) - few == len(every) + 1


def test_the_solver_has_every_row_as_it_stands(demo_book):
    """Rows go to HiGHS as one matrix: bounds, order and every coefficient are those of the program."""
    (made,) = solve_rations(Farm(demo_book, load_library()), STAGE, ["north"])
    program = made.formula.program
    model = solver.LiveProgram(program)._highs.getLp()
    bounds = {">=": (0.0, inf), "<=": (-inf, 0.0), "=": (0.0, 0.0)}
    assert list(zip(model.row_lower_, model.row_upper_, strict=True)) == [
        *(bounds[row.sense] for row in program.rows),
        (1.0, 1.0),
    ]
    held = np.zeros((len(program.rows) + 1, len(program.columns)))
    matrix = model.a_matrix_  # column by column
    for column, (first, end) in enumerate(pairwise(matrix.start_)):
        held[matrix.index_[first:end], column] = matrix.value_[first:end]
    assert held.tolist() == [*(list(row.coefficients) for row in program.rows), list(program.normalizer)]
    assert list(model.col_cost_) == list(program.costs)
