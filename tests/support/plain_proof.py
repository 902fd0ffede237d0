"""Whether any mix of what is on offer keeps every limit, proved from the tables alone.

Rows are those of `plain_check.py`. Of rows a'x >= 0 on shares x >= 0 that add up to one there is either a mix that
keeps all, or weights y >= 0 of the rows with which every ingredient counts less than nothing (P. Gordan 1873, the
lemma of J. Farkas 1902): every mix then breaks a row. Weights are sought by a linear program and checked in fractions,
without rounding; a mix that is found is checked by the sums.

A crystalline amino acid is no filler: it is out, in no more than can be weighed, or held by a need that it is for. Each
of these is one row more, so a mix in which a crystal fills is looked at again under each of them, until every branch is
proved or a mix is found in which none fills.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from plain_check import AMINO_ACIDS, Line, Part, Setting, lines, table
from scipy.optimize import linprog

NEGLIGIBLE = 1e-7
"""Weights below this part of the greatest are the solver's last digits, and so is a mix that breaks rows by less."""
EASED = ("usual", "practice", "vitamin")
"""Kinds of limits that give way before a ration is refused."""
HELD = 0.02
"""By what part of itself a need may be passed and still hold a crystal: twice as wide as the program's."""


@dataclass(frozen=True)
class Proof:
    """`none` is whether no mix keeps all rows; `why` names the rows that forbid it, or `mix` the shares that do."""

    none: bool
    why: tuple[str, ...] = ()
    mix: tuple[tuple[str, float], ...] = ()


def known_to(parts: Sequence[Part], farm: Setting) -> list[Part]:
    """The parts with a figure for everything that the stage asks of a feed: a missing figure is never nothing, but of
    what the table says a feed without a figure has none of."""
    met = {row["nutrient"]: row for row in table("nutrients")}
    rows = [row for row in table("requirements") if row["stage"] == farm.stage and row["use"] == "row"]
    needed = {
        row["nutrient"]
        for row in rows
        if met[row["nutrient"]]["met_by"] not in ("premix", "not_tabled")
        and met[row["nutrient"]]["kind"] != "vitamin"
        and met[row["nutrient"]]["if_unknown"] != "none"
    }
    return [part for part in parts if needed <= set(part.values)]


def prove(parts: Sequence[Part], farm: Setting, least: float) -> Proof | None:
    """Whether a mix of these parts keeps every limit but those that give way; None where it hangs on rounding.

    `least` is the share that can just be weighed, 0 to 1.
    """
    parts = known_to(parts, farm)
    rows = [line for line in lines(parts, farm) if line.kind not in EASED]
    crystals = {place: ways for place, part in enumerate(parts) if (ways := _ways(place, parts, rows, least))}
    return _branch(parts, rows, crystals)


def _ways(place: int, parts: Sequence[Part], rows: Sequence[Line], least: float) -> list[Line]:
    """What a crystal may be in a mix as, each as a row; none for what is no crystal."""
    feeds, known = {row["feed"]: row for row in table("feeds")}, {row["nutrient"]: row for row in table("nutrients")}
    part = parts[place]
    if any(feed not in feeds or feeds[feed]["group"] != "amino_acid" for feed in part.feeds):
        return []
    needs = [
        row
        for row in rows
        if row.kind == "requirement"
        and row.sense == ">="
        and known[row.what]["kind"] in AMINO_ACIDS
        and row.counts[place]
    ]
    one = tuple(float(at == place) for at in range(len(parts)))
    light = Line("crystal", f"{part.name} as little as can be weighed", one, "<=", (least,) * len(parts))
    return [light, *(_held_by(row, part.name) for row in needs)]


def _held_by(need: Line, crystal: str) -> Line:
    against = tuple((1 + HELD) * x for x in need.against)
    return Line("crystal", f"{crystal} for {need.what}", need.counts, "<=", against)


def _branch(parts: Sequence[Part], rows: Sequence[Line], crystals: Mapping[int, Sequence[Line]]) -> Proof | None:
    names, matrix = _oriented(rows)
    weights = _weights(matrix)
    if weights is not None:
        return Proof(True, why=tuple(name for name, weight in zip(names, weights, strict=True) if weight))
    shares = _least_missed(matrix)
    if (matrix @ shares).min() < -NEGLIGIBLE:
        return None
    mix = [replace(part, share=share) for part, share in zip(parts, shares.tolist(), strict=True)]
    filling = next((ways for ways in crystals.values() if all(way.sentence(mix) for way in ways)), None)
    if filling is None:
        return Proof(False, mix=tuple((part.name, part.share) for part in mix if part.share > NEGLIGIBLE))
    why: dict[str, None] = {}
    for way in filling:
        found = _branch(parts, [*rows, way], crystals)
        if found is None or not found.none:
            return found
        why |= dict.fromkeys(found.why)
    return Proof(True, why=tuple(why))


def _oriented(rows: Sequence[Line]) -> tuple[list[str], np.ndarray]:
    """Every row as one that must not be below nothing, in parts of its own size."""
    names, found = [], []
    for row in rows:
        line = np.array(row.counts) - np.array(row.against)
        size = max(np.abs(row.counts).max(), np.abs(row.against).max(), 1e-12)
        for sign, senses in ((1.0, ">="), (-1.0, "<=")):
            if row.sense in (senses, "="):
                names.append(f"{row.kind}: {row.what} {senses}")
                found.append(sign * line / size)
    return names, np.array(found)


def _weights(matrix: np.ndarray) -> list[Fraction] | None:
    """Weights of the rows by which every column counts less than nothing, by fractions; None if there are none."""
    count, columns = matrix.shape
    # the most m with y'A_j <= -m for every column j, y >= 0 adding up to one
    answer = linprog(
        [*[0.0] * count, -1.0],
        A_ub=np.hstack([matrix.T, np.ones((columns, 1))]),
        b_ub=np.zeros(columns),
        A_eq=np.array([[*[1.0] * count, 0.0]]),
        b_eq=[1.0],
        bounds=[*[(0, None)] * count, (None, 1)],
        method="highs",
    )
    if answer.status != 0 or answer.x[-1] <= 0:
        return None
    weights = [Fraction(float(w)) if w > NEGLIGIBLE * answer.x[:-1].max() else Fraction(0) for w in answer.x[:-1]]
    for column in matrix.T:
        if sum(w * Fraction(float(a)) for w, a in zip(weights, column, strict=True) if w) >= 0:
            return None
    return weights


def _least_missed(matrix: np.ndarray) -> np.ndarray:
    """Shares whose worst row is missed by the least."""
    count, columns = matrix.shape
    answer = linprog(
        [*[0.0] * columns, 1.0],
        A_ub=np.hstack([-matrix, -np.ones((count, 1))]),
        b_ub=np.zeros(count),
        A_eq=np.array([[*[1.0] * columns, 0.0]]),
        b_eq=[1.0],
        bounds=[*[(0, 1)] * columns, (0, None)],
        method="highs",
    )
    return np.array(answer.x[:-1])
