"""Crops taken apart, next season's seed, and the land equivalent ratio."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from rationlp.book.records import Crop, Offer, Place
from rationlp.cli.app import app
from rationlp.errors import RequestError
from rationlp.farm import Farm
from rationlp.feeds.candidates import offer_candidates
from rationlp.herd.moves import fed_animals
from rationlp.herd.season import season_of
from rationlp.show.year.studies import IN_VAIN
from rationlp.stages.certification import certified
from rationlp.year.program.supplies import supplies_of
from rationlp.year.studies import separate
from rationlp.year.studies.seed_mix import CAUTION, _Field, blended, land_equivalent_ratio, seed_mix


@pytest.fixture(scope="session")
def small_farm(demo_book, library):
    """The demo farm with two groups, so that a year takes a blink."""
    groups = tuple(row for row in demo_book.groups if row.group in ("growers_early", "hens"))
    return Farm(replace(demo_book, groups=groups, herd=(), arrivals=()), library)


def test_the_published_ratio():
    """Example ler_basic (computed): pea 2.4 of 4.0 and barley 1.5 of 3.0 t/ha; land saved 1 - 1/LER."""
    ratio = land_equivalent_ratio({"pea": 2.4, "barley": 1.5}, {"pea": 4.0, "barley": 3.0})
    assert ratio == pytest.approx(1.1, abs=0.01)
    assert 100 * (1 - 1 / ratio) == pytest.approx(9.09, abs=0.01)


@pytest.mark.slow
def test_crops_apart_are_the_bin_together(small_farm, monkeypatch):
    monkeypatch.setattr(separate, "PURITY", 1.0)
    monkeypatch.setattr(separate, "LOST", 0.0)
    (bin_,) = [s for s in supplies_of(small_farm, season_of(small_farm.book)) if s.name == "north"]
    streams = separate.crop_streams(small_farm, bin_)
    assert sum(stream.tonnes for stream in streams.values()) == pytest.approx(bin_.tonnes)
    for nutrient in ("crude_protein", "lysine", "ne_pig"):
        together = sum(s.tonnes * s.candidate.values[nutrient] for s in streams.values()) / bin_.tonnes
        assert together == pytest.approx(bin_.candidate.values[nutrient], rel=1e-9)
    crop, stream = next(iter(streams.items()))
    rest = separate.without_crop(bin_, stream, crop)
    whole = stream.tonnes * stream.candidate.values["lysine"] + rest.tonnes * rest.candidate.values["lysine"]
    assert whole == pytest.approx(bin_.tonnes * bin_.candidate.values["lysine"], rel=1e-9)


@pytest.mark.long
def test_free_and_perfect_separation_never_costs(small_farm, monkeypatch):
    monkeypatch.setattr(separate, "PURITY", 1.0)
    monkeypatch.setattr(separate, "LOST", 0.0)
    book = replace(
        small_farm.book, crops=tuple(replace(row, cleaning_cost_per_tonne=0.0) for row in small_farm.book.crops)
    )
    found = separate.worth_of_separating(Farm(book, small_farm.library), ["south"])
    everything = next(row for row in found if len(row.crops) > 1)
    assert everything.worth_per_tonne >= -1e-6
    costly = separate.worth_of_separating(small_farm, ["south"])
    assert next(row for row in costly if len(row.crops) > 1).worth_per_tonne < everything.worth_per_tonne


@pytest.mark.slow
def test_what_is_lost_in_cleaning_is_missed_at_what_it_brings(small_farm, monkeypatch):
    """Of a bin that is not fed up nothing of value was lost; grain in the cleaner's waste was as good as sold."""
    monkeypatch.setattr(separate, "PURITY", 0.0)  # nothing becomes better
    monkeypatch.setattr(separate, "LEAST_SHARE", 0.2)
    groups = tuple(replace(row, head=20) for row in small_farm.book.groups if row.group == "growers_early")
    crops = tuple(replace(row, cleaning_cost_per_tonne=0.0) for row in small_farm.book.crops)
    farm = Farm(replace(small_farm.book, groups=groups, crops=crops), small_farm.library)
    (bin_,) = [s for s in supplies_of(farm, season_of(farm.book)) if s.name == "north"]
    for row in separate.worth_of_separating(farm, ["north"]):
        taken = separate.held_share(bin_, row.crops[0]) if len(row.crops) == 1 else 1.0
        assert row.worth_per_tonne == pytest.approx(-separate.LOST * taken * bin_.price_per_tonne, abs=1e-3)


