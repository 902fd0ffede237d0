"""What is asked of rations that are made, on records whose answers can be worked out on paper."""

from __future__ import annotations

from math import inf
from types import SimpleNamespace

import pytest

from rationlp.errors import SolverError
from rationlp.library.records import Price
from rationlp.rations.studies import asked_of_bin as asked_room
from rationlp.rations.studies import missing_offer as missing_room
from rationlp.rations.studies.asked_of_bin import asked_of_bin
from rationlp.rations.studies.missing_offer import (
    BEYOND_ROUNDING,
    _driver,
    _energy,
    _least_cost,
    _most_feed,
    list_price,
)
from rationlp.stages.model import Cap, Need, NeedKind


def line(nutrient: str, binding: str = "", minimum: float | None = None, maximum: float | None = None):
    return SimpleNamespace(nutrient=nutrient, binding=binding, minimum=minimum, maximum=maximum)


def ration(requirements, **shares: float):
    mix = [SimpleNamespace(offer=name, share=share) for name, share in shares.items()]
    return SimpleNamespace(mix=mix, requirements=requirements)


def farm_of(groups: int = 1):
    return SimpleNamespace(book=SimpleNamespace(groups=[None] * groups))


def test_what_binds_is_asked_of_the_grain(monkeypatch):
    """0.6 % of lysine in a mix that is four fifths grain is 0.75 % of the grain; the least of all rations counts."""
    first = ration([line("lysine", "minimum", 0.6), line("fibre", "", 3.0, 9.0)], north=0.8, meal=0.2)
    second = ration([line("lysine", "minimum", 0.9), line("sodium", "maximum", 0.1, 0.25)], north=0.5, meal=0.5)
    without = ration([line("lysine", "minimum", 0.1)], meal=1.0)
    zero = ration([line("zinc", "minimum", 0.0)], north=0.5)
    monkeypatch.setattr(asked_room, "formulate", lambda farm, bins: [first, second, without, zero])
    assert asked_of_bin(farm_of(), "north") == ({"lysine": pytest.approx(0.75), "sodium": pytest.approx(0.5)}, "")


def test_what_is_asked_where_there_is_no_ration(monkeypatch):
    def fails(farm, bins):
        raise SolverError("no answer")

    monkeypatch.setattr(asked_room, "formulate", fails)
    assert asked_of_bin(farm_of(0), "north") == ({}, "")
    asked, why = asked_of_bin(farm_of(), "north")
    assert asked == {} and why.startswith("Rations of bin north cannot be calculated") and "no answer" in why


def quoted(feed: str, price: float, day: str, currency: str = "USD", certification: str = "conventional"):
    return SimpleNamespace(
        feed=feed, price_per_tonne=price, quoted_on=day, currency=currency, certification=certification, source="market"
    )


@pytest.mark.parametrize(
    ("feed", "currency", "certification", "told"),
    [
        ("bran", "USD", "none", (90.0, "the list price of 2020-09-23", "market")),  # the newest
        ("bran", "USD", "us_organic", (300.0, "the list price of 2012-09", "market")),
        ("bran", "CAD", "none", None),
        ("corn", "CAD", "none", (250.0, "what your own grain would bring", "sale_price of the book")),  # the dearest
        ("corn", "USD", "none", (150.0, "the list price of 2020-09-23", "market")),
        ("peas_field", "CAD", "none", None),  # a pulse brings more than grain
    ],
)
def test_the_price_of_what_nobody_offers(feed, currency, certification, told):
    rows = [
        quoted("bran", 95.0, "2016-05-25"),
        quoted("bran", 90.0, "2020-09-23"),
        quoted("bran", 300.0, "2012-09", certification="organic"),
        quoted("corn", 150.0, "2020-09-23"),
    ]
    bins = [SimpleNamespace(sale_price_per_tonne=price) for price in (230.0, 250.0, None)]
    farm = SimpleNamespace(
        settings=SimpleNamespace(currency=currency, certification=certification),
        library=SimpleNamespace(table=lambda name, kind: rows if (name, kind) == ("prices", Price) else []),
        book=SimpleNamespace(bins=bins),
    )
    assert list_price(feed, farm) == told
    farm.book.bins = []
    assert list_price("corn", SimpleNamespace(**vars(farm) | {"settings": SimpleNamespace(**_cad())})) is None


