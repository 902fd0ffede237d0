"""Offers over the groups of a farm: two rations and three offers, every figure calculated by hand."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace

import pytest

from rationlp.offers import purchases as room
from rationlp.offers.purchases import over_stock, purchases, tonnes_fed, weights_of


@dataclass
class Line:
    """What one offer is to one ration."""

    stage: str
    offer: str
    share: float = 0.0
    saves_per_tonne: float | None = None
    replaced_by: tuple[tuple[str, float], ...] = ()
    mix_stays_from: float | None = None
    mix_stays_to: float | None = None
    enters_below: float | None = None
    indispensable: bool = False
    label: str = "Label"

    @property
    def in_mix(self) -> bool:
        return self.share > 0


def case(stage: str, bin_: str = "north", priced: object = 1):
    formula = SimpleNamespace(stage=SimpleNamespace(stage=stage), bin=bin_)
    return SimpleNamespace(formula=formula, priced=priced, ration=stage)


def offer(name: str, price: float, package_kg: float | None = None, stock_kg: float | None = None):
    return SimpleNamespace(offer=name, price_per_tonne=price, package_kg=package_kg, stock_kg=stock_kg)


EATEN = {"pigs": 20.0, "boars": 5.0, "hens": 10.0}
BOOK = SimpleNamespace(
    groups=[SimpleNamespace(group=name, stage="hen" if name == "hens" else "pig") for name in EATEN],
    supplements=[offer("soy", 400.0, 25.0, 5000.0), offer("rape", 300.0), offer("salt", 100.0, 50.0)],
)
CASES = [case("pig"), case("hen")]
WORTHS = [
    [
        Line("pig", "soy", 0.10, 30.0, (("rape", 0.12), ("salt", 0.01)), 350.0, 450.0),
        Line("pig", "rape", enters_below=280.0),
        Line("pig", "salt", 0.004, indispensable=True),
    ],
    [
        Line("hen", "soy", 0.20, 50.0, (("rape", 0.3),), 300.0, 420.0),
        Line("hen", "rape", enters_below=290.0),
        Line("hen", "salt", 0.003, 7.0),
    ],
]


@pytest.fixture(autouse=True)
def eaten(monkeypatch):
    monkeypatch.setattr(room, "group_feed", lambda group, ration: SimpleNamespace(tonnes=EATEN[group.group]))


def test_tonnes_of_each_ration():
    assert tonnes_fed(CASES, BOOK) == [25.0, 10.0]
    assert tonnes_fed([case("pig", priced=None), case("hen")], BOOK) == [0.0, 10.0], "a ration that was not made"
    assert weights_of(CASES, BOOK) == {0: 25.0, 1: 10.0}
    nobody = SimpleNamespace(groups=[])
    assert weights_of([case("pig", priced=None), case("hen")], nobody) == {0: 0.0, 1: 1.0}


def test_what_is_bought_and_what_it_saves():
    """25 t of pig feed with 10 % of soy and 10 t of hen feed with 20 %: 4.5 t, 1,800; without it 25 x 30 + 10 x 50."""
    salt, soy, rape = purchases(CASES, WORTHS, BOOK)
    assert [row.offer for row in (salt, soy, rape)] == ["salt", "soy", "rape"], "what no ration can do without is first"
    assert (soy.tonnes, soy.cost, soy.at_stake) == pytest.approx((4.5, 1800, 1250)) and soy.needed_by == ()
    assert dict(soy.second_best) == pytest.approx({"rape": 6.0, "salt": 0.25}) and soy.second_best[0][0] == "rape"
    assert (soy.stays_from, soy.stays_to, soy.enters_below, soy.enters_in) == (350.0, 420.0, None, "")
    assert soy.packages == 180 and soy.stock_tonnes == 5.0
    assert (salt.tonnes, salt.cost, salt.at_stake, salt.needed_by) == (
        pytest.approx(0.13),
        pytest.approx(13),
        None,
        ("pig",),
    )
    assert salt.packages == 3 and salt.stock_tonnes is None, "130 kg are in three bags of 50 kg"
    assert (rape.tonnes, rape.at_stake, rape.packages, rape.second_best) == (0, 0, None, ())
    assert (rape.enters_below, rape.enters_in) == (290.0, "hen"), "the first price at which it is bought"


def test_each_bin_is_counted_apart():
    found = purchases([*CASES, case("pig", "south"), case("cow", "west")], [*WORTHS, WORTHS[0], WORTHS[0]], BOOK)
    assert [(row.bin, row.offer) for row in found[3:]] == [("south", "salt"), ("south", "soy"), ("south", "rape")]
    assert found[4].tonnes == pytest.approx(2.5)


def test_the_three_best_in_its_place():
    gains = tuple((f"feed {place}", place / 100) for place in range(1, 6))
    (found,) = purchases([case("hen")], [[Line("hen", "soy", 0.2, 1.0, gains)]], BOOK)
    assert [name for name, _ in found.second_best] == ["feed 5", "feed 4", "feed 3"]


@pytest.mark.parametrize(("tonnes", "stock", "over"), [(5.0, 5.0, False), (5.1, 5.0, True), (5.1, None, False)])
def test_more_than_there_is(tonnes, stock, over):
    assert over_stock(SimpleNamespace(tonnes=tonnes, stock_tonnes=stock)) is over
