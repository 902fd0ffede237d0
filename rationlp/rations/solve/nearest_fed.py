"""The mix that comes nearest where nothing meets everything, as a farm feeds it: crystals as needed, no dust."""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from itertools import count

from rationlp.rations.program.formula import Formula
from rationlp.rations.program.only_here import CRYSTAL, kept_to, none_of, with_rows
from rationlp.rations.program.program import Program, ProgramRow, Solution, SolverStatus
from rationlp.rations.solve.nearest import NEEDS, NearestAtPrices, missed, steps_of
from rationlp.rations.solve.settle import ALLOWANCE, PROGRAMS, Alternative, least_ways, undecided


def nearest_fed(
    formula: Formula, asked: NearestAtPrices, costs: Sequence[float]
) -> tuple[tuple[float, ...], Program] | None:
    """The mix of `asked`, of the formula's program, at these costs as a farm feeds it: crystals as needed, no dust.

    With the program that has the rows for it: crystals that fill are each held to the first need that misses it, or are
    all out; what is too light is out or enough to weigh. The way that misses no more of the needs is gone first, to its
    end. None where rows that never give way cannot hold together. Raises SolverError.
    """
    here, program, amounts = formula, formula.program, asked.mix(costs)
    if amounts is None:
        return None
    needs = sum(step >= NEEDS for step in steps_of(row.rank for row in program.rows if row.relaxable))
    order, tried = count(), 0
    heap: list[tuple[tuple[float, ...], int, tuple[float, ...], int, Formula, tuple[float, ...]]] = []
    heapq.heappush(heap, ((), 0, (), next(order), here, amounts))
    while heap:
        _, depth, _, _, here, amounts = heapq.heappop(heap)
        ways = _nearest_ways(formula, here.program, amounts)
        if not ways:
            break
        if tried >= PROGRAMS:
            heap = []  # from here on the nearer way, step by step
        for rows in ways:
            one = with_rows(here, rows)
            mix, tried = NearestAtPrices(one.program, asked.worth).mix(costs), tried + 1
            if mix is not None:
                off = missed(program, mix, costs, asked.worth)
                heapq.heappush(heap, (off[:needs], depth - 1, off, next(order), one, mix))
    return amounts, here.program


def _nearest_ways(formula: Formula, asked: Program, amounts: tuple[float, ...]) -> tuple[Alternative, ...]:
    """The rows that may be put in for what the nearest mix leaves undecided, beside those `asked` has; none where
    nothing is."""
    unheld, light = undecided(formula, formula.program, Solution(SolverStatus.OPTIMAL, amounts))
    if not unheld:
        return least_ways(formula, light, asked)
    held = tuple(_to_its_need(formula, j, keys, amounts) for j, keys in unheld)
    return tuple(dict.fromkeys((held, tuple(none_of(formula, j, CRYSTAL) for j, _ in unheld))))


def _to_its_need(formula: Formula, column: int, keys: Sequence[str], amounts: tuple[float, ...]) -> ProgramRow:
    """The row that keeps a crystal to the first of its needs that is missed as it is taken out; out if none is."""
    without = tuple(0.0 if j == column else amount for j, amount in enumerate(amounts))
    rows = {row.key: row for row in formula.program.rows if row.key in keys}
    short = [key for key, row in rows.items() if formula.program.value(row, without) < 0]
    if not short:
        return none_of(formula, column, CRYSTAL)
    first = min(short, key=lambda key: formula.program.value(rows[key], amounts) / rows[key].coefficients[column])
    return kept_to(formula, column, rows[first], ALLOWANCE)
