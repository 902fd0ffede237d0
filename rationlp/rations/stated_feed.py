"""What a stated feed a day does: the day's energy in the cheapest mix, and needs that it puts out of reach."""

from __future__ import annotations

from dataclasses import replace

from rationlp.book_units import units_of
from rationlp.errors import SolverError, given
from rationlp.farm import Farm
from rationlp.finder import listed
from rationlp.numbers import plain
from rationlp.rations.answer.model import Ration, Side
from rationlp.rations.program.formula import Formula, build
from rationlp.rations.solve.checked import solve_checked
from rationlp.stages.model import IN_THE_GROUPS_FEED
from rationlp.stages.needs import stage_needs
from rationlp.stages.stage import KCAL_PER_MCAL, StageNeeds

WORTH_SAYING = 0.002
"""A saving is told from this share of the cost of a day on."""
FAR_BELOW = 0.05
"""Less feed than the table's by this part of it is told where a day's need cannot be had in it."""
DIGITS = 3


def too_little_feed(stage: StageNeeds, ration: Ration, farm: Farm) -> list[str]:
    """A sentence where a need of a day is missed that the group's stated feed, less than the table's, makes denser."""
    stated, usual = stage.group_feed_kg, stage.daily_feed_kg
    if not stated or not usual or stated > usual * (1 - FAR_BELOW):
        return []
    denser = {need.nutrient for need in stage.needs if need.basis == IN_THE_GROUPS_FEED and need.minimum is not None}
    missed = [short.label for short in ration.shortfalls if short.side == Side.MINIMUM and short.nutrient in denser]
    if not missed:
        return []
    units = units_of(farm.settings)
    return [
        f"The book states {units.weight(stated, DIGITS)} of feed per head and day, {100 * (1 - stated / usual):.0f} % "
        f"less than the table's {units.weight(usual, DIGITS)}: what they need a day of {listed(missed)} must stand in "
        "less feed. Check feed_per_head_per_day; what they eat beside the mix (pasture, shell in a hopper) is not "
        "counted here."
    ]


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
