"""Bins for the terminal."""

from __future__ import annotations

from collections.abc import Sequence


from rationlp.bins import BinEstimate
from rationlp.cautions import bin_cautions
from rationlp.library import Library
from rationlp.show.numbers import figure, percent
from rationlp.show.terminal import console, table


def print_bins(estimates: Sequence[BinEstimate], library: Library) -> None:
    """Each bin with its crops and nutrients, then the cautions."""
    out = console()
    for estimate in estimates:
        tonnes = "tonnes not known" if estimate.tonnes is None else f"{figure(estimate.tonnes)} t"
        taken = f" of {estimate.taken_on:%Y-%m-%d}" if estimate.taken_on else ""
        out.rule(f"{estimate.label} ({estimate.bin}): {tonnes}, sample {estimate.sample}{taken}")
        out.print(f"Dry matter {figure(estimate.dry_matter_pct)} % (from {estimate.moisture_from}).")
        crops = table("Crops by mass", [("Crop", "left"), ("%", "right")])
        for crop in estimate.crops:
            crops.add_row(crop.label, percent(crop.share))
        out.print(crops)
        made = table("Nutrients as fed", [("Nutrient", "left"), ("Unit", "left"), ("Value", "right"), ("From", "left")])
        for line in estimate.nutrients:
            made.add_row(line.label, line.unit, figure(line.value), line.origin)
        out.print(made)
        for finding in estimate.findings:
            out.print(f"! {finding}", strong=True)
    out.print("Cautions", strong=True)
    feeds = {crop.crop: crop.share for estimate in estimates for crop in estimate.crops}
    for caution in bin_cautions(feeds, library):
        out.print(f"- {caution}")
