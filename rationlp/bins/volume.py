"""How much grain a bin holds, from its measures: metres, cubic metres, kilograms per cubic metre, tonnes."""

from __future__ import annotations

import math
from collections.abc import Mapping

from rationlp.units import M3_PER_US_BUSHEL, M_PER_FT

MEASURED_CV = 0.02
"""Spread of the mass of a well measured bin: packing was missed by -4.5 to +5.7 %, mean 1 to 2 (pack_corn)."""

TABLE_TEST_WEIGHT_CV = 0.06
"""The same where the test weight is a table figure: lots of one crop differ by some 5 to 6 % (common practice)."""

EMPTYING_TAN = {
    "corn": 0.42, "barley": 0.53, "oats": 0.53, "soybean": 0.47, "sunflower": 0.51, "wheat": 0.47,
}  # fmt: skip
"""Tangent of the angle at which dry grain lies, by crop (repose_forum). Mixed grain: measure it."""


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


def hopper_m3(diameter_m: float, height_m: float, outlet_m: float = 0.0) -> float:
    """A hopper bottom [m3]: the frustum pi h (R^2 + R r + r^2) / 3. Source: geometry."""
    wide, narrow = diameter_m / 2, outlet_m / 2
    return math.pi * height_m * (wide**2 + wide * narrow + narrow**2) / 3


def rectangular_bin_m3(length_m: float, width_m: float, depth_m: float, ridge_m: float = 0.0) -> float:
    """Grain in a rectangular store [m3], level or with a ridge along its length. Source: geometry (usf_1921)."""
    return length_m * width_m * (depth_m + ridge_m / 2)


def pile_diameter_m(volume_m3: float, angle_deg: float) -> float:
    """Diameter of a conical pile [m] that holds `volume_m3`: (24 V / (pi tan a))^(1/3). Source: unl_piles (derived)."""
    return (24 * volume_m3 / (math.pi * math.tan(math.radians(angle_deg)))) ** (1 / 3)


def bushels(volume_m3: float) -> float:
    """US bushels [bu] in a volume. Source: definition, 2150.42 cubic inches (bu_conv_page)."""
    return volume_m3 / M3_PER_US_BUSHEL


def cubic_feet(volume_m3: float) -> float:
    """Cubic feet [ft3] in a volume. Source: definition."""
    return volume_m3 / M_PER_FT**3


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
