"""A group whose nearest ration is to be asked about is asked about in the year too, in the same words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.reasons import Severity
from rationlp.year.plan import plan_year

pytestmark = pytest.mark.slow

STAGE = "sw_gest_p2_early"
FIBRE = ("bran", "alfalfa", "canola_meal")


@pytest.fixture(scope="module")
def bare_book(demo_book):
    """Sows alone, one bin, and no feed of much fibre."""
    return replace(
        demo_book,
        groups=tuple(group for group in demo_book.groups if group.stage == STAGE),
        supplements=tuple(offer for offer in demo_book.supplements if offer.offer not in FIBRE),
        bins=demo_book.bins[:1],
        herd=(),
        arrivals=(),
        lots=(),
    )


@pytest.mark.slow
def test_the_year_asks_where_the_nearest_ration_asks(bare_book, library):
    """It said DO NOT FEED, and planned nothing for them."""
    farm = Farm(bare_book, library)
    (solved,) = solve_rations(farm, [STAGE])
    year = plan_year(farm)
    assert solved.ration.status == "nearest" and solved.verdict.severity is Severity.ASK
    assert year.verdict.severity is Severity.ASK and not year.unfed
    asked = {reason.text for reason in solved.verdict.weighing(Severity.ASK)}
    assert {reason.text for reason in year.mixes[0].verdict.weighing(Severity.ASK)} == asked
    for name, share in year.mixes[0].found.shares:
        assert share == pytest.approx(solved.shares[name], abs=1e-9)


@pytest.mark.slow
def test_animals_are_fed_the_nearest_mix_of_their_own_days(bare_book, library):
    """The neighbour's peas end in March; what is nearest without them is not the nearest before, where peas are cheap:
    what they bring of fibre is of practice, and not bought at any cost."""
    cheap = tuple(replace(o, price_per_tonne=60) if o.offer == "peas_neighbour" else o for o in bare_book.supplements)
    year = plan_year(Farm(replace(bare_book, supplements=cheap), library))
    missed = [mix.rations[0].shortfalls[0] for mix in year.mixes]
    assert len(missed) == 2 and missed[0].gives > missed[1].gives + 0.1
    assert [mix.groups for mix in year.mixes] == [("sows_early",)] * 2


@pytest.mark.slow
def test_a_nearest_ration_that_must_not_be_fed_still_stops_the_year(bare_book, library):
    minerals = ("limestone", "limestone_grit", "oyster", "monocal", "dical")
    book = replace(bare_book, supplements=tuple(o for o in bare_book.supplements if o.offer not in minerals))
    farm = Farm(book, library)
    (solved,) = solve_rations(farm, [STAGE])
    year = plan_year(farm)
    assert solved.verdict.severity is year.verdict.severity is Severity.STOP and year.unfed and not year.mixes
    # the last tonne was worth 1,560,720.14: what the program counts for a tonne that is missing
    assert year.worth == () and not any(sale.from_price for sale in year.sales)