def test_of_a_bin_of_one_crop_nothing_is_separated(small_farm, monkeypatch):
    """It was divided by what is left when all is taken out: a traceback."""
    monkeypatch.setattr(separate, "LEAST_SHARE", 0.3)
    (bin_,) = [s for s in supplies_of(small_farm, season_of(small_farm.book)) if s.name == "north"]
    assert len(separate.crop_streams(small_farm, bin_)) == 1
    assert list(separate._ways(small_farm, bin_)) == []


def test_the_crops_of_an_organic_bin_are_organic(small_farm):
    """They were left out as not certified, so that separating them seemed to cost what all feed of the bin is worth."""
    book = small_farm.book
    farm = Farm(replace(book, farm=replace(book.farm, certification="eu_organic")), small_farm.library)
    (bin_,) = [s for s in supplies_of(farm, season_of(farm.book)) if s.name == "north"]
    streams = [stream.candidate for stream in separate.crop_streams(farm, bin_).values()]
    assert len(streams) > 2
    assert certified(streams, farm.book, farm.library).kept == tuple(streams)


@pytest.mark.parametrize("seed", range(4))
def test_a_field_is_worth_what_one_program_written_by_hand_says(small_year, library, seed):
    """The feed of the year less what the harvest would bring, and the seed, for shares that nobody would sow, too."""
    year = replace(small_year(seed), stocks=[0.0, 0.0, *[None] * (len(small_year(seed).prices) - 2)])
    farm = year.farm(library)
    season, price = season_of(farm.book), 150.0
    crops = (Crop(Place(), "feed_0", 4000.0, seed_kg_per_ha=160.0, seed_price_per_tonne=500.0),)
    crops = (
        *crops,
        Crop(Place(), "feed_1", 2000.0, seed_kg_per_ha=100.0, seed_price_per_tonne=900.0, beside_others=1.1),
    )
    offers = tuple(s for s in supplies_of(farm, season) if s.tonnes is None)
    grown = tuple(Offer(Place(), row.crop, row.crop, home_grown=True) for row in crops)
    made = offer_candidates(replace(farm.book, supplements=grown), library)
    candidates = {row.crop: candidate for row, candidate in zip(crops, made, strict=True)}
    animals = tuple(fed_animals(farm.book, season))
    field = _Field(farm, season, animals, animals, offers, crops, candidates, price, 5.0)
    for share in (0.2, 0.7):
        harvest = [5 * share * 4.0, 5 * (1 - share) * 2.0 * 1.1]
        blend = np.array(harvest) / sum(harvest) @ year.means[:2]
        hand = replace(
            year,
            means=np.vstack([blend, year.means[2:]]),
            prices=np.array([price, *year.prices[2:]]),
            stocks=[sum(harvest), *[None] * (len(year.prices) - 2)],
            until=[99] * (len(year.prices) - 1),
        )
        seed_cost = 5 * (share * 160 * 0.5 + (1 - share) * 100 * 0.9)
        expected = hand.by_hand() - price * sum(harvest) + seed_cost
        assert field.money((share, 1 - share)) == pytest.approx(expected, rel=1e-6, abs=0.02)


