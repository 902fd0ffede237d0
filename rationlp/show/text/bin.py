"""Bins for the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rationlp.bins.model import Accord, EvidenceKind, Gravity
from rationlp.book.records import Settings
from rationlp.book_units import units_of
from rationlp.cautions import bin_cautions
from rationlp.farm import Farm
from rationlp.library import Library
from rationlp.library.cited import cited
from rationlp.numbers import figure, percent
from rationlp.show.terminal import Terminal, console, table
from rationlp.units import Z90

if TYPE_CHECKING:
    from rationlp.bins import BinEstimate
    from rationlp.bins.precision import SamplingAdvice

MARKS = {Gravity.DANGER: "!! ", Gravity.WARNING: "! ", Gravity.NOTE: "- "}
WEIGHED = {
    EvidenceKind.BOTH: "Weighed together: hand sort, assays, and how far lots of each crop differ.",
    EvidenceKind.SORT: "From the hand sort and the library; there is no assay.",
    EvidenceKind.ASSAY: "From assays and the library; nothing was sorted by hand.",
    EvidenceKind.NONE: "A GUESS: neither a hand sort nor an assay.",
}


def print_bins(estimates: Sequence[BinEstimate], farm: Farm, advice: Sequence[SamplingAdvice] = ()) -> None:
    """Each bin with what to know of it, its crops and nutrients, then the cautions."""
    out = console()
    for estimate in estimates:
        _head(out, estimate, farm.settings)
        for finding in estimate.notices_by_weight:
            said_by = f" [{cited(finding.source, farm.library.sources)}]" if finding.source else ""
            out.print(f"{MARKS[finding.severity]}{finding.text}{said_by}", strong=finding.severity is not Gravity.NOTE)
        _crops(out, estimate)
        _nutrients(out, estimate)
        print_advice(out, [found for found in advice if found.bin == estimate.bin], farm.library)
    out.print("Cautions", strong=True)
    feeds = {crop: share for estimate in estimates for crop, share in estimate.shares.items()}
    for caution in bin_cautions(feeds, farm.library):
        out.print(f"- {caution}")


def _head(out: Terminal, estimate: BinEstimate, settings: Settings) -> None:
    units = units_of(settings)
    tonnes = "amount not known" if estimate.tonnes is None else units.amount(estimate.tonnes)
    taken = f" of {settings.day(estimate.taken_on)}" if estimate.taken_on else ""
    sample = f"sample {estimate.sample}{taken}" if estimate.sample else "no sample"
    older = f" and {len(estimate.samples) - 1} older" if len(estimate.samples) > 1 else ""
    out.rule(f"{estimate.label} ({estimate.bin}): {tonnes}, {sample}{older}")
    spread = "" if estimate.tonnes_sd is None else f" ± {units.bulk(Z90 * estimate.tonnes_sd, 2)}"
    out.print(f"Amount: {estimate.tonnes_from}{spread}.")
    out.print(
        f"Dry matter {figure(estimate.dry_matter_pct)} % ± {figure(Z90 * estimate.dry_matter_sd, 2)} "
        f"(from {estimate.moisture_from})."
    )
    out.print(f"{WEIGHED[estimate.evidence]} A ± is meant to hold 9 times in 10.")
    if estimate.agreement.verdict is not Accord.DISAGREE:  # that is a finding
        out.print(estimate.agreement.sentence)


def _crops(out: Terminal, estimate: BinEstimate) -> None:
    made = table(
        "Crops by mass, as fed",
        [("Crop", "left"), ("Hand sort %", "right"), ("±", "right"), ("Estimate %", "right"), ("±", "right")],
    )
    for crop in estimate.crops:
        sorted_sd = None if crop.sorted_sd is None else Z90 * crop.sorted_sd
        made.add_row(
            crop.label,
            percent(crop.sorted_share),
            percent(sorted_sd),
            percent(crop.share),
            percent(Z90 * crop.sd),
        )
    out.print(made)


def _nutrients(out: Terminal, estimate: BinEstimate) -> None:
    made = table(
        "Nutrients as fed",
        [
            ("Nutrient", "left"),
            ("Unit", "left"),
            ("Sort + library", "right"),
            ("±", "right"),
            ("Assay", "right"),
            ("±", "right"),
            ("Estimate", "right"),
            ("±", "right"),
            ("From", "left"),
        ],
    )
    for line in estimate.nutrients:
        made.add_row(
            line.label,
            line.unit,
            figure(line.from_sort),
            _spread(line.from_sort_sd),
            figure(line.assay),
            _spread(line.assay_sd),
            figure(line.value),
            _spread(line.sd),
            line.origin,
        )
    out.print(made)


def _spread(sd: float | None) -> str:
    return "" if sd is None else figure(Z90 * sd, 2)


def print_advice(out: Terminal, advice: Sequence[SamplingAdvice], library: Library) -> None:
    """How much to sort, probe and analyse."""
    for found in advice:
        _advice(out, found, library)


def _advice(out: Terminal, advice: SamplingAdvice, library: Library) -> None:
    head = f"To know within {advice.wanted_pct:g} %, 9 times in 10, what binding requirements ask of this grain"
    out.print(head, strong=True)
    for plan in advice.plans:
        out.print(f"- {plan.line()}")
        if plan.grams:
            out.print(f"  {plan.steps_line()}")
    if advice.grams:
        head = f"So take a sample of {advice.probes} probes and sort {advice.grams:,.0f} g of it, well mixed."
        out.print(f"{head} Grind all for the laboratory, then split it.")
    if advice.analyses:
        order = ", ".join(f"{count} x {nutrient.replace('_', ' ')}" for nutrient, count in advice.analyses.items())
        out.print(f"One order serves all that can be reached: {order}, each on a portion of its own, with dry matter.")
    if advice.increments is not None:
        out.print(f"A lot of this size needs at least {advice.increments} probes or cuts in its sample.")
    for place in advice.where:
        out.print(f"- {place}")
    out.print(f"Sources: {cited('; '.join(advice.sources), library.sources)}.")
