"""Masses as a scale shows them: exact fractions in the book's own unit, never binary crumbs of a kilogram."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import floor, gcd, lcm, log10

from rationlp.book.records import Settings
from rationlp.units import BOOK_MASS_UNIT, MASS_KG

PLACES = 10  # decimals of the book's unit that a typed mass can have: a pound in kilograms has eight
SAME = Fraction(1, 10**6)  # of a step: what is nearer to a whole number of steps is one
FINEST = 1000
"""The mass that both scales' steps are multiples of is not less than this part of the finer one: 10 g and a pound have
none worth the name."""
ROUND_STEPS = (1, 2, 5, 10)


@dataclass(frozen=True, slots=True)
class Scale:
    """The two scales of a farm; every mass in `unit`.

    `step` is what the mixer scale shows at least, `hand_step` the hand scale; whatever is lighter than `hand_below`
    goes over the hand scale. Without a hand scale (`hand_below` is 0) both steps are the same.
    """

    unit: str
    step: Fraction
    hand_step: Fraction
    hand_below: Fraction

    @property
    def kg(self) -> float:
        """Kilograms in one unit."""
        return MASS_KG[self.unit]


def farm_scale(farm: Settings) -> Scale:
    """The scales that the settings of the book describe.

    A mixer step that is a whole number of hand steps in some unit (pounds in a metric book) is exactly that here. A
    hand scale in grams beside a mixer scale in pounds counts as one with the division that scales have in pounds: 0.02
    lb for 10 g.
    """
    unit = BOOK_MASS_UNIT[farm.units]
    step, hand_below = exact(farm.scale_step_kg, unit), exact(farm.hand_weigh_below_kg, unit)
    if not hand_below:
        return Scale(unit, step, step, hand_below)
    hand_step = exact(farm.hand_scale_step_kg, unit)
    step = snapped(step, hand_step)
    if quantum(step, hand_step) * FINEST < min(step, hand_step):
        step, hand_step = round_step(step), round_step(hand_step)
    return Scale(unit, step, hand_step, hand_below)


def round_step(step: Fraction) -> Fraction:
    """The division nearest to `step` of those that scales have: 1, 2 or 5 of a power of ten."""
    power = Fraction(10) ** floor(log10(step))
    return min((power * figure for figure in ROUND_STEPS), key=lambda each: abs(each - step))


def exact(mass_kg: float, unit: str) -> Fraction:
    """A mass in kilograms as the decimal number somebody typed in `unit`."""
    return Fraction(f"{mass_kg / MASS_KG[unit]:.{PLACES}f}")


def snapped(mass: Fraction, step: Fraction) -> Fraction:
    """`mass`, or the whole number of steps that it is meant to be."""
    count = round(mass / step)
    return count * step if count and abs(mass / step - count) < SAME else mass


def down_to(mass: Fraction, step: Fraction) -> Fraction:
    """The largest whole number of steps that is not above `mass`."""
    return snapped(mass, step) // step * step


def up_to(mass: Fraction, step: Fraction) -> Fraction:
    """The smallest whole number of steps that is not below `mass`."""
    return -(-snapped(mass, step) // step) * step


def nearest_to(mass: Fraction, step: Fraction) -> Fraction:
    """The nearest whole number of steps, halves up: what a scale shows, and what ROUND does in a spreadsheet."""
    return (mass / step + Fraction(1, 2)) // 1 * step


def quantum(*masses: Fraction) -> Fraction:
    """The largest mass that all of `masses` are whole multiples of."""
    common = lcm(*(mass.denominator for mass in masses))
    return Fraction(gcd(*(int(mass * common) for mass in masses)), common)


def common_multiple(*masses: Fraction) -> Fraction:
    """The smallest mass that is a whole multiple of each of `masses`."""
    common = lcm(*(mass.denominator for mass in masses))
    return Fraction(lcm(*(int(mass * common) for mass in masses)), common)


def places(step: Fraction) -> int:
    """Decimals that show every multiple of `step`, at most four."""
    return next((n for n in range(4) if (step * 10**n).denominator == 1), 4)


def shown(mass: Fraction | float, step: Fraction, unit: str = "") -> str:
    """A mass with the decimals of the scale it is weighed on."""
    return f"{float(mass):,.{places(step)}f} {unit}".rstrip()
