"""Masses as exact fractions of the book's unit."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from rationlp.book.records import Settings
from rationlp.sheets.weights.scale import down_to, exact, farm_scale, nearest_to, places, quantum, shown, up_to
from rationlp.units import KG_PER_LB


def test_pounds_stay_round_numbers():
    assert exact(1000 * KG_PER_LB, "lb") == 1000
    assert exact(0.01 * KG_PER_LB, "lb") == Fraction(1, 100)
    assert exact(12.37, "kg") == Fraction(1237, 100)


def test_a_scale_in_pounds_beside_a_metric_book_stays_whole():
    """The step of the mixer scale is a hundred of the hand scale's, to the last digit."""
    scale = farm_scale(replace(Settings(), scale_step_kg=KG_PER_LB, hand_scale_step_kg=KG_PER_LB / 100))
    assert scale.step == 100 * scale.hand_step


def test_steps():
    half = Fraction(1, 2)
    assert down_to(Fraction(74, 100), half) == half
    assert up_to(Fraction(51, 100), half) == 1
    assert nearest_to(Fraction(3, 4), half) == 1, "halves go up, as in a spreadsheet"
    assert down_to(3 * half - Fraction(1, 10**8), half) == 3 * half, "a crumb under a whole step is that step"


@pytest.mark.parametrize(("step", "digits"), [("1", 0), ("0.5", 1), ("0.01", 2), ("0.25", 2), ("0.0625", 4), ("5", 0)])
def test_decimals_show_every_step(step, digits):
    assert places(Fraction(step)) == digits
    assert Fraction(shown(7 * Fraction(step), Fraction(step))) == 7 * Fraction(step)


def test_quantum_divides_everything():
    masses = [Fraction("0.01"), Fraction("22.68"), Fraction("0.5")]
    unit = quantum(*masses)
    assert unit == Fraction(1, 100)
    assert all((mass / unit).denominator == 1 for mass in masses)
