"""Corners worked out from a basis, and when their prices prove them the cheapest."""

from __future__ import annotations

import numpy as np

from rationlp.farm import Farm
from rationlp.offers.live_ration import live_rations
from rationlp.offers.vertex import Rows, corner, next_corner
from rationlp.offers.worth import worth_of
from rationlp.rations.program.program import Basis, ProgramRow

BOTH_IN = Basis(columns=(0, 1), rows=(0,), normalized=True)


def test_a_row_that_is_lifted_has_no_price() -> None:
    """Two feeds, as much of the first as of the second at least: with the row half and half is cheapest while the
    first is dearer; without it that is so only at one price of both (worked by hand)."""
    rows, ones = Rows([ProgramRow("first", (1.0, -1.0), ">=")], 2), np.ones(2)
    standing, lifted = corner(rows, ones, BOTH_IN), corner(rows, ones, BOTH_IN, lifted=[0])
    prices = np.array([[1.0, 1.0], [2.0, 1.0]])
    assert standing.proves(prices).tolist() == [True, True]
    assert lifted.proves(prices).tolist() == [True, False]
    assert lifted.amounts.tolist() == [0.5, 0.5]


def test_the_corner_beside_is_the_one_that_takes_over() -> None:
    """Of three feeds, at 1, 2 and 1.5, the first is cheapest; at most half may be the third (worked by hand).

    As the third falls below 1 it takes its half, and as the first rises past 1.5.
    """
    rows, ones = Rows([ProgramRow("at most half of the third", (1.0, 1.0, -1.0), ">=")], 3), np.ones(3)
    first = corner(rows, ones, Basis(columns=(0,), rows=(), normalized=True))
    costs = np.array([1.0, 2.0, 1.5])
    falling = next_corner(first, rows, costs, column=2, sign=1.0)
    rising = next_corner(first, rows, costs, column=0, sign=-1.0)
    assert falling is not None and rising is not None
    assert falling.amounts.tolist() == [0.5, 0.0, 0.5]
    assert rising.amounts.tolist() == [0.5, 0.0, 0.5]
    assert next_corner(first, rows, costs, column=0, sign=1.0) is None  # cheaper, it stays alone
    assert falling.proves(np.array([[1.0, 2.0, 1.0], [1.0, 2.0, 0.5], [1.0, 2.0, 1.1]])).tolist() == [True, True, False]


def test_the_price_at_which_an_offer_comes_in_asks_the_solver_hardly_ever(demo_book, library, monkeypatch):
    """It was asked two or three times for each offer; what takes over stands beside today's mix."""
    (case,) = live_rations(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    asked, solve = [], case.live.solve
    monkeypatch.setattr(case.live, "solve", lambda *told, **more: asked.append(told) or solve(*told, **more))
    idle = [place for place, share in enumerate(case.shares) if share == 0]
    worths = [worth_of(case, place) for place in idle]
    assert len(worths) > 10 and all(worth.enters_below is not None for worth in worths)
    assert len(asked) < len(worths) / 4
