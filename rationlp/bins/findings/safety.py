"""Everything to know of a bin before it is fed: evidence, agreement, drift, toxins, storage, what else lies in it."""

from __future__ import annotations

import re
from collections.abc import Iterable

from rationlp.bins.evidence import Evidence, own_dry_matter
from rationlp.bins.findings.contaminants import toxin_findings
from rationlp.bins.findings.storage import storage_findings
from rationlp.bins.model import BinEstimate, BinFinding
from rationlp.bins.sampling import lab_sd
from rationlp.book.columns import FOREIGN_MATTER
from rationlp.book.records import Book
from rationlp.library.read import Library
from rationlp.units import convert_composition

MUCH_FOREIGN = 0.05
"""Botanical purity of feed materials is at least 95 % (uk_767_2009_annexes)."""
TOXIC_CROPS = {
    "soybeans_raw": ("Raw soybeans are in the mix: heat them before pigs or chicks get them.", "soy_raw_chick"),
    "vetch_common": (
        "Vetch seed is in the mix: its toxins build up; none for sows, piglets and breeding stock.",
        "ext_vetch; vfu_vetch",
    ),
}  # fmt: skip
NOTE_WORDS = (
    (r"treat(ed)?|dressed|dyed|pink|coloured|colored", "danger",
     "speaks of treated or coloured seed: seed dressed for planting is never feed, and one kernel can make a bin unfit",
     "ngfa_treated; wi_treated"),
    (r"heat(ed|ing|s)?|hot|warm|steam(ing|s)?", "danger",
     "speaks of heat: grain that heats spoils and can burn; find the spot and cool it first, and do not feed it",
     "ndsu_store2019; ca_feeds2024"),
    (r"mou?ld(y|s)?|musty|sour|caked|crust(ed)?", "danger",
     "speaks of mould or crust: send a sample for mycotoxins, and never step on crusted grain", "ca_feeds2024; mo_bin"),
    (r"ergot", "danger", "speaks of ergot: have it weighed out or assayed; none for breeding stock",
     "ab_ergot2010; cjas_ergot2003"),
    (r"datura|thorn ?apple|jimson\w*|castor|rattle ?pod|crotalaria|corn ?cockle|heliotrop\w*|nightshade|weed seeds?",
     "warning",
     "speaks of weed seeds: know them and clean them out; castor and rattlepod are poisonous in traces",
     "eu_d32_weeds; eu_d32_ricinus"),
)  # fmt: skip
NEGATED = r"\b(no|not|without|free of|never|nor)\b[^.;,]{0,25}$"


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
        *_notes(evidence),
    )


def _agreement(estimate: BinEstimate) -> Iterable[BinFinding]:
    if estimate.agreement is not None and estimate.agreement.verdict == "disagree":
        causes = " ".join(f"{index}) {cause}." for index, cause in enumerate(estimate.agreement.causes, 1))
        hint = (
            f" What would explain it: {causes}"
            if causes
            else " No single slip explains it: take and sort a new sample."
        )
        yield BinFinding("agreement", "danger", estimate.agreement.sentence + hint)


def _drift(estimate: BinEstimate) -> Iterable[BinFinding]:
    for drift in estimate.drifts:
        yield BinFinding(
            "drift", "warning" if drift.more_than_chance else "note", drift.sentence, "umanitoba_33024; bin_flow"
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
            "evidence", "danger",
            f"Nothing of bin {estimate.bin} was sorted: its shares are guessed from {guess}, {widest.label} for one at "
            f"{100 * widest.share:.0f} with a standard deviation of {100 * widest.sd:.0f} points. Take a sample, sort "
            "it by crop and weigh the heaps before you feed from it.",
        )  # fmt: skip
    elif estimate.agreement is None:
        yield BinFinding(
            "evidence", "note",
            f"No assay of bin {estimate.bin}: its nutrients are the library's, weighted by the hand sort. An assay of "
            "protein and dry matter narrows protein and amino acids most; --precision says how many are worth it.",
        )  # fmt: skip
    if evidence.newest_sorted and len(evidence.samples) == 1:
        yield BinFinding(
            "evidence", "note",
            "One sample tells what it holds, not how even the bin is: the plus-or-minus covers kernels, lots and "
            "laboratory. A second sample, from another depth or drawn later, shows whether the mix parts by seed size.",
            "producer_sampling; umanitoba_33024",
        )  # fmt: skip


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
                "moisture", "warning",
                f"The laboratory found {100 - found[0]:.1f} % moisture in sample {sample.sample}, the book says "
                f"{evidence.bin.moisture_pct:.1f} % for the bin; the bin's figure is used. Meters are made for one "
                "crop and clean grain: dry a weighed sample in the oven.",
                "memory:grain moisture meter practice",
            )  # fmt: skip


def _grain(estimate: BinEstimate, book: Book, library: Library) -> Iterable[BinFinding]:
    for crop, (text, source) in TOXIC_CROPS.items():
        if estimate.share_of(crop) > 0:
            yield BinFinding(
                "grain", "danger", f"{text} It is {100 * estimate.share_of(crop):.1f} % of bin {estimate.bin}.", source
            )
    foreign = estimate.share_of(FOREIGN_MATTER)
    if foreign > MUCH_FOREIGN:
        yield BinFinding(
            "grain", "warning",
            f"Foreign matter is {100 * foreign:.1f} % of bin {estimate.bin}: clean it, it holds moisture and blocks "
            "air; look through it for weed seeds, ergot and coloured kernels.", "uk_767_2009_annexes; ab_pulse_store",
        )  # fmt: skip
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
                yield BinFinding("grain", "note", text, row.source)


def _notes(evidence: Evidence) -> Iterable[BinFinding]:
    """What the farm itself wrote beside the bin and its samples."""
    places = [(f"the bin {evidence.bin.bin}", evidence.bin.note)]
    places += [(f"sample {sample.sample}", sample.note) for sample in evidence.samples]
    for place, note in places:
        for pattern, severity, text, source in NOTE_WORDS:
            if any(
                not re.search(NEGATED, note[: hit.start()], re.I)
                for hit in re.finditer(rf"\b({pattern})\b", note, re.I)
            ):
                yield BinFinding("grain", severity, f"The note on {place} {text}.", source)
