"""The tonnes in a bin: weighed, or reckoned from its measures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rationlp.bins.volume import (
    MEASURED_CV,
    TABLE_TEST_WEIGHT_CV,
    blend_test_weight,
    rectangular_bin_m3,
    round_bin_m3,
    tonnes,
)
from rationlp.book.records import Bin
from rationlp.library.read import Library


@dataclass(frozen=True, slots=True)
class Mass:
    """Tonnes as they lie in the bin, one standard deviation, and how they were found; None where nobody can say."""

    tonnes: float | None
    sd: float | None
    source: str


def bin_mass(bin_: Bin, shares: Mapping[str, float], library: Library) -> Mass:
    """The mass of the book, else volume times test weight: the measured one, else that of the crops by their shares."""
    if bin_.mass_kg is not None:
        return Mass(bin_.mass_kg / 1000, None, "weighed, as the book says")
    measured = _volume(bin_)
    if measured is None:
        return Mass(None, None, "neither mass nor measures in the book")
    volume, shape = measured
    if bin_.test_weight_kg_m3 is not None:
        mass = tonnes(volume, bin_.test_weight_kg_m3)
        return Mass(mass, MEASURED_CV * mass, f"{shape} at {bin_.test_weight_kg_m3:.0f} kg/m3, your test weight")
    table = {
        crop: row.bulk_density_kg_m3 for crop in shares if (row := library.feeds.get(crop)) and row.bulk_density_kg_m3
    }
    if not table:
        return Mass(None, None, f"{shape}, but no test weight: weigh a struck measure of the grain")
    weight = blend_test_weight({crop: shares[crop] for crop in table}, table)
    mass = tonnes(volume, weight)
    table_words = "the test weight of its crops in tables; small seed fills gaps, so weigh a struck measure"
    return Mass(mass, TABLE_TEST_WEIGHT_CV * mass, f"{shape} at {weight:.0f} kg/m3, {table_words}")


def _volume(bin_: Bin) -> tuple[float, str] | None:
    """Volume of the grain [m3] and the shape in words; the peak of a rectangular bin is a ridge along its length."""
    if bin_.wall_depth_m is None:
        return None
    if bin_.length_m is not None and bin_.width_m is not None:
        volume = rectangular_bin_m3(bin_.length_m, bin_.width_m, bin_.wall_depth_m, bin_.peak_height_m or 0.0)
        return volume, f"{volume:.1f} m3 of a rectangular bin"
    if bin_.diameter_m is None:
        return None
    volume = round_bin_m3(bin_.diameter_m, bin_.wall_depth_m, bin_.peak_height_m or 0.0)
    return volume, f"{volume:.1f} m3 of a round bin"
