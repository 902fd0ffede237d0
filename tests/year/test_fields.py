"""Crops taken apart, next season's seed, and the land equivalent ratio."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.errors import RequestError
from rationlp.farm import Farm
from rationlp.herd.season import season_of
from rationlp.year.program.supplies import supplies_of
from rationlp.year.studies import separate
from rationlp.year.studies.seed_mix import CAUTION, blended, land_equivalent_ratio, seed_mix


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
