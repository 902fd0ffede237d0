"""Bins opened one after another, and feed in reserve past the harvest."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from rationlp.farm import Farm
from rationlp.herd.moves import fed_animals
from rationlp.herd.season import season_of
from rationlp.year.days import by_day, used_of
from rationlp.year.plan import plan_year
from rationlp.year.program.supplies import supplies_of
from rationlp.year.program.turns import Turns, opened_in_turn


@pytest.fixture(scope="module")
def two_bins(demo_book, library):
    """The demo farm with two groups and two small bins, both scarce."""
    groups = tuple(row for row in demo_book.groups if row.group in ("sows_early", "sows_nursing"))
    bins = tuple(replace(row, mass_kg=4_000.0, wall_depth_m=None) for row in demo_book.bins)
    book = replace(demo_book, bins=bins, groups=groups, herd=(), arrivals=())
    return Farm(book, library).with_setting("next_harvest_on", "2026-04-01")


@pytest.fixture(scope="module")
def in_turn(two_bins):
    return plan_year(two_bins.with_setting("bins_in_turn", "yes"))


@pytest.mark.slow
def test_no_two_bins_are_drawn_from_on_one_day(in_turn):
    supplies = in_turn.search.master.supplies
    days = by_day(in_turn.portions, supplies, in_turn.season)
    north, south = (used_of(name, days, in_turn.season) for name in ("north", "south"))
    assert north.sum() > 0.1
    assert south.sum() > 0.1
    assert not np.any((north > 1e-9) & (south > 1e-9))
    assert any(note.startswith("The bins are opened one after another: ") for note in in_turn.notes)


@pytest.mark.slow
def test_the_days_of_change_are_better_than_others_and_no_plan_is_below_the_bound(in_turn, two_bins):
    season = season_of(two_bins.book)
    supplies = supplies_of(two_bins, season)
    asked = Turns(two_bins, season, fed_animals(two_bins.book, season), supplies, 0.0)
    for order in (("north", "south"), ("south", "north")):
        for change in range(0, season.days, 30):
            assert in_turn.cost <= asked.cost(order, (change,)) * (1 + 1e-6)
    open_all = plan_year(two_bins)
    assert in_turn.bound == pytest.approx(open_all.bound, rel=1e-9)
    assert open_all.cost <= in_turn.cost * (1 + 1e-9)


def test_each_bin_is_there_until_the_next_is_opened(two_bins):
    season = season_of(two_bins.book)
    opened = {s.name: s for s in opened_in_turn(supplies_of(two_bins, season), ("south", "north"), (60,))}
    assert (opened["south"].first, opened["south"].last) == (0, 59)
    assert (opened["north"].first, opened["north"].last) == (60, season.days - 1)


@pytest.mark.slow
def test_past_the_harvest_only_those_that_must_not_lack_are_fed(two_bins):
    plain = plan_year(two_bins)
    kept = plan_year(two_bins.with_setting("reserve_days", 20))
    assert kept.season.last == date(2026, 4, 20)
    head = {fed.group: fed.head for fed in kept.animals}
    assert not head["sows_early"][-20:].any()
    assert head["sows_early"][-21] > 0
    assert head["sows_nursing"][-20:].all()
    eaten = {u.group: 0.0 for u in kept.uses}
    for use in kept.uses:
        if use.month == "2026-04" and use.bin in (None, *use_of_one_bin(kept, use)):
            eaten[use.group] += use.mix_tonnes
    assert eaten["sows_early"] == 0
    assert eaten["sows_nursing"] > 0
    assert kept.cost > plain.cost
    assert any("in reserve for 20 days past the harvest" in note for note in kept.notes)


def use_of_one_bin(year, use):
    """The first bin that a mix is drawn from: a mix of two bins has a row for each."""
    return [u.bin for u in year.uses if (u.month, u.group, u.mix) == (use.month, use.group, use.mix)][:1]
