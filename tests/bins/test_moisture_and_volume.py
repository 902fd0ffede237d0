"""Moisture and the tonnes in a bin against published examples, metric and US."""

from __future__ import annotations

import math

import pytest

from rationlp.bins import measure
from rationlp.bins.measure import bin_mass
from rationlp.book.records import Bin, Place, Settings
from rationlp.book_units import units_of
from rationlp.units import KG_PER_LB, LB_PER_BU_IN_KG_M3, M3_PER_US_BUSHEL, M_PER_FT


def test_each_crop_has_its_own_moisture_and_all_of_them_the_bins():
    shares = {"wheat": 0.6, "canola": 0.4}
    own = measure.crop_dry_matters(shares, {"wheat": 88.0, "canola": 92.0}, 86.0)
    assert sum(shares[crop] * own[crop] for crop in shares) == pytest.approx(86)
    assert (100 - own["wheat"]) / (100 - own["canola"]) == pytest.approx(12 / 8)


def test_round_bin_of_the_published_page(examples):
    example = examples["bin_round_40x30"]
    found = measure.round_bin_m3(40 * M_PER_FT, 30 * M_PER_FT)
    expected, rel = example["expected"], example["tolerance"]["rel"]
    assert found / M_PER_FT**3 == pytest.approx(expected["ft3"], rel=rel)
    assert found / M3_PER_US_BUSHEL == pytest.approx(expected["bushels"], rel=rel)
    tonnes = measure.tonnes(found, 60 * LB_PER_BU_IN_KG_M3)
    assert tonnes == pytest.approx(expected["tonnes"], rel=rel)
    assert tonnes * 1000 / KG_PER_LB == pytest.approx(expected["lb"], rel=rel)


def test_coned_down_bin_of_the_iowa_rule(examples):
    example = examples["bin_iowa_inverted"]
    found = measure.round_bin_m3(30 * M_PER_FT, 6 * M_PER_FT, -6 * M_PER_FT)
    # The Iowa office counts 0.80385 bushels to the cubic foot; the exact bushel is 0.04 % larger.
    assert found / M3_PER_US_BUSHEL == pytest.approx(example["expected"]["bushels"], rel=0.0005)


def test_rectangular_store_of_the_textbook(examples):
    example = examples["bin_rect_10x6x8"]["inputs"]
    found = measure.rectangular_bin_m3(*(example[key] * M_PER_FT for key in ("length_ft", "width_ft", "height_ft")))
    bushels = found / M_PER_FT**3 * example["factor"]
    assert bushels == pytest.approx(examples["bin_rect_10x6x8"]["expected"]["bushels"])


def test_published_numbers_of_bins_md():
    feet = M_PER_FT
    assert measure.round_bin_m3(30 * feet, 16 * feet) / M3_PER_US_BUSHEL == pytest.approx(9091.4, rel=5e-4)
    peaked = measure.round_bin_m3(30 * feet, 16 * feet, 6 * feet)
    assert peaked / M3_PER_US_BUSHEL == pytest.approx(10227.8, rel=5e-4)
    assert peaked == pytest.approx(measure.round_bin_m3(30 * feet, 18 * feet))  # level at a third of the peak
    assert measure.blend_test_weight({"barley": 0.6, "peas": 0.4}, {"barley": 48.0, "peas": 60.0}) == pytest.approx(
        52.17, abs=0.01
    )
    ridged = measure.rectangular_bin_m3(40 * feet, 60 * feet, 6 * feet)
    assert ridged / M3_PER_US_BUSHEL == pytest.approx(11571.3, rel=5e-4)


def test_a_hollow_that_reaches_the_floor_leaves_a_ring():
    """Against a sum of thin rings: depth at radius r is wall depth less the slope, never below the floor."""
    diameter, wall, hollow, steps = 6.0, 1.5, 4.0, 200_000
    rings = 0.0
    for index in range(steps):
        radius = (index + 0.5) / steps * diameter / 2
        depth = wall - hollow * (1 - radius / (diameter / 2))
        rings += max(depth, 0) * 2 * math.pi * radius * diameter / 2 / steps
    assert measure.round_bin_m3(diameter, wall, -hollow) == pytest.approx(rings, rel=1e-6)


def test_impossible_measures_are_refused():
    with pytest.raises(ValueError, match="-1 m of grain"):
        measure.round_bin_m3(5, -1)


@pytest.mark.parametrize(
    ("measures", "tonnes", "words"),
    [
        ({"mass_kg": 42_000}, 42.0, "weighed"),
        (
            {"diameter_m": 4.6, "wall_depth_m": 2.25, "peak_height_m": 0.55, "test_weight_kg_m3": 740},
            29.93,
            "your test weight",
        ),
        ({"diameter_m": 4.6, "wall_depth_m": 2.25}, None, "test weight of its crops"),
        (
            {"length_m": 6, "width_m": 4, "wall_depth_m": 2, "peak_height_m": 1, "test_weight_kg_m3": 750},
            45.0,
            "rectangular",
        ),
        ({"diameter_m": 4.6}, None, "neither mass nor measures"),
    ],
)
def test_tonnes_of_a_bin(library, measures, tonnes, words):
    found = bin_mass(
        Bin(Place(), "b", **measures), {"wheat_hard": 0.5, "peas_field": 0.5}, library, units_of(Settings())
    )
    assert words in found.source
    if tonnes is not None:
        assert found.tonnes == pytest.approx(tonnes, abs=0.01)
    elif "crops" in words:
        assert found.tonnes == pytest.approx(measure.cylinder_m3(4.6, 2.25) * 0.772, rel=1e-3)
        assert found.sd == pytest.approx(found.tonnes * measure.TABLE_TEST_WEIGHT_CV)
    else:
        assert found.tonnes is None
