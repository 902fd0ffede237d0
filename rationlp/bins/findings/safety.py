"""Everything to know of a bin before it is fed: evidence, agreement, drift, toxins, storage, what else lies in it."""

from __future__ import annotations

from collections.abc import Iterable

from rationlp.bins.evidence import Evidence, own_dry_matter
from rationlp.bins.findings.contaminants import toxin_findings
from rationlp.bins.findings.far_figures import far_off_reasons
from rationlp.bins.findings.hold import hold_reason
from rationlp.bins.findings.notes import note_reasons
from rationlp.bins.findings.poisonous import poisonous_reasons
from rationlp.bins.findings.storage import storage_findings
from rationlp.bins.model import Accord, BinEstimate, BinFinding, Gravity
from rationlp.bins.sampling import lab_sd
from rationlp.book.columns import FOREIGN_MATTER
from rationlp.book.records import Book
from rationlp.library.read import Library
from rationlp.reasons import Reason
from rationlp.units import convert_composition

MUCH_FOREIGN = 0.05
"""Botanical purity of feed materials is at least 95 % (uk_767_2009_annexes)."""
TOXIC_CROPS = {
    "soybeans_raw": ("Raw soybeans are in the mix: heat them before pigs or chicks get them.", "soy_raw_chick"),
    "vetch_common": (
        "Vetch seed is in the mix: its toxins build up; none for sows, piglets and breeding stock.",
        "ext_vetch; vfu_vetch",
    ),
}


def findings(evidence: Evidence, estimate: BinEstimate, book: Book, library: Library) -> tuple[BinFinding, ...]:
    """Every finding on the bin."""
    return (
        *_agreement(estimate),
        *_drift(estimate),
        *_evidence(evidence, estimate),
        *_two_moistures(evidence, estimate, library),
        *toxin_findings(estimate, book, library),
        *storage_findings(estimate, book, library),
        *_grain(estimate, book, library),
        *_reasons(estimate.reasons),
    )


def _agreement(estimate: BinEstimate) -> Iterable[BinFinding]:
    if estimate.agreement is not None and estimate.agreement.verdict is Accord.DISAGREE:
        causes = " ".join(f"{index}) {cause}." for index, cause in enumerate(estimate.agreement.causes, 1))
        hint = (
            f" What would explain it: {causes}"
            if causes
            else " No single slip explains it: take and sort a new sample."
        )
        yield BinFinding("agreement", Gravity.DANGER, estimate.agreement.sentence + hint)


def _drift(estimate: BinEstimate) -> Iterable[BinFinding]:
    for drift in estimate.drifts:
        yield BinFinding(
            "drift",
            Gravity.WARNING if drift.more_than_chance else Gravity.NOTE,
            drift.sentence,
            "umanitoba_33024; bin_flow",
        )


def _evidence(evidence: Evidence, estimate: BinEstimate) -> Iterable[BinFinding]:
    """How much the estimate rests on, and what to do to know more."""
    guess = {
        "sown": "the shares of the seed, which the harvest may miss by half",
        "farm": "what the farm's other bins hold",
        "library": "nothing but the list of crops there are",
    }.get(evidence.crops_from)
    if guess is not None:
        widest = max((row for row in estimate.crops), key=lambda row: row.sd)
        yield BinFinding(
            "evidence",
            Gravity.DANGER,
            f"Nothing of bin {estimate.bin} was sorted: its shares are guessed from {guess}, {widest.label} for one at "
            f"{100 * widest.share:.0f} with a standard deviation of {100 * widest.sd:.0f} points. Take a sample, sort "
            "it by crop and weigh the heaps before you feed from it.",
        )
    elif estimate.agreement is None:
        yield BinFinding(
            "evidence",
            Gravity.NOTE,
            f"No assay of bin {estimate.bin}: its nutrients are the library's, weighted by the hand sort. An assay of "
            "protein and dry matter narrows protein and amino acids most; --precision says how many are worth it.",
        )
    if evidence.newest_sorted and len(evidence.samples) == 1:
        yield BinFinding(
            "evidence",
            Gravity.NOTE,
            "One sample tells what it holds, not how even the bin is: the plus-or-minus covers kernels, lots and "
            "laboratory. A second sample, from another depth or drawn later, shows whether the mix segregates by seed "
            "size.",
            "producer_sampling; umanitoba_33024",
        )


