"""Draws of prices, harvest, bins, energy and losses, and the plan that survives more of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from rationlp.book.records import Crop, Place
from rationlp.farm import Farm
from rationlp.reasons import Kind, Reason, Severity, Verdict
from rationlp.year.draws import _draw, _energy, _yield, draw_years
from rationlp.year.model import Draws
from rationlp.year.plan import YearRequest, plan_year
from rationlp.year.program.kitchen import same_mix
from rationlp.year.program.master import Master
from rationlp.year.program.search import Search
from rationlp.year.studies.surer import with_surer

REQUEST = YearRequest()


@pytest.fixture(scope="module")
def field_farm(demo_book, library):
    """The demo farm with two groups, its north bin still in the field when the year begins."""
    groups = tuple(row for row in demo_book.groups if row.group in ("growers_early", "sows_early"))
    later = date(2025, 11, 1)
    bins = tuple(replace(row, filled_on=later) if row.bin == "north" else row for row in demo_book.bins)
    crops = tuple(
        replace(row, yield_low_kg_per_ha=0.5 * row.yield_kg_per_ha, yield_high_kg_per_ha=1.2 * row.yield_kg_per_ha)
        for row in demo_book.crops
    ) or (Crop(Place(), "triticale", 4000.0, 2000.0, 4800.0),)
    return Farm(replace(demo_book, bins=bins, groups=groups, herd=(), arrivals=(), crops=crops), library)


@pytest.mark.slow
def test_a_harvest_still_in_the_field_goes_with_its_yields(field_farm):
    search = plan_year(field_farm).search
    drawn = [_draw(search, np.random.default_rng(seed)) for seed in range(12)]
    mean = {s.name: s.mean_tonnes for s in search.supplies if s.is_bin}
    sd = {s.name: s.sd for s in search.supplies if s.is_bin}
    spread = {name: np.std([each[name] for each in drawn]) for name in mean}
    assert spread["north"] > 1.5 * sd["north"]
    assert spread["south"] < 1.5 * sd["south"]
    assert np.mean([each["north"] for each in drawn]) < mean["north"]  # a poor year is further off than a good one


def test_a_yield_without_a_spread_is_as_it_was_thought():
    assert _yield(Crop(Place(), "triticale", 4000.0), np.random.default_rng(1)) == 1.0


def test_of_a_leaner_bin_more_is_eaten_and_after_the_draws_all_is_as_it_was(field_farm):
    year = plan_year(field_farm)
    search = year.search
    demand, mix = next((p.demand, p.mix) for p in year.portions if not p.demand.by_weight and "south" in p.mix.names)
    assert _energy(search, demand, mix, {"north": 0.0, "south": -2.0}) < 1
    assert _energy(search, demand, mix, {}) == 1
    search.master.set_energy(lambda demand, mix: 0.9)
    assert search.master.run().cost > year.cost * 1.05
    search.master.set_energy(lambda demand, mix: 1.0)
    found = draw_years(year, 5)
    assert draw_years(year, 5) == found
    assert search.master.answer.cost == pytest.approx(year.cost, rel=1e-9)


def test_a_surer_plan_survives_more_draws_and_says_what_it_costs(small_year, library):
    year = plan_year(small_year(1).farm(library), YearRequest(draws=1))
    assert year.draws.survived == 1
    assert with_surer(year, REQUEST) is year
    weak = replace(year, draws=Draws(3, 1, 0.5, None, None, None, ()))  # as if its mixes had failed in half of them
    surer = with_surer(weak, REQUEST).draws.surer
    assert surer.survived == 1
    assert surer.extra_cost > 0  # a tenth of the cheap stocks is kept back
    assert surer.mixes >= 1


def test_no_draw_is_survived_by_a_mix_that_must_not_be_fed(field_farm, monkeypatch):
    """Of a year of any number of mixes all that were found were let in, those nobody had judged with them."""
    year = plan_year(field_farm)
    ration, stop = Search.ration, Reason(Kind.SAFETY, Severity.STOP, "Must not be fed.")
    last = same_mix(year.portions[-1].mix.shares)

    def judged(search, mix, stage):
        found = ration(search, mix, stage)
        return replace(found, verdict=Verdict((stop,))) if same_mix(mix.shares) == last else found

    monkeypatch.setattr(Search, "ration", judged)
    fed, portions = [], Master.portions
    monkeypatch.setattr(Master, "portions", lambda self: fed.append(portions(self)) or fed[-1])
    draw_years(year, 3)
    assert not year.search.barred  # after the draws all is as it was
    assert last not in {same_mix(portion.mix.shares) for portion in fed[-1]}
