"""The program over whole mixes, and bins opened in turn, on a farm of three feeds: every figure calculated by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest

from rationlp.errors import SolverError
from rationlp.herd.moves import Fed
from rationlp.herd.season import Season
from rationlp.year.program import keeping
from rationlp.year.program.choice import _median
from rationlp.year.program.keeping import COOL, WARM
from rationlp.year.program.kitchen import FoundMix
from rationlp.year.program.master import Demand, Master
from rationlp.year.program.supplies import Supply, had_in, windows_of
from rationlp.year.program.turns import _first_changes, _moved, _orders, opened_in_turn
from rationlp.year.program.verify import _fed, _stocks, verify_plan

SEASON = Season(date(2026, 9, 1), date(2027, 2, 27))  # 180 days


def supply(name: str, price: float, tonnes: float | None = None, first: int = 0, last: int = 179) -> Supply:
    grown = name.startswith("bin")
    candidate = SimpleNamespace(name=name, label=name, home_grown=float(grown))
    return Supply(candidate, grown, price, tonnes, tonnes, 0.0, first, last)


def mix(stages: str = "pig", nearest_of: frozenset[str] = frozenset(), **shares: float) -> FoundMix:
    return FoundMix(tuple(shares.items()), dict.fromkeys(stages.split(), None), nearest_of)


def demand(stage: str, tonnes: float, begins: int = 0, first: bool = False, names: str = "bin soy bran") -> Demand:
    fed = Fed(f"{stage}s", stage, None, np.zeros(1))
    return Demand(fed, range(begins, begins + 30), tonnes, True, frozenset(names.split()), first)


SUPPLIES = [supply("bin", 150.0, 10.0), supply("soy", 400.0), supply("bran", 250.0)]
OWN, BOUGHT = mix("pig hen", bin=0.8, soy=0.2), mix(bran=0.8, soy=0.2)
MIXING = 10.0
PENALTY = 20.0 * (400 + MIXING)


def planned(*demands: Demand, home_grown: float = 0.0, mixes: tuple[FoundMix, ...] = (OWN, BOUGHT)) -> Master:
    made = Master(demands, SUPPLIES, MIXING, home_grown)
    for each in mixes:
        made.add(each)
    made.run()
    return made


def test_scarce_grain_and_what_it_is_worth():
    """20 t for pigs; 10 t of grain make 12.5 t at 150 x 0.8 + 400 x 0.2 + 10 = 210, the rest costs 290."""
    master = planned(demand("pig", 20.0))
    assert master.answer.cost == pytest.approx(12.5 * 210 + 7.5 * 290)
    assert {p.mix: p.tonnes for p in master.portions()} == pytest.approx({OWN: 12.5, BOUGHT: 7.5})
    assert master.scarcity("bin") == pytest.approx(100) and master.scarcity("soy") == 0.0
    prices = master.prices()
    assert prices.of_demand == pytest.approx((20 * 290,))
    assert prices.of_supply == pytest.approx({"bin": 150 + 10 + 100, "soy": 410, "bran": 260})
    assert master.unfed() == [] and master.right_sides() == (1.0, 10.0)
    verify_plan(master, master.portions())


def test_what_is_not_fed_counts_the_more_the_sooner():
    """Grain for 12.5 t alone: 20 t of the first month go before 10 t of the fourth, sows before all."""
    pigs, later = demand("pig", 20.0), demand("pig", 10.0, begins=90)
    master = planned(pigs, later, mixes=(OWN,))
    assert [(who, pytest.approx(part)) for who, part in master.unfed()] == [(pigs, 7.5 / 20), (later, 1.0)]
    assert master.unfed_cost(pigs) == pytest.approx(PENALTY * 20 * 1.5)
    assert master.unfed_cost(later) == pytest.approx(PENALTY * 10 * 1.125), "half of it by 90 / 30 months and one"
    sows = demand("pig", 10.0, begins=90, first=True)
    assert master.unfed_cost(sows) == pytest.approx(2 * PENALTY * 10 * 1.125)
    assert [who for who, _ in planned(pigs, sows, mixes=(OWN,)).unfed()] == [pigs]


def test_nothing_to_feed_but_air():
    assert Master([demand("pig", 1.0)], [supply("bin", 0.1, 5.0)], 0.0).penalty == 20.0, "at least of a unit of money"
    assert Master([demand("pig", 1.0)], [], 0.0).penalty == 20.0


def test_a_home_grown_share_is_kept_where_it_can_be():
    """Half of 16 t from the farm: 8 t of grain in 10 t; of 20 t 10 are wanted and 10 there; of 30 t 5 are missing."""
    for tonnes, own, missing in ((16.0, 12.5, 0), (20.0, 12.5, 0), (30.0, 12.5, 5.0)):
        master = planned(demand("pig", tonnes), home_grown=0.5)
        assert sum(p.tonnes for p in master.portions() if p.mix is OWN) == pytest.approx(own), tonnes
        assert master.grown_missing == pytest.approx(missing, abs=1e-9)
        verify_plan(master, master.portions())
    dear = planned(demand("pig", 16.0), home_grown=0.5)
    dear.reprice({"bin": 300.0, "soy": 400.0, "bran": 250.0})  # a tonne of own mix is 40 dearer than bought
    dear.run()
    assert sum(p.tonnes for p in dear.portions() if p.mix is OWN) == pytest.approx(10.0)
    assert dear.prices().of_supply["bin"] == pytest.approx(300 + 10 - 50 * 0.5), "its credit: 40 for 0.8 of a tonne"
    assert dear.prices().of_supply["soy"] == pytest.approx(410 + 50 * 0.5)


def test_a_mix_is_known_once_and_only_for_those_it_is_for():
    master = planned(demand("pig", 5.0), demand("hen", 4.0), demand("pig", 3.0, names="soy bran"))
    assert [(row, place) for _, row, place in master.entries] == [(0, 0), (1, 0), (0, 1), (2, 1)]
    assert not master.add(mix(bin=0.8, soy=0.2)), "known for both"
    assert master.add(mix("hen", bran=0.8, soy=0.2)), "not known for hens"
    nearest = mix("hen", frozenset({"bin", "soy"}), soy=1.0)
    assert not demand("hen", 4.0).eats(nearest) and demand("hen", 4.0, names="bin soy").eats(nearest)
    assert nearest.serves(frozenset({"soy"})) and not nearest.serves(frozenset({"soy", "bran"}))
    assert OWN.serves(frozenset({"anything"}))


def test_mixes_may_be_barred_for_all_or_for_a_stage():
    master = planned(demand("pig", 5.0), demand("hen", 4.0))
    master.allow([1])
    assert master.run().cost == pytest.approx(5 * 290 + PENALTY * 4 * 1.5)
    master.allow(None, [(OWN.shares, "pig")])
    assert master.run().cost == pytest.approx(5 * 290 + 4 * 210)
    master.allow(None)
    assert master.run().cost == pytest.approx(9 * 210)


def test_what_there_is_and_who_eats_may_change():
    master = planned(demand("pig", 20.0))
    master.set_tonnes("bin", 4.0)
    assert master.run().cost == pytest.approx(5 * 210 + 15 * 290)
    master.set_needed(0, 0.5)
    assert master.run().cost == pytest.approx(5 * 210 + 5 * 290)
    master.set_energy(lambda _, found: 1.25 if found is OWN else 1.0)  # 5 t of it feed what 6.25 t did
    assert master.run().cost == pytest.approx(5 * 210 + 3.75 * 290)


def test_a_plan_is_held_to_the_kilogram():
    master = planned(demand("pig", 20.0))
    own, bought = master.portions()
    assert _fed(master, [replace(own, part=own.part + 0.9e-3 / 20), bought]) == []
    assert _fed(master, [own, replace(bought, part=bought.part - 1.1e-3 / 20)])[0].endswith("of its feed instead of 1")
    assert _stocks(master, [replace(own, part=own.part + 1.1e-3 / 20)]) == [], "0.88 kg of grain too much"
    assert _stocks(master, [replace(own, part=own.part + 1.3e-3 / 20)])[0].startswith("bin gives 10.001 t and has 10")
    with pytest.raises(SolverError, match="bin gives 16 t and has 10"):
        verify_plan(master, [replace(own, part=1.0)])


def test_windows_begin_and_end_with_what_is_to_be_had():
    """Barley from day 30, rye to day 99: the first to be without is 100."""
    these = [supply("barley", 1.0, first=30, last=500), supply("rye", 1.0, 5.0, last=99)]
    windows = windows_of(these, SEASON)
    assert windows == [range(0, 30), range(30, 100), range(100, 180)]
    assert [had_in(window, these) for window in windows] == [{"rye"}, {"barley", "rye"}, {"barley"}]


def test_what_there_is_none_of_cannot_be_had():
    """An offer without a stock has no end; one of 0 t is none, and a bin that is empty."""
    these = [supply("meal", 1.0), supply("salt", 1.0, 0.0), supply("bin", 1.0, 0.0), supply("bran", 1.0, 0.1)]
    assert had_in(range(SEASON.days), these) == {"meal", "bran"}


BINS = [supply("bin a", 1.0, 30.0, last=150), supply("bin b", 1.0, 60.0, first=20), supply("bin c", 1.0, 90.0, last=90)]


def test_bins_are_opened_by_what_keeps_and_for_as_long_as_they_last():
    """a has a sixth of the grain, b a third, c half: of 180 days 30, 60 and 90."""
    orders = list(_orders(BINS))
    assert orders[0] == ("bin c", "bin a", "bin b") and len(set(orders)) == 6, (
        "what keeps shortest first, then any order"
    )
    more = [*BINS, supply("bin d", 1.0, 1.0, last=100)]
    assert list(_orders(more)) == [("bin c", "bin d", "bin a", "bin b")], "of more than three one order"
    assert _first_changes(("bin a", "bin b", "bin c"), BINS, SEASON) == (30, 90)
    assert _first_changes(("bin c", "bin a", "bin b"), BINS, SEASON) == (90, 120)


def test_a_bin_is_there_from_its_change_to_the_next():
    found = opened_in_turn([*BINS, supply("soy", 1.0)], ("bin c", "bin b"), (80,))
    days = {each.name: (each.first, each.last) for each in found}
    assert days["bin c"] == (0, 79) and days["bin b"] == (80, 179) and days["soy"] == (0, 179)
    assert days["bin a"][1] < days["bin a"][0], "a bin out of the order is not there"
    kept = {each.name: (each.first, each.last) for each in opened_in_turn(BINS, ("bin b", "bin c", "bin a"), (10, 120))}
    assert kept["bin b"] == (20, 9) and kept["bin c"] == (10, 90) and kept["bin a"] == (120, 150), (
        "no longer than it keeps"
    )


def test_changes_move_and_stay_in_their_order():
    assert set(_moved((10, 90), 28, 180)) == {(38, 90), (10, 62), (10, 118)}, "not before the first day"
    assert set(_moved((10, 12), 7, 180)) == {(3, 12), (10, 19)}, "nor past each other"
    assert set(_moved((175,), 7, 180)) == {(168,)}, "nor past the last"


def test_a_few_mixes_that_serve_all():
    """Three demands (rows) and three mixes (columns). Left unfed they cost 100 each."""
    costs = np.array([[10.0, 30.0, 100.0], [100.0, 30.0, 10.0], [100.0, 30.0, 100.0]])
    unfed = [100.0, 100.0, 100.0]
    assert _median(costs, unfed, 1, 0.0) == [1], "one for all: 210 saved"
    assert sorted(_median(costs, unfed, None, 0.0)) == [0, 1, 2], "the others save 20 each"
    assert _median(costs, unfed, None, 20.0) == [1], "which is not worth 20 of work"
    assert _median(costs, unfed, None, 300.0) == []


def test_packages_of_what_is_used_and_what_is_left_over():
    """Of 25 kg each: 60 kg are three, 15 left; 10 that lie there are two, none left; a gram is not another one."""
    bags = replace(supply("salt", 1.0), package=0.025)
    assert (bags.packages(0.060), bags.left_over(0.060)) == (3, pytest.approx(0.015))
    stored = replace(bags, on_farm=0.010)
    assert (stored.packages(0.060), stored.left_over(0.060)) == (2, pytest.approx(0.0, abs=1e-12))
    assert (stored.packages(0.005), stored.left_over(0.005)) == (0, 0.0)
    assert bags.packages(0.0500000001) == 2 and bags.packages(0.0501) == 3
    assert supply("salt", 1.0).left_over(0.060) == 0.0, "what is used is paid"


@pytest.mark.parametrize(
    ("words", "filled", "last"),
    [
        ({COOL: "100", WARM: "40"}, date(2026, 11, 1), date(2027, 2, 8)),  # 100 days of November to February
        ({COOL: "200", WARM: "100"}, date(2026, 4, 1), date(2026, 7, 24)),  # 30 of 200 in April, 85 of 100 from May
        ({COOL: ">300", WARM: "60"}, date(2026, 3, 1), date(2026, 6, 29)),  # nothing is used up before May
        ({COOL: ">300", WARM: ">300"}, date(2026, 3, 1), None),
    ],
)
def test_how_long_moist_grain_keeps(monkeypatch, words, filled, last):
    """Days of a table add up, each a part of what its temperature allows, to the last that is whole."""
    estimate = SimpleNamespace(
        crops=(SimpleNamespace(crop="oats", share=1.0),), taken_on=None, moisture_from="meter", dry_matter_pct=84.0
    )
    monkeypatch.setattr(keeping, "moisture_limit", lambda crop, long, library: SimpleNamespace(pct=13.0))
    monkeypatch.setattr(keeping, "keeping_days", lambda moisture, at, crop, library: words[at])
    assert keeping.keeps_until(estimate, filled, None) == last
    dry = SimpleNamespace(**vars(estimate) | {"dry_matter_pct": 88.0})
    assert keeping.keeps_until(dry, filled, None) is None
    assert keeping.keeps_until(estimate, None, None) is None
