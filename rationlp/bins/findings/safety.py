"""Everything to know of a bin before it is fed: evidence, agreement, drift, toxins, storage, what else lies in it."""

from __future__ import annotations

from collections.abc import Iterable

from rationlp.bins.agreement import FIRST_IN_HALF
from rationlp.bins.drift import PROBES_NOT_STATED
from rationlp.bins.evidence import PORTION_G, Evidence
from rationlp.bins.findings.contaminants import toxin_findings
from rationlp.bins.findings.far_figures import far_off_reasons
from rationlp.bins.findings.hold import hold_reason
from rationlp.bins.findings.notes import note_reasons
from rationlp.bins.findings.poisonous import poisonous_reasons
from rationlp.bins.findings.storage import storage_findings
from rationlp.bins.model import Accord, BinEstimate, BinFinding, Gravity
from rationlp.book.columns import FOREIGN_MATTER
from rationlp.book.records import Book
from rationlp.library.read import Library
from rationlp.numbers import figure
from rationlp.reasons import Kind, Reason, Severity
from rationlp.units import Z90, convert_composition

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
        *toxin_findings(estimate, book, library),
        *_none_found(evidence, estimate, library),
        *storage_findings(estimate, _wettest(evidence), book, library),
        *_grain(estimate, book, library),
        *_reasons(estimate.reasons),
    )


def _agreement(estimate: BinEstimate) -> Iterable[BinFinding]:
    if estimate.agreement.verdict is Accord.DISAGREE:
        causes = " ".join(f"{index}) {cause}." for index, cause in enumerate(estimate.agreement.causes, 1))
        hint = (
            f" What would explain it ({FIRST_IN_HALF}): {causes}"
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
    elif not evidence.newest_assayed:
        yield BinFinding(
            "evidence",
            Gravity.NOTE,
            f"No assay of bin {estimate.bin}: its nutrients are the library's, weighted by the hand sort. An assay of "
            "protein and dry matter narrows protein and amino acids most; --precision says how many are worth it.",
        )
    yield from _assumed(evidence)
    if evidence.newest_sorted and len(evidence.samples) == 1:
        yield BinFinding(
            "evidence",
            Gravity.NOTE,
            f"One sample tells what it holds, not how even the bin is. {_unevenness(evidence)} A second sample of the "
            "same day, from other places and sorted by itself, shows how uneven your bins are and replaces that.",
            "producer_sampling; umanitoba_33024",
        )


def _unevenness(evidence: Evidence) -> str:
    """How uneven the bin is taken to be, and by what."""
    spread = f"shares are taken to spread by {100 * evidence.unevenness.cv:.0f} % of themselves between probes"
    if evidence.unevenness.samples:
        return f"By {evidence.unevenness.samples} samples of this farm's bins, {spread}."
    return f"Nobody has published how uneven bins of mixed grain are: {spread} (an assumption)."


def _assumed(evidence: Evidence) -> Iterable[BinFinding]:
    """What the book does not say of a sample, and what is taken in its place."""
    sorts = [row.sample for row in evidence.samples if row.probes is None]
    if sorts:
        yield BinFinding(
            "evidence",
            Gravity.NOTE,
            f"Nothing says of how many probes sample {' and '.join(sorts)} is: {PROBES_NOT_STATED} probes are assumed. "
            "Enter them on samples, probes: the more there are, the less an uneven bin misleads.",
            "memory:ISO 950/ISO 13690/ISO 6644/ISO 24333",
        )
    ground = [row.sample for row in evidence.samples if row.lab_portion_g is None and row.sample in evidence.assayed]
    if ground:
        yield BinFinding(
            "evidence",
            Gravity.NOTE,
            f"Nothing says how much the laboratory ground of sample {' and '.join(ground)}: {PORTION_G:.0f} g are "
            "assumed. Ask, and enter it on samples, lab_portion_g: a smaller portion holds fewer kernels and misses by "
            "more.",
            "memory:Regulation (EU) 691/2013 Annex I",
        )


def _none_found(evidence: Evidence, estimate: BinEstimate, library: Library) -> Iterable[BinFinding]:
    """What the newest sort looked for and found none of: that is not to say that there is none."""
    for row in estimate.crops:
        if row.sorted_share == 0 and row.crop != FOREIGN_MATTER:
            cap = _least_safety_cap(row.crop, library)
            told = "" if cap is None else f" Some animals may have no more than {cap:g} % of it in their feed."
            yield BinFinding(
                "grain",
                Gravity.NOTE if cap is None else Gravity.WARNING,
                f"{row.label}: none found by the sort of sample {evidence.newest_sorted}. Up to "
                f"{figure(100 * row.at_most, 2)} % of bin {estimate.bin} may be it (19 times in 20 no more).{told}",
            )


def _least_safety_cap(crop: str, library: Library) -> float | None:
    """The least of the crop [%] that any animal may safely have at most; None where no cap is of safety."""
    names = [crop, *(family for family, members in library.families.items() if crop in members)]
    rows = [row for name in names for row in library.feed_limits.get(name, ()) if row.safety == "yes"]
    return min((row.max_pct for row in rows if row.max_pct is not None), default=None)


def _wettest(evidence: Evidence) -> float:
    """The moisture [%] that the grain must keep at: the highest read, where readings contradict each other."""
    dry = evidence.dry_matter
    return 100 - (min(reading.pct for reading in dry.readings) if dry.contradictory else dry.pct)


def moisture_reason(evidence: Evidence) -> Reason | None:
    """The question of the bin's moisture, where meter and oven contradict each other."""
    dry = evidence.dry_matter
    if not dry.contradictory:
        return None
    said = ", ".join(f"{100 - reading.pct:.1f} % ({reading.source})" for reading in dry.readings)
    text = (
        f"Bin {evidence.bin.bin}: its figures of moisture contradict each other: {said}. It is taken at "
        f"{100 - dry.pct:.1f} ± {figure(Z90 * dry.sd, 2)} % until this is cleared up. Meters are made for one crop and "
        "clean grain: dry a weighed sample in the oven, and see that moisture was not entered as dry matter."
    )
    return Reason(
        Kind.EVIDENCE, Severity.ASK, text, feed=evidence.bin.bin, source="memory:grain moisture meter practice"
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
        gravity = Gravity.WARNING if reason.severity is Severity.FEED else Gravity.DANGER
        yield BinFinding("grain", gravity, reason.text, reason.source)


def bin_reasons(evidence: Evidence, book: Book, library: Library) -> tuple[Reason, ...]:
    """Every reason that counts when grain of the bin is in a mix."""
    hold = hold_reason(evidence.bin, book.farm)
    return (
        *(reason for reason in (hold, moisture_reason(evidence)) if reason is not None),
        *poisonous_reasons(evidence.bin.bin, book, library),
        *note_reasons(evidence.bin, book, library),
        *(
            reason
            for crop in evidence.problem.crops
            for reason in far_off_reasons(crop.crop, evidence.bin.bin, book, library)
        ),
    )
