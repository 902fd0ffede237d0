"""Animals fed by weight: what the cheapest energy would save where the cheapest tonne was sought."""

from __future__ import annotations

from dataclasses import replace

from rationlp.rations.answer.model import Ration
from rationlp.rations.program.formula import Formula
from rationlp.rations.solve.solver import solve
from rationlp.rations.solve.verify import verify
from rationlp.stages.stage import KCAL_PER_MCAL

KCAL_PER_GCAL = 1e6
WORTH_SAYING = 0.002  # of the cost a day


def fed_by_weight_note(formula: Formula, ration: Ration, currency: str) -> list[str]:
    """A sentence on the cost a head and day by the other objective, for a stage that is fed by weight.

    Per tonne pays for dilution; an animal that gets the day's energy whatever the feed weighs is fed more of it then.
    """
    stage = formula.stage
    by_weight = stage.known is not None and stage.known.fed == "by_weight"
    if not by_weight or formula.objective != "per_tonne" or not ration.feed_kg_per_head_per_day:
        return []
    densities = tuple(candidate.values[stage.energy] / KCAL_PER_MCAL for candidate in formula.candidates)
    program = replace(formula.program, normalizer=densities)
    cheapest = solve(program)
    if cheapest.status != "optimal":
        return []
    verify(program, cheapest)
    gcal_a_day = ration.feed_kg_per_head_per_day * ration.energy_kcal_kg / KCAL_PER_GCAL
    saved = gcal_a_day * (ration.cost_per_gcal - cheapest.objective)
    if saved < WORTH_SAYING * gcal_a_day * ration.cost_per_gcal:
        return []
    return [
        "Fed by weight, so the cheapest tonne was sought. For the same energy a day the cheapest energy (objective "
        f"per_energy in the book) would cost {saved:.4f} {currency} a head and day less."
    ]
