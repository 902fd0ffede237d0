"""Numbers as people read and type them, and the order every machine puts them in."""

from __future__ import annotations

from rationlp.numbers import as_typed, largest_first


def test_what_differs_by_rounding_alone_stays_in_its_order():
    """Two crystals at the least share the scales can weigh: 1/2500 as two solvers read it."""
    shares = {"methionine": 0.0004, "choline": 0.0004 + 4e-17, "north": 0.88, "salt": 0.0021}
    ordered = sorted(shares, key=lambda name: largest_first(shares[name]))
    assert ordered == ["north", "salt", "methionine", "choline"]


def test_a_number_to_type_has_no_exponent_and_nothing_between_thousands():
    told = [as_typed(value) for value in (1070.0, 12_345_678.0, 0.00001, 2.5, 0.0)]
    assert told == ["1070", "12345678", "0.00001", "2.5", "0"]
