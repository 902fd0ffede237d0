"""The chance that several normal amounts, tied to one another, all keep their bounds.

By the transformation of A. Genz (Numerical computation of multivariate normal probabilities, Journal of Computational
and Graphical Statistics 1, 1992), the rows in the order of G. J. Gibson, C. A. Glasbey and D. A. Elston (1994: the one
least likely to hold first), over the points of a fixed lattice of square roots of primes (R. D. Richtmyer, 1951),
folded as for a smooth periodic function. The same question has the same answer, to the last digit.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import erfc, exp, pi, sqrt
from operator import mul
from statistics import NormalDist

import numpy as np

POINTS = 512
_REACH, _STEPS = 8.25, 6_601
_GRID = np.linspace(-_REACH, _REACH, _STEPS)
_CDF = np.array([*map(NormalDist().cdf, _GRID.tolist())])
FREE = 1e-7  # of a variance of one: a row with less of its own is tied to those before it
CERTAIN = 5.0  # standard deviations of slack from which on a row is not looked at: 3 in ten million are missed


def cdf(x: np.ndarray) -> np.ndarray:
    """The normal distribution function, within 2e-7."""
    return np.asarray(np.interp(x, _GRID, _CDF))


def quantile(p: np.ndarray) -> np.ndarray:
    """Its inverse, within the reach of the table."""
    return np.asarray(np.interp(p, _CDF, _GRID))


def density(x: float) -> float:
    """The normal density."""
    return exp(-0.5 * x * x) / sqrt(2 * pi)


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """Points of the normal law cut off at the bounds: `weights` add up to `probability`; `factors` are independent
    standard normal amounts (one line each) of which `root @ factors` are the amounts themselves."""

    probability: float
    weights: np.ndarray
    factors: np.ndarray
    root: np.ndarray


def chance_below(bounds: np.ndarray, correlation: np.ndarray, points: int = POINTS) -> float:
    """The probability that normal amounts of mean 0 and variance 1 are all below `bounds`."""
    return draws_below(bounds, correlation, points, last=False).probability if len(bounds) else 1.0


def draws_below(bounds: np.ndarray, correlation: np.ndarray, points: int = POINTS, last: bool = True) -> Draws:
    """The points behind `chance_below`; with `last` the last factor is drawn as well, which the chance does without."""
    order, root, free = _factored(bounds, correlation)
    count = len(bounds)
    lattice = _lattice(max(free, 1), points)
    factors = np.zeros((free, points))
    weights = np.full(points, 1.0 / points)
    for place in range(count):
        known = min(place, free)
        shift = root[place, :known] @ factors[:known] if known else 0.0
        if place >= free:  # tied to the rows before it: it holds or it does not
            weights = weights * (shift <= bounds[order[place]])
            continue
        below = cdf(np.asarray((bounds[order[place]] - shift) / root[place, place]) + np.zeros(points))
        weights = weights * below
        if last or place + 1 < count:
            factors[place] = quantile(lattice[place] * below)
    back = np.empty((count, free))
    back[order] = root
    return Draws(float(weights.sum()), weights, factors, back)


def _factored(bounds: np.ndarray, correlation: np.ndarray) -> tuple[list[int], np.ndarray, int]:
    """The order of the rows, the lower triangle of their correlation in that order, and how many are not tied."""
    bound, tie = bounds.tolist(), correlation.tolist()  # a few rows: plain numbers are faster than arrays
    rows = range(len(bound))
    lines: list[list[float]] = [[] for _ in rows]
    left, expected = [tie[row][row] for row in rows], [0.0 for _ in rows]
    order: list[int] = []
    rest = list(rows)
    while able := [row for row in rest if left[row] > FREE]:
        pick = min(able, key=lambda row: (bound[row] - expected[row]) / sqrt(left[row]))
        own = sqrt(left[pick])
        t = (bound[pick] - expected[pick]) / own
        mean = -density(t) / max(0.5 * erfc(-t / sqrt(2)), 1e-300) if t > -_REACH else t
        order.append(pick)
        rest.remove(pick)
        for row in rest:
            part = (tie[row][pick] - sum(map(mul, lines[row], lines[pick]))) / own
            lines[row].append(part)
            left[row] -= part * part
            expected[row] += part * mean
        lines[pick].append(own)
    free = len(order)
    root = np.zeros((len(bound), free))
    for place, row in enumerate((*order, *rest)):
        root[place, : len(lines[row])] = lines[row]
    return [*order, *rest], root, free


@lru_cache(maxsize=64)
def _lattice(dimensions: int, points: int) -> np.ndarray:
    """Points of the open unit cube, a line for each dimension."""
    steps = np.sqrt(np.array(_primes(dimensions), dtype=float))
    shifted = np.outer(steps, np.arange(1, points + 1)) % 1.0
    return np.clip(np.abs(2.0 * shifted - 1.0), 1e-12, 1.0 - 1e-12)


def _primes(count: int) -> list[int]:
    found: list[int] = []
    number = 2
    while len(found) < count:
        if all(number % prime for prime in found):
            found.append(number)
        number += 1
    return found
