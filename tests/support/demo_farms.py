"""The demo farm with a few of its groups, in both systems of units, as sheets to be written."""

from __future__ import annotations

from random_farms import Sheets, read_sheets

FEW_STAGES = ("sw_gro_25_50", "hen_peak")
US_SETTINGS = {
    "units": "us",
    "batch_mass": "1100",
    "mixer_capacity": "1300",
    "scale_step": "2",
    "hand_scale_step": "0.02",
    "hand_weigh_below": "22",
}


def few_groups() -> Sheets:
    """The demo farm with the groups of two stages, and what it has of herd and arrivals."""
    sheets = read_sheets()
    sheets["groups"] = [row for row in sheets["groups"] if row["stage"] in FEW_STAGES]
    return sheets


def us_sheets() -> Sheets:
    """The same farm as an American would have written it."""
    sheets = few_groups()
    for row in sheets["farm"]:
        row["value"] = US_SETTINGS.get(row["setting"], row["value"])
    sheets["bins"][0] |= {"mass": "46.3 ton", "sale_price": 165}
    sheets["bins"][1] |= {"diameter": 15, "wall_depth": 7.4, "peak_height": 1.8, "test_weight": 57.5, "sale_price": 155}
    for row in sheets["supplements"]:
        for name in ("price", "price_low", "price_high"):
            if row[name] and not row["per_mass"]:
                row[name] = f"{float(row[name]) * 0.907:.2f}"
    return sheets
