"""The smallest change of a mix that is enough, and that the farm's scales can weigh."""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import replace
from itertools import count

import numpy as np

from rationlp.offers.ties import nearest_mix_to
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.only_here import bare
from rationlp.rations.program.program import ProgramRow, Sense
from rationlp.rations.solve.chance import ChanceRow
from rationlp.rations.solve.settle import IN_MIX

PROGRAMS = 40
"""So many mixes are looked at before the nearer alternative is taken at each step."""
AS_IT_WAS = 1e-7
"""A share that moved by less was not changed."""


def smallest_change(formula: Formula, chances: Sequence[ChanceRow], wanted: Sequence[float]) -> np.ndarray | None:
    """Shares that keep every row with the least sum of changes from `wanted`, each out, as it was, or heavy enough for
    the farm's scales; None if no mix keeps the rows. `chances` are of rows of `formula`.

    By branch and bound over what is too light, the nearest mix first. The rows that keep crystals and dust out of the
    least-cost mix are left aside: they are of that mix, and a least change adds no crystal without a need for it.
    """
    free = bare(formula)
    order = count()
    heap: list[tuple[float, int, tuple[ProgramRow, ...], np.ndarray]] = []

    def look(rows: tuple[ProgramRow, ...]) -> None:
        program = replace(free.program, rows=(*free.program.rows, *rows))
        found = nearest_mix_to(program, chances, wanted)
        if found is not None:
            heapq.heappush(heap, (float(np.abs(found - np.array(wanted)).sum()), next(order), rows, found))

    look(())
    nearest = heap[0][3] if heap else None
    tried = 1
    while heap:
        _, _, rows, found = heapq.heappop(heap)
        alternatives = _too_light(free, found, wanted)
        if not alternatives:
            return found
        if tried >= PROGRAMS:
            heap.clear()
        for row in alternatives:
            look((*rows, row))
            tried += 1
    return nearest


def _too_light(formula: Formula, shares: np.ndarray, wanted: Sequence[float]) -> tuple[ProgramRow, ...]:
    """The alternatives to the lightest share that is new and cannot be weighed; empty where there is none."""
    least = formula.least_share
    light = [
        j
        for j, candidate in enumerate(formula.candidates)
        if IN_MIX < shares[j] < least * (1 - 1e-6)
        and abs(shares[j] - wanted[j]) > AS_IT_WAS
        and not candidate.min_share
        and not candidate.premix_covers
    ]
    if not light:
        return ()
    column = min(light, key=lambda j: float(shares[j]))
    name = formula.candidates[column].name

    def row(words: str, bound: float, sense: Sense) -> ProgramRow:
        coefficients = tuple(float(j == column) - bound for j in range(len(shares)))
        return ProgramRow(f"{name} {words}", coefficients, sense)

    found = (row("left out", 0.0, "<="), row("heavy enough", least, ">="))
    return (*found, row("as it was", wanted[column], "=")) if 0.0 < wanted[column] < least else found
