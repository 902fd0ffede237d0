"""The tonnes in a bin: weighed, or calculated from its measures; and how its moisture lies in its crops.

Metres, cubic metres, kilograms per cubic metre, tonnes; moistures and dry matters in percent of the mass as it lies.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from rationlp.book.records import Bin
from rationlp.book_units import BookUnits
from rationlp.library.read import Library

MEASURED_CV = 0.02
"""Spread of the mass of a well measured bin: packing was missed by -4.5 to +5.7 %, mean 1 to 2 (pack_corn)."""

TABLE_TEST_WEIGHT_CV = 0.06
"""The same where the test weight is a table figure: lots of one crop differ by some 5 to 6 % (common practice)."""


@dataclass(frozen=True, slots=True)
class Mass:
    """Tonnes as they lie in the bin, one standard deviation, and how they were found; None where nobody can say."""

    tonnes: float | None
    sd: float | None
    source: str


def bin_mass(bin_: Bin, shares: Mapping[str, float], library: Library, units: BookUnits) -> Mass:
    """The mass of the book, else volume times test weight: the measured one, else that of the crops by their shares."""
    if bin_.mass_kg is not None:
        return Mass(bin_.mass_kg / 1000, None, "weighed, as the book says")
    measured = _volume(bin_, units)
    if measured is None:
        return Mass(None, None, "neither mass nor measures in the book")
    volume, shape = measured
    if bin_.test_weight_kg_m3 is not None:
        mass = tonnes(volume, bin_.test_weight_kg_m3)
        return Mass(mass, MEASURED_CV * mass, f"{shape} at {units.density(bin_.test_weight_kg_m3)}, your test weight")
    table = {
        crop: row.bulk_density_kg_m3 for crop in shares if (row := library.feeds.get(crop)) and row.bulk_density_kg_m3
    }
    if not table:
        return Mass(None, None, f"{shape}, but no test weight: weigh a struck measure of the grain")
    weight = blend_test_weight({crop: shares[crop] for crop in table}, table)
    mass = tonnes(volume, weight)
    table_words = "the test weight of its crops in tables; small seed fills gaps, so weigh a struck measure"
    return Mass(mass, TABLE_TEST_WEIGHT_CV * mass, f"{shape} at {units.density(weight)}, {table_words}")


def _volume(bin_: Bin, units: BookUnits) -> tuple[float, str] | None:
    """Volume of the grain [m3] and the shape in words; the peak of a rectangular bin is a ridge along its length."""
    if bin_.wall_depth_m is None:
        return None
    if bin_.length_m is not None and bin_.width_m is not None:
        volume = rectangular_bin_m3(bin_.length_m, bin_.width_m, bin_.wall_depth_m, bin_.peak_height_m or 0.0)
        return volume, f"{units.volume(volume)} of a rectangular bin"
    if bin_.diameter_m is None:
        return None
    volume = round_bin_m3(bin_.diameter_m, bin_.wall_depth_m, bin_.peak_height_m or 0.0)
    return volume, f"{units.volume(volume)} of a round bin"


def crop_dry_matters(
    shares: Mapping[str, float], table_dry_matter_pct: Mapping[str, float], bin_dry_matter_pct: float
) -> dict[str, float]:
    """Dry matter of each crop in the bin [%], so that together they have the bin's own.

    Seeds of one bin share one air, and oily seed stays drier than starchy seed. So each crop's moisture keeps its
    proportion to the others in feed tables (common practice; a judgement, no publication).
    """
    whole = sum(shares.values())
    table_moisture = sum(shares[crop] * (100 - table_dry_matter_pct[crop]) for crop in shares) / whole
    scale = (100 - bin_dry_matter_pct) / table_moisture if table_moisture else 0.0
    if not table_moisture:
        return dict.fromkeys(shares, bin_dry_matter_pct)
    return {crop: 100 - scale * (100 - table_dry_matter_pct[crop]) for crop in shares}


def cylinder_m3(diameter_m: float, depth_m: float) -> float:
    """Volume of a round column [m3]: pi/4 D^2 h. Source: geometry (iowa_measuring: 0.7854 D^2 h)."""
    return math.pi / 4 * diameter_m**2 * depth_m


def cone_m3(diameter_m: float, height_m: float) -> float:
    """Volume of a cone [m3], below 0 for a hollow: pi/12 D^2 h. Source: geometry (iowa_measuring, repose_forum)."""
    return math.pi / 12 * diameter_m**2 * height_m


def round_bin_m3(diameter_m: float, wall_depth_m: float, peak_height_m: float = 0.0) -> float:
    """Grain in a round bin [m3]: flat (peak 0), peaked (above 0), or coned down by drawing (below 0).

    A hollow deeper than the grain at the wall has reached the floor: its point is cut off there, the grain left is a
    ring with an opening in the middle. Raises ValueError for a depth or diameter below 0. Source: iowa_measuring (level
    at wall depth + 1/3 of the peak); geometry for the opening.
    """
    if diameter_m <= 0 or wall_depth_m < 0:
        raise ValueError(f"a bin of {diameter_m:g} m with {wall_depth_m:g} m of grain at the wall")
    whole = cylinder_m3(diameter_m, wall_depth_m) + cone_m3(diameter_m, peak_height_m)
    below_floor = -peak_height_m - wall_depth_m
    if below_floor > 0:
        whole += cone_m3(diameter_m * below_floor / -peak_height_m, below_floor)
    return whole


def rectangular_bin_m3(length_m: float, width_m: float, depth_m: float, ridge_m: float = 0.0) -> float:
    """Grain in a rectangular store [m3], level or with a ridge along its length. Source: geometry (usf_1921)."""
    return length_m * width_m * (depth_m + ridge_m / 2)


def blend_test_weight(shares: Mapping[str, float], test_weight_kg_m3: Mapping[str, float]) -> float:
    """Test weight [kg/m3] of a mix whose crops take no room from each other: 1 / sum(w / TW).

    A lower bound: small seed fills the gaps between large seed. Source: volume additivity (reference, bins.md).
    """
    return sum(shares.values()) / sum(share / test_weight_kg_m3[crop] for crop, share in shares.items())


def tonnes(volume_m3: float, test_weight_kg_m3: float, pack_factor: float = 1.0) -> float:
    """Mass [t] of grain that fills `volume_m3` at its test weight; `pack_factor` above 1 for grain that settled.

    Source: iowa_measuring (bushels x test weight x packing).
    """
    return volume_m3 * test_weight_kg_m3 * pack_factor / 1000
