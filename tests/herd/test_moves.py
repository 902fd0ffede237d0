"""The herd as a flow against a simulation animal by animal, and the sheets it is written on."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from rationlp.book import check_book
from rationlp.book.records import Arrival, Book, Group, HerdStep, Place, Settings
from rationlp.errors import BookError
from rationlp.farm import Farm
from rationlp.herd.moves import fed_animals, herd_head, lots_of
from rationlp.herd.season import Season, season_of

START = date(2026, 10, 1)
SEASON = Season(START, START + timedelta(days=364))


def step(line, name, days, **more):
    return HerdStep(Place(), line, name, "sw_gro_25_50", days, **more)


SOWS = (
    step("sows", "dry", 114, losses=0.02),
    step("sows", "milk", 28, losses=0.01, then="again", brings="pigs", per_head=10.0),
    step("pigs", "weaner", 42, losses=0.03),
    step("pigs", "grower", 60, losses=0.01),
    step("pigs", "finisher", 50),
)
FORTY_SOWS = tuple(
    Arrival(Place(), "sows", "dry", START + timedelta(days=21 * k - 100), 6 if k else 4) for k in range(7)
)


def animals_one_by_one(seed):
    """Head by step and day of a herd in which every animal dies, or not, on a day of its own."""
    rng = np.random.default_rng(seed)
    lines = {}
    for each in SOWS:
        lines.setdefault(each.line, []).append(each)
    head = {(each.line, each.step): np.zeros(SEASON.days) for each in SOWS}
    waiting = [(a.line, 0, SEASON.place(a.on)) for a in FORTY_SOWS for _ in range(a.head)]
    while waiting:
        line, place, day = waiting.pop()
        each = lines[line][place]
        dies = rng.random() < each.losses
        lives = rng.uniform(0, each.days) if dies else each.days
        for d in range(each.days):
            if 0 <= day + d < SEASON.days and lives > d + 0.5:
                head[line, each.step][day + d] += 1
        after = day + each.days
        if dies or after >= SEASON.days:
            continue
        waiting += [(each.brings, 0, after)] * int(each.per_head)
        if each.then:
            waiting.append((line, 0, after))
        elif place + 1 < len(lines[line]):
            waiting.append((line, place + 1, after))
    return head


@pytest.mark.slow
def test_the_flow_is_the_mean_of_herds_simulated_animal_by_animal():
    flow = {fed.group: fed.head for fed in herd_head(SOWS, FORTY_SOWS, SEASON, {})}
    draws = [animals_one_by_one(seed) for seed in range(12)]
    for each in SOWS:
        mean = np.mean([draw[each.line, each.step].sum() for draw in draws])
        assert flow[f"{each.line}: {each.step}"].sum() == pytest.approx(mean, rel=0.02)


def test_without_losses_the_flow_is_the_simulation_to_the_day():
    whole = tuple(step(e.line, e.step, e.days, then=e.then, brings=e.brings, per_head=e.per_head) for e in SOWS)
    flow = {fed.group: fed.head for fed in herd_head(whole, FORTY_SOWS, SEASON, {})}
    assert flow["sows: dry"].sum() + flow["sows: milk"].sum() == pytest.approx(
        sum(a.head * (SEASON.days - max(SEASON.place(a.on), 0)) for a in FORTY_SOWS)
    )
    farrowed = 6 * 10.0
    assert flow["pigs: weaner"][SEASON.place(START + timedelta(days=21 - 100 + 142))] >= farrowed


def test_losses_come_evenly():
    one = (step("pigs", "all", 10, losses=0.5),)
    (fed,) = herd_head(one, (Arrival(Place(), "pigs", "all", START, 100),), SEASON, {})
    assert fed.head[:10].tolist() == pytest.approx([97.5, 92.5, 87.5, 82.5, 77.5, 72.5, 67.5, 62.5, 57.5, 52.5])
    assert fed.head[10:].sum() == 0


def test_an_arrival_repeats_as_often_as_it_says_or_to_the_end():
    one = (step("chicks", "all", 10),)
    often = Arrival(Place(), "chicks", "all", START, 30, every_days=60, times=2)
    always = Arrival(Place(), "chicks", "all", START, 30, every_days=60, times=None)
    assert herd_head(one, (often,), SEASON, {})[0].head_days == 600
    assert herd_head(one, (always,), SEASON, {})[0].head_days == 30 * 10 * 7 - 30 * 5


def test_groups_are_fed_on_their_days_of_the_season():
    book = Book(None, Settings(), groups=(Group(Place(), "g", "s", 5, None, START + timedelta(days=9)),))
    assert [(fed.group, fed.head_days) for fed in fed_animals(book, SEASON)] == [("g", 50)]


@pytest.mark.parametrize("last", [None, START + timedelta(days=364), START + timedelta(days=900)])
def test_a_group_that_stays_is_fed_to_the_last_day_of_the_season(last):
    group = Group(Place(), "g", "s", 5, START + timedelta(days=360), last)
    (fed,) = fed_animals(Book(None, Settings(), groups=(group,)), SEASON)
    assert fed.head.tolist() == [0.0] * 360 + [5.0] * 5


def test_the_lots_of_a_season_are_those_that_come_or_are_born_in_it():
    """From its first day to its last; what went on from another step is no new lot."""
    pigs = (step("pigs", "weaner", 10), step("pigs", "grower", 20))
    days = {-1: 7, 0: 8, 364: 9, 365: 10}
    came = tuple(Arrival(Place(), "pigs", "weaner", START + timedelta(days=day), head) for day, head in days.items())
    lots = lots_of(Book(None, Settings(), herd=pigs, arrivals=came), SEASON)
    assert [(lot.on, lot.head) for lot in lots] == [(START, 8), (START + timedelta(days=364), 9)]


def test_a_lot_that_is_born_and_one_that_is_left_out():
    """20 sows of which a tenth is lost bring 9 pigs each after 50 days: 162. Left out, they are no lot and eat nothing;
    pigs that came on another day stay, and move on on the very day that is left out."""
    herd = (
        step("sows", "dry", 50, losses=0.1, brings="pigs", per_head=9.0),
        step("pigs", "weaner", 10),
        step("pigs", "grower", 20),
    )
    born = START + timedelta(days=50)
    came = tuple(
        Arrival(Place(), line, name, START + timedelta(days=day), head)
        for line, name, day, head in (("sows", "dry", 0, 20), ("pigs", "weaner", 40, 5))
    )
    book = Book(None, Settings(), herd=herd, arrivals=came)
    lots = [(lot.line, lot.on, pytest.approx(lot.head)) for lot in lots_of(book, SEASON)]
    assert lots == [("sows", START, 20), ("pigs", START + timedelta(days=40), 5), ("pigs", born, 162)]
    without = replace(book, left_out=frozenset({("pigs", born)}))
    assert [(lot.line, lot.head) for lot in lots_of(without, SEASON)] == [("sows", 20), ("pigs", 5)]
    fed = {(each.group.split(": ")[-1], each.head[50], each.head[60]) for each in fed_animals(without, SEASON)}
    assert ("grower", 5, 5) in fed and ("weaner", 0, 0) in fed
    assert {each.group.split(": ")[-1]: each.head[50] for each in fed_animals(book, SEASON)}["weaner"] == pytest.approx(
        162
    )


@pytest.mark.parametrize("last", [-400, -2, -1, 0, 400])
def test_a_group_that_left_before_the_plan_begins_is_not_fed(last):
    group = Group(Place(), "g", "s", 5, START - timedelta(days=500), START + timedelta(days=last))
    fed = fed_animals(Book(None, Settings(), groups=(group,)), SEASON)
    assert sum(each.head_days for each in fed) == 5 * min(max(last + 1, 0), SEASON.days)


@pytest.mark.slow
def test_a_line_that_brings_itself_is_a_problem_of_its_cell():
    breeds = (step("mice", "all", 1, then="again", brings="mice", per_head=2.0),)
    with pytest.raises(BookError, match="brings animals without end"):
        herd_head(breeds, (Arrival(Place(), "mice", "all", START, 1),), SEASON, {})


def test_the_months_of_a_season_are_those_of_the_calendar():
    months = Season(date(2026, 10, 15), date(2027, 1, 2)).months
    assert [(m.label, m.days) for m in months] == [("2026-10", 17), ("2026-11", 30), ("2026-12", 31), ("2027-01", 2)]


@pytest.mark.parametrize(("reserve", "last"), [(0, date(2027, 8, 31)), (30, date(2027, 9, 30))])
def test_a_season_ends_the_day_before_the_harvest_and_its_reserve_behind_it(reserve, last):
    farm = Settings(plan_from=START, next_harvest_on=date(2027, 9, 1), reserve_days=reserve)
    season = season_of(Book(None, farm))
    assert (season.first, season.last) == (START, last) and not season.notes


def test_a_season_without_dates_asks_for_one():
    with pytest.raises(BookError, match="no plan_from"):
        season_of(Book(None, Settings()))


BASE = {
    "farm": [{"setting": "units", "value": "us"}, {"setting": "plan_from", "value": "2026-10-01"}],
    "supplements": [{"offer": "it", "feed": "corn", "price": 100}],
}
FAULTS = {
    "then": ({"then": "nobody"}, {}, "herd!E2", "the line 'nobody'"),
    "brings": ({"brings": "pigs", "per_head": "3"}, {}, "herd!E2", "the line 'pigs'"),
    "per head": ({"brings": "sows"}, {}, "herd!E2", "brings without per_head"),
    "line": ({}, {"line": "sow"}, "arrivals!A2", "the line 'sow'"),
    "step": ({}, {"step": "dri"}, "arrivals!B2", "the step 'dri'"),
    "times": ({}, {"times": "3"}, "arrivals!E2", "3 times, without every_days"),
    "stage": ({"stage": "sw_gest_p2_earlyy"}, {}, "herd!C2", "the stage 'sw_gest_p2_earlyy'"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_every_slip_of_the_herd_has_its_cell(write_book, library, name):
    herd, arrival, cell, found = FAULTS[name]
    step_row = {"line": "sows", "step": "dry", "stage": "sw_gest_p2_early", "days": 114, **herd}
    arrival_row = {"line": "sows", "step": "dry", "on": "2026-10-01", "head": 40, **arrival}
    path = write_book({**BASE, "herd": [step_row], "arrivals": [arrival_row]})
    problems = [p for p in check_book(path, library) if p.severity == "error"]
    assert [f"{p.sheet}!{p.cell}" for p in problems] == [cell]
    assert found in problems[0].found


def test_acres_and_pounds_are_read_as_hectares_and_kilograms(make_book):
    crop = {"crop": "wheat_hard_red", "yield": "4000", "seed_rate": "90", "seed_price": "0.4", "per_mass": "1 lb"}
    book = make_book({**BASE, "crops": [crop]})
    assert book.crops[0].yield_kg_per_ha == pytest.approx(4000 * 0.45359237 / 0.40468564224)
    assert book.crops[0].seed_price_per_tonne == pytest.approx(0.4 / 0.45359237 * 1000)


def test_offers_and_harvest_whose_days_are_turned_round_are_problems(write_book, library):
    farm = [*BASE["farm"], {"setting": "next_harvest_on", "value": "2026-09-01"}]
    offer = [{"offer": "it", "feed": "corn", "price": 100, "from": "2026-12-01", "until": "2026-11-01"}]
    problems = check_book(write_book({"farm": farm, "supplements": offer}), library)
    assert [p.found for p in problems if p.severity == "error"] == [
        "next_harvest_on 2026-09-01, not after plan_from 2026-10-01",
        "until 2026-11-01 before from 2026-12-01 (D2)",
    ]


def test_a_step_of_the_herd_kept_outdoors_eats_as_a_group_does(demo_book, library):
    def fed(book):
        return Farm(book, library).stage("sw_gest_p2_early").daily_feed_kg

    indoors = replace(demo_book, groups=(), herd=())
    group = Group(Place(), "g", "sw_gest_p2_early", 5, housing="outdoor")
    outdoors = tuple(replace(row, stage="sw_gest_p2_early", housing="outdoor") for row in (step("sows", "dry", 85),))
    assert fed(replace(indoors, herd=outdoors)) == fed(replace(indoors, groups=(group,))) > fed(indoors)
    assert fed(replace(indoors, herd=outdoors, groups=(replace(group, housing="indoor"),))) == fed(indoors)
