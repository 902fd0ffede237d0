"""The mix that comes nearest to a ration that nothing on offer can make, and what stands in its way."""

from __future__ import annotations

from dataclasses import replace

from rationlp.library.read import Library
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.program import Program
from rationlp.rations.program.rows import PREMIX
from rationlp.rations.program.vitamins import FOODS, half_of, maximum_of_premix
from rationlp.rations.solve.nearest import (
    NearestAtPrices,
    conflict,
    gives_way_first,
    met_beyond,
    misses_a_need,
    with_laws_giving_way,
)
from rationlp.rations.solve.nearest_fed import nearest_fed
from rationlp.stages.model import Need


def nearest_ration(formula: Formula, library: Library) -> tuple[tuple[float, ...] | None, tuple[str, ...]]:
    """The amounts that come nearest, one in all, as a farm feeds them, and the keys of the rows that conflict.

    The laws of the mix give way last, and only where they cannot be kept together; but maxima that a premix all but
    fills give way to the requirements: the mix is not to be fed either way, and what mends it is another premix. Where
    crystals that fill could meet every requirement, that they may not is among what conflicts. None where the solver
    finds no mix at all. Raises SolverError.
    """
    found = _nearest(formula)
    misses = found is not None and misses_a_need(formula.program, found[0])
    if found is None or misses:
        beyond = _beyond_premix(formula, library)
        if beyond is not None:
            return beyond
    if found is not None:
        amounts, fed = found
        rows = conflict(formula.program)
        return amounts, conflict(fed) if misses and gives_way_first(formula.program, rows) else rows
    program, rows = with_laws_giving_way(formula.program, formula.crystals, _foods(formula))
    found = _nearest(replace(formula, program=program))
    return found[0] if found else None, rows


def _nearest(formula: Formula) -> tuple[tuple[float, ...], Program] | None:
    """The mix that comes nearest as a farm feeds it, and the program with the rows that keep it so."""
    return nearest_fed(formula, NearestAtPrices(formula.program), formula.program.costs)


def _foods(formula: Formula) -> list[str]:
    """The columns that are fed for what they are: grain, meals, fats."""
    return [candidate.name for candidate in formula.candidates if candidate.group in FOODS]


def _beyond_premix(formula: Formula, library: Library) -> tuple[tuple[float, ...], tuple[str, ...]] | None:
    """The mix that meets every requirement beyond maxima that a premix all but fills, and these with its doses; None
    where there is none."""
    filled = {
        row.key: half_of(source, library)
        for row, source in zip(formula.program.rows, formula.sources, strict=False)
        if isinstance(source, Need) and maximum_of_premix(source, formula.candidates, library)
    }
    beyond = met_beyond(formula.program, filled, _foods(formula)) if filled else None
    found = _nearest(replace(formula, program=beyond)) if beyond else None
    if found is None:
        return None
    told = conflict(formula.program, unnamed={row.key for row in formula.program.rows} - set(filled))
    return found[0], (*told, *dict.fromkeys(f"{PREMIX}{filled[key]}" for key in told))