def _two_moistures(evidence: Evidence, estimate: BinEstimate, library: Library) -> Iterable[BinFinding]:
    """The bin's moisture against the laboratory's dry matter."""
    for sample in evidence.samples:
        found = own_dry_matter(evidence.assays[sample.sample], library)
        if found is None or evidence.dry_matter.sample or evidence.bin.moisture_pct is None:
            continue
        meter = lab_sd("dry_matter", estimate.dry_matter_pct, "%", "meter", library)[0]
        apart = found[0] - (100 - evidence.bin.moisture_pct)
        if abs(apart) > 3 * (found[1] ** 2 + meter**2) ** 0.5:
            yield BinFinding(
                "moisture",
                Gravity.WARNING,
                f"The laboratory found {100 - found[0]:.1f} % moisture in sample {sample.sample}, the book says "
                f"{evidence.bin.moisture_pct:.1f} % for the bin; the bin's figure is used. Meters are made for one "
                "crop and clean grain: dry a weighed sample in the oven.",
                "memory:grain moisture meter practice",
            )


def _grain(estimate: BinEstimate, book: Book, library: Library) -> Iterable[BinFinding]:
    for crop, (text, source) in TOXIC_CROPS.items():
        if estimate.share_of(crop) > 0:
            yield BinFinding(
                "grain",
                Gravity.DANGER,
                f"{text} It is {100 * estimate.share_of(crop):.1f} % of bin {estimate.bin}.",
                source,
            )
    foreign = estimate.share_of(FOREIGN_MATTER)
    if foreign > MUCH_FOREIGN:
        yield BinFinding(
            "grain",
            Gravity.WARNING,
            f"Foreign matter is {100 * foreign:.1f} % of bin {estimate.bin}: clean it, it holds moisture and blocks "
            "air; look through it for weed seeds, ergot and coloured kernels.",
            "uk_767_2009_annexes; ab_pulse_store",
        )
    elif foreign > 0 and book.farm.jurisdiction == "eu":
        yield from _weed_seeds(foreign, library)


def _weed_seeds(foreign: float, library: Library) -> Iterable[BinFinding]:
    """The EU maximum of harmful weed seeds, where so little foreign matter may already hold more."""
    for row in library.contaminants:
        if (
            row.jurisdiction == "eu"
            and row.contaminant.startswith("weed seeds")
            and row.limit_in_ingredient is not None
        ):
            limit = convert_composition(row.limit_in_ingredient, row.unit, "%")
            if 100 * foreign > limit:
                text = (
                    f"Foreign matter is {100 * foreign:.2f} %: were it all harmful weed seed, it would pass the EU "
                    f"maximum of {limit:g} %. Look through it."
                )
                yield BinFinding("grain", Gravity.NOTE, text, row.source)


def _reasons(reasons: Iterable[Reason]) -> Iterable[BinFinding]:
    """What holds the bin back, or has to be looked into first: holds, poisonous seeds, words of its notes."""
    for reason in reasons:
        yield BinFinding("grain", Gravity.DANGER, reason.text, reason.source)


def bin_reasons(evidence: Evidence, book: Book, library: Library) -> tuple[Reason, ...]:
    """Every reason that counts when grain of the bin is in a mix."""
    hold = hold_reason(evidence.bin)
    return (
        *([hold] if hold else []),
        *poisonous_reasons(evidence.bin.bin, book, library),
        *note_reasons(evidence.bin, book, library),
        *(
            reason
            for crop in evidence.problem.crops
            for reason in far_off_reasons(crop.crop, evidence.bin.bin, book, library)
        ),
    )
