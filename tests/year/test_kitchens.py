"""Who has less to choose from is not asked where the mix of who has more can be had and no less is asked of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rationlp.farm import Farm
from rationlp.herd.season import season_of
from rationlp.year.plan import plan_year
from rationlp.year.program.kitchen import Kitchen
from rationlp.year.program.supplies import supplies_of


@pytest.mark.parametrize("seed", range(3))
def test_a_ration_whose_feeds_all_stay_is_asked_once(small_year, library, seed):
    """It was asked, and its program put together, anew for the days after an offer that is in no mix ends."""
    year = small_year(seed)
    prices = np.array([9_000.0, *year.prices[1:]])
    dear = replace(year, prices=prices, stocks=[None] * len(year.stocks))
    plan = plan_year(dear.farm(library))
    assert plan.cost == pytest.approx(dear.by_hand(), rel=1e-6)
    assert len({demand.names for demand in plan.search.demands}) == 2
    assert len(plan.search.kitchens) == len({demand.stage for demand in plan.search.demands})


def test_where_the_premix_ends_less_is_asked(demo_book, library):
    """A need that nothing on offer serves any more is no row: the mix with its premix may not be the cheapest."""
    farm = Farm(demo_book, library)
    supplies = supplies_of(farm, season_of(demo_book))
    kitchen = Kitchen(farm, farm.stage("sw_gro_25_50"), supplies, by_weight=False)
    of = {candidate.name: candidate for candidate in kitchen.formula.candidates}
    premixes = {name for name, candidate in of.items() if candidate.premix_covers}
    assert "soy48_bulk" in of and kitchen.asks_no_more_than_of(frozenset(of))
    assert kitchen.asks_no_more_than_of(frozenset(of) - {"soy48_bulk"})
    assert premixes and not kitchen.asks_no_more_than_of(frozenset(of) - premixes)
