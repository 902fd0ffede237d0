"""What it costs that a group states its feed a day: the day's energy in the cheapest mix, and the amount of it."""

from __future__ import annotations

from dataclasses import replace

from rationlp.book_units import units_of
from rationlp.errors import SolverError, given
from rationlp.farm import Farm
from rationlp.numbers import plain
from rationlp.rations.answer.model import Ration
from rationlp.rations.program.formula import Formula, build
from rationlp.rations.solve.checked import solve_checked
from rationlp.stages.needs import stage_needs
from rationlp.stages.stage import KCAL_PER_MCAL

WORTH_SAYING = 0.002
"""A saving is told from this share of the cost of a day on."""
DIGITS = 3


def stated_feed_warnings(formula: Formula, ration: Ration, farm: Farm) -> list[str]:
    """A sentence with the cheaper amount, where a group's stated feed makes a day of it dearer than it need be.

    The animals need the table's energy a day. The mix for the stated weight is set beside the cheapest mix of a free
    weight, both at the same prices.
    """
    stage = formula.stage
    stated, energy = stage.group_feed_kg, stage.energy
    if stage.known is None or not stated or not energy or not stage.daily_feed_kg or ration.cost_per_tonne is None:
        return []
    groups = tuple(replace(group, feed_kg_per_head_per_day=None) for group in farm.book.groups)
    free_farm = Farm(replace(farm.book, groups=groups), farm.library)
    free = build(stage_needs(stage.stage, free_farm.book, farm.library), formula.bins, formula.offered, free_farm)
    densities = tuple(candidate.values[energy] / KCAL_PER_MCAL for candidate in free.candidates)
    program = replace(free.program, normalizer=densities)
    try:
        cheapest = solve_checked(program)
    except SolverError:  # the ration stands without it
        return []
    if cheapest.status != "optimal":
        return []
    reference = given(stage.reference_energy, f"the energy of the table of {stage.stage}")
    mcal_a_day = reference * stage.daily_feed_kg / KCAL_PER_MCAL
    kilograms = mcal_a_day * sum(cheapest.amounts)
    stated_cost, free_cost = stated * ration.cost_per_tonne / 1000, mcal_a_day * cheapest.objective / 1000
    if stated_cost - free_cost < WORTH_SAYING * stated_cost:
        return []
    units, currency = units_of(farm.settings), farm.settings.currency
    day, freely = (f"{plain(cost, DIGITS)} {currency}" for cost in (stated_cost, free_cost))
    return [
        f"The book states {units.weight(stated, DIGITS)} per head and day; the mix for that costs {day} a day. "
        f"{units.weight(kilograms, DIGITS)} of the mix with the cheapest energy would feed them for {freely}: leave "
        "feed_per_head_per_day blank to see it."
    ]
