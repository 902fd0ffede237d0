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
    """A floor of the home-grown share of all feed of the year, what was reached, what that costs, and the home-grown
    tonnes that are fed: the share rises, too, where feed with more energy is bought and less is eaten in all."""

    asked: float
    reached: float
    cost: float
    grown_tonnes: float


def _point(asked: float, made: Year) -> GrownShare:
    return GrownShare(asked, made.home_grown_share, made.cost, made.home_grown_share * made.tonnes)


def home_grown_frontier(farm: Farm, plan: Year, request: YearRequest) -> tuple[GrownShare, ...]:
    """The cheapest year at the share of the plan, at the most that can be had, and at steps between."""
    most = plan_year(farm, replace(request, home_grown=1.0, draws=0))
    start, end = plan.home_grown_share, most.home_grown_share
    found = [_point(start, plan)]
    for step in range(1, STEPS):
        floor = start + (end - start) * step / STEPS
        if floor > start + ENOUGH:
            made = plan_year(farm, replace(request, home_grown=floor, draws=0))
            found.append(_point(floor, made))
    if end > start + ENOUGH:
        found.append(_point(end, most))
    return tuple(found)
