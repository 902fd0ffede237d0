"""The home-grown share over the year: what each further part of it costs."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rationlp.farm import Farm
from rationlp.year.model import Year
from rationlp.year.plan import YearRequest, plan_year

STEPS = 5
ENOUGH = 1e-4
"""A share missed by less is reached."""


@dataclass(frozen=True, slots=True)
class GrownShare:
    """A floor of the home-grown share of all feed of the year, what was reached and what that costs."""

    asked: float
    reached: float
    cost: float


def home_grown_frontier(farm: Farm, plan: Year, request: YearRequest) -> tuple[GrownShare, ...]:
    """The cheapest year at the share of the plan, at the most that can be had, and at steps between."""
    most = plan_year(farm, replace(request, home_grown=1.0, draws=0))
    start, end = plan.home_grown_share, most.home_grown_share
    found = [GrownShare(start, start, plan.cost)]
    for step in range(1, STEPS):
        floor = start + (end - start) * step / STEPS
        if floor > start + ENOUGH:
            made = plan_year(farm, replace(request, home_grown=floor, draws=0))
            found.append(GrownShare(floor, made.home_grown_share, made.cost))
    if end > start + ENOUGH:
        found.append(GrownShare(end, end, most.cost))
    return tuple(found)
