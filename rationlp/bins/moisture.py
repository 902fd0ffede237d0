"""Moisture: shrink on drying, and the dry matter of each crop that shares a bin's air.

Moistures and dry matters are in percent of the mass as it lies (wet basis).
"""

from __future__ import annotations

from collections.abc import Mapping


def shrink_pct(wet_pct: float, dry_pct: float) -> float:
    """Loss of mass [% of the wet mass] when grain dries from `wet_pct` to `dry_pct`: 100 (Mw - Md) / (100 - Md).

    Water only; handling takes 0.2 to 1.7 % more. Source: shrink_article, ca_shrink.
    """
    return 100 * (wet_pct - dry_pct) / (100 - dry_pct)


def shrink_factor(dry_pct: float) -> float:
    """Loss of mass [% of the wet mass] for each point of moisture removed: 100 / (100 - Md). Source: shrink_article."""
    return 100 / (100 - dry_pct)


def mass_at(mass: float, moisture_pct: float, at_moisture_pct: float) -> float:
    """The mass that grain of `moisture_pct` has at `at_moisture_pct`, in the unit of `mass`.

    m (100 - M) / (100 - M'). Source: ca_shrink (dry matter stays).
    """
    return mass * (100 - moisture_pct) / (100 - at_moisture_pct)


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
