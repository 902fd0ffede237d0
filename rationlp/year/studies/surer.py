"""A plan that survives more of the draws, and what it costs: it counts on less than is thought there."""

from __future__ import annotations

from dataclasses import replace

from rationlp.rations.solve.chance import margin_multiplier
from rationlp.year.draws import draw_years
from rationlp.year.model import SurerPlan, Year
from rationlp.year.plan import YearRequest, planned
from rationlp.year.program.search import search_of
from rationlp.year.program.supplies import Supply

COUNTED = 0.9
"""How likely a bin is to hold what the surer plan counts on."""
KEPT_BACK = 0.1
"""Of the stock of an offer, for more animals and leaner grain than was thought (common practice: some is kept)."""
ENOUGH = 0.95
"""A plan that survives so many of its draws needs no surer one."""


def with_surer(year: Year, request: YearRequest) -> Year:
    """The year with a surer plan beside it, where its own survives too few draws and one that survives more is found.

    Raises SolverError.
    """
    draws = year.draws
    if draws is None or draws.survived >= ENOUGH or year.unfed:
        return year
    search = year.search
    supplies = [_counted(supply) for supply in search.supplies]
    made = search_of(search.farm, search.season, year.animals, supplies, request.home_grown)
    plan = planned(made, replace(request, draws=0))
    if plan.unfed:
        return year
    survived = draw_years(plan, draws.count, draws.seed).survived
    if survived <= draws.survived:
        return year
    return replace(
        year, draws=replace(draws, surer=SurerPlan(COUNTED, len(plan.mixes), survived, plan.cost - year.cost))
    )


def _counted(supply: Supply) -> Supply:
    """A bin with what it holds nine times in ten, an offer with all but a part of its stock; what is drawn of it stays
    around what it is thought to hold."""
    if supply.mean_tonnes is None:
        return supply
    sure = supply.mean_tonnes * (1 - KEPT_BACK)
    if supply.is_bin:
        sure = max(supply.mean_tonnes - margin_multiplier(COUNTED) * supply.sd, 0.0)
    return replace(supply, tonnes=min(sure, supply.tonnes or 0.0))