def _cad() -> dict[str, str]:
    return {"currency": "CAD", "certification": "none"}


def need(minimum: float, kind: NeedKind = NeedKind.ENERGY_FLOOR, nutrient: str = "ne_pig"):
    return SimpleNamespace(kind=kind, nutrient=nutrient, minimum=minimum)


def test_the_least_that_a_ration_can_cost_with_a_feed(monkeypatch):
    """A unit of it saves 40; its caps let in a quarter of a mix of at most 1 / 2.5 units: 40 x 0.25 x 0.4 = 4."""
    monkeypatch.setattr(missing_room, "content", lambda cap, candidate: cap.content)
    caps = [SimpleNamespace(max_share=m, content=c) for m, c in ((0.3, 1.0), (0.25, 1.0), (0.01, 0.5), (None, 1.0))]
    stage = SimpleNamespace(energy="ne_pig", needs=[need(2300.0), need(2500.0), need(9000.0, nutrient="lysine")])
    wide = SimpleNamespace(candidates=["bran"], caps=caps, objective="per_energy", stage=stage)
    today = SimpleNamespace(objective=100.0, reduced_costs=(-40.0,))
    assert _most_feed(wide) == pytest.approx(0.4)
    assert _least_cost(wide, today, 0) == pytest.approx(100 - 4 * BEYOND_ROUNDING, abs=1e-12)
    wide.objective = "per_tonne"
    assert _least_cost(wide, today, 0) == pytest.approx(100 - 10 * BEYOND_ROUNDING, abs=1e-12)
    wide.caps = [SimpleNamespace(max_share=0.0, content=1.0)]
    assert _least_cost(wide, today, 0) == 100.0, "none of it may be fed"
    wide.objective, stage.needs = "per_energy", []
    assert _most_feed(wide) == inf and _least_cost(wide, today, 0) == 100.0


def test_the_energy_of_todays_mix():
    """3 parts of 2,400 and 1 of 3,200 kcal/kg are 2,600: 2.6 Gcal in a tonne."""
    candidates = [SimpleNamespace(values={"ne_pig": energy}) for energy in (2400.0, 3200.0)]
    formula = SimpleNamespace(candidates=candidates, stage=SimpleNamespace(energy="ne_pig"))
    assert _energy(formula, SimpleNamespace(amounts=(3.0, 1.0))) == pytest.approx(2.6)


def a_cap(feed: str, most: float = 0.2) -> Cap:
    return Cap(feed, frozenset({feed}), most, None, "a reason", "a source")


def a_floor() -> Need:
    return Need("ne_pig", "kcal/kg", 2300.0, kind=NeedKind.ENERGY_FLOOR)


@pytest.mark.parametrize(
    ("duals", "fat", "driver"),
    [
        ((-100.0, 3.0, 0.0), 0.0, "The cap on Peas"),  # 100 x 0.2 a tonne
        ((-10.0, 3.0, 0.0), 0.0, "The energy floor"),  # 2 beside 3
        ((0.0, 0.0, -900.0), 0.0, None),  # salt keeps a filler out: no feed mends that
        ((0.0, 0.0, 0.0), 0.03, "Added fat"),
        ((0.0, 0.0, 0.0), 0.001, None),  # less than the scales can weigh
        ((0.0, 1e-9, 0.0), 0.03, "Added fat"),  # a price of rounding drives nothing
    ],
)
def test_what_drives_the_cost(monkeypatch, duals, fat, driver):
    monkeypatch.setattr(missing_room, "feed_label", lambda feed, library: feed.title())
    groups = {"peas": SimpleNamespace(group="pulse"), "salt": SimpleNamespace(group="mineral")}
    rows = [SimpleNamespace(sense=sense) for sense in ("<=", ">=", "<=")]
    formula = SimpleNamespace(
        program=SimpleNamespace(rows=rows),
        sources=(a_cap("peas"), a_floor(), a_cap("salt")),
        candidates=[SimpleNamespace(group="pulse"), SimpleNamespace(group="fat")],
        least_share=0.002,
    )
    answer = SimpleNamespace(
        solution=SimpleNamespace(row_duals=duals, objective=100.0), amounts=(2 * (1 - fat), 2 * fat)
    )
    assert _driver(formula, answer, SimpleNamespace(feeds=groups)) == driver
