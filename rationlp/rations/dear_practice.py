"""What it costs to keep what practice advises, where a ration keeps it and misses nothing else."""

from __future__ import annotations

from rationlp.book_units import units_of
from rationlp.errors import SolverError
from rationlp.farm import Farm
from rationlp.numbers import figure
from rationlp.rations.answer.lines import requirement_lines, shortfalls
from rationlp.rations.answer.mix import make_mix
from rationlp.rations.answer.model import Ration, Side
from rationlp.rations.answer.ratios import ratio_lines
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.rows import PRACTICE_RANK
from rationlp.rations.solve.model import Answer
from rationlp.rations.solve.nearest import without_dear_practice

TOLD = 0.1
"""In parts of themselves, what bounds of practice are missed by at least in a mix that is told."""


def practice_warnings(formula: Formula, found: Answer, ration: Ration, farm: Farm) -> list[str]:
    """A sentence with the cheaper mix, where keeping what practice advises costs more than that is worth.

    Nothing is decided: the ration keeps it, and a nutritionist may think otherwise. It is asked at plain averages, as
    the bounds stand; none is told of a ration with a confidence.
    """
    solution, cost = found.solution, ration.cost_per_tonne
    if solution is None or found.confidence is not None or cost is None or not _is_paid_for(found):
        return []
    try:
        amounts = without_dear_practice(formula.program)
    except SolverError:  # the ration stands without it
        return []
    if not amounts:
        return []
    mix = make_mix(formula, amounts, farm.library)
    answer = Answer(amounts)
    short = shortfalls(requirement_lines(mix, answer, farm), ratio_lines(mix, answer, farm.library), mix, farm.library)
    if sum(each.short_pct for each in short) < 100 * TOLD:
        return []
    units, currency = units_of(farm.settings), farm.settings.currency
    cheaper = sum(share * candidate.price_per_tonne for share, candidate in mix.used)
    bounds = " and ".join(
        f"{each.label} at {'least' if each.side is Side.MINIMUM else 'most'} {figure(each.needs)} {each.unit}"
        for each in short
    )
    gives = " and ".join(f"{figure(each.gives)} {each.unit}" for each in short)
    return [
        f"{bounds}: the advice of practice, and dear here. This mix costs {units.price(cost)} "
        f"{currency} per {units.word}; with {gives} it would cost {units.price(cheaper)}. A nutritionist may allow "
        "that: set the bound on the sheet own_stages."
    ]


def _is_paid_for(found: Answer) -> bool:
    """Whether any bound of practice has a price in the ration."""
    return any(dual and row.rank == PRACTICE_RANK for row, dual in found.duals)
