"""Corners worked out from a basis, and when their prices prove them the cheapest."""

from __future__ import annotations

import numpy as np

from rationlp.offers.vertex import Rows, corner
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