@pytest.mark.slow
def test_where_somebody_cannot_be_fed_nothing_is_told_of_home_grown_feed_separating_or_seed(write_book):
    """The feed that is missing counts far above any other in the program, and stood in these figures as money."""
    days = [("plan_from", "2026-10-01"), ("next_harvest_on", "2026-12-31"), ("objective", "per_tonne")]
    offer = {"offer": "grain", "feed": "my_grain", "price": "200", "stock_mass": "1000"}
    figure = {"feed": "my_grain", "nutrient": "vigour", "value": "5", "unit": "%", "basis": "as_fed"}
    need = {"stage": "my_pigs", "nutrient": "vigour", "minimum": "4", "unit": "%", "per": "kg"}
    sheets = {
        "farm": [{"setting": name, "value": value} for name, value in days],
        "supplements": [offer],
        "own_feeds": [figure],
        "own_stages": [need],
        "groups": [{"group": "pigs", "stage": "my_pigs", "head": "100", "feed_per_head_per_day": "2"}],
    }
    asked = ["--frontier", "--separate", "--seed-mix"]
    answer = CliRunner().invoke(app, ["year", str(write_book(sheets)), *asked])
    assert answer.exit_code == 3
    assert " ".join(IN_VAIN.split()) in " ".join(answer.stdout.split())
    assert "Seed for next season" not in answer.stdout


@pytest.fixture(scope="session")
def next_seed(small_farm):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("rationlp.year.studies.seed_mix.MOST_PLANS", 6)
        patch.setattr("rationlp.year.studies.seed_mix.DRAWS", 2)
        return seed_mix(small_farm)


@pytest.mark.slow
def test_a_seed_mix_keeps_the_bounds_and_is_no_worse_than_todays(next_seed, small_farm):
    crops = {row.crop: row for row in small_farm.book.crops}
    assert sum(row.share for row in next_seed.crops) == pytest.approx(1)
    for row in next_seed.crops:
        assert crops[row.crop].min_share - 1e-9 <= row.share <= crops[row.crop].max_share + 1e-9
        assert row.hectares == pytest.approx(next_seed.hectares * row.share)
    assert sum(row.today for row in next_seed.crops) == pytest.approx(1)
    assert next_seed.gain_per_hectare > 0
    assert next_seed.unfed == ()
    assert 0 <= next_seed.left_tonnes <= next_seed.harvest_tonnes
    held = {row.crop: row.hectares * crops[row.crop].yield_kg_per_ha / 1000 for row in next_seed.crops}
    assert next_seed.harvest_tonnes == pytest.approx(sum(t * crops[c].beside_others for c, t in held.items()))
    assert 0 <= next_seed.sure <= 1
    ratio = sum(row.share * crops[row.crop].beside_others for row in next_seed.crops)
    assert next_seed.land_equivalent_ratio == pytest.approx(ratio)
    assert "agronomist" in CAUTION


@pytest.mark.long
def test_the_same_field_has_the_same_seed(next_seed, small_farm):
    full = seed_mix(small_farm)
    assert full == seed_mix(small_farm)
    assert full.gain_per_hectare >= next_seed.gain_per_hectare - 1e-6


def test_a_seed_mix_needs_crops(small_farm):
    with pytest.raises(RequestError, match="0 crops"):
        seed_mix(Farm(replace(small_farm.book, crops=()), small_farm.library))


def test_a_blend_is_the_mean_of_its_crops(small_farm):
    candidates = {c.name: c for c in small_farm.candidates if c.name in ("corn_bought", "bran")}
    made = blended({"corn_bought": 0.25, "bran": 0.75}, candidates, 100.0)
    for nutrient in ("crude_protein", "lysine"):
        expected = 0.25 * candidates["corn_bought"].values[nutrient] + 0.75 * candidates["bran"].values[nutrient]
        assert made.values[nutrient] == pytest.approx(expected)
    sd = made.spread.covariance_of("lysine", "lysine")
    parts = [
        share**2 * candidates[n].spread.covariance_of("lysine", "lysine")
        for n, share in (("corn_bought", 0.25), ("bran", 0.75))
    ]
    assert sd == pytest.approx(sum(parts))
