"""What a bin holds: the joint estimate of joint.py put into the terms of the farm, as fed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

import numpy as np

from rationlp.bins.agreement import agreement
from rationlp.bins.drift import probes_of
from rationlp.bins.dry_matter import DRY_MATTER, assay_sd
from rationlp.bins.evidence import Evidence, gather
from rationlp.bins.findings.impossible import impossible_assays
from rationlp.bins.findings.safety import bin_reasons, findings
from rationlp.bins.joint import Belief, Sorted, blend, solve
from rationlp.bins.lots import Crop
from rationlp.bins.measure import bin_mass
from rationlp.bins.model import Agreement, BinEstimate, CropShare, EvidenceKind, NutrientValue
from rationlp.bins.reconcile import Reconciled, reconciled
from rationlp.bins.sampling import none_found_at_most
from rationlp.bins.toxins import bin_contents, is_contaminant
from rationlp.book.columns import FOREIGN_MATTER
from rationlp.book.records import Assay, Book, Sample
from rationlp.book_units import units_of
from rationlp.errors import BookError
from rationlp.figures import nutrient_units
from rationlp.library.derive import with_derived
from rationlp.library.read import Library
from rationlp.numbers import Floats, largest_first
from rationlp.units import Z90

MOSTLY_ASSAY = 0.9
"""The assay's, where assays took away this part of the variance; both's above the next; else the library's."""
HARDLY_ASSAY = 0.02


def estimate_bin(bin_id: str, book: Book, library: Library, sample_id: str | None = None) -> BinEstimate:
    """The bin `bin_id` from all its samples, newest counting most, or from `sample_id` alone.

    What was sown counts only where nobody has sorted the bin. Hand sort, assays and library are weighed against
    each other (generalized least squares) on dry matter; the answer is turned to as fed once, at the bin's own
    moisture. Foreign matter takes its share and is credited with no nutrient. Raises BookError for a crop without a
    dry matter figure and for assays that no grain of the bin can have.
    """
    evidence = gather(bin_id, book, library, sample_id)
    problems = impossible_assays(evidence, book, library)
    if problems:
        raise BookError(problems)
    compared = agreement(evidence, book, library)
    found = reconciled(evidence, compared, library)
    before, _ = solve(evidence.problem, with_assays=False)
    return _assemble(evidence, found, before, compared, book, library)


def estimate_bins(bin_ids: Iterable[str], book: Book, library: Library) -> list[BinEstimate]:
    """Several bins; raises one BookError with the problems of all of them."""
    found, problems = [], []
    for bin_id in bin_ids:
        try:
            found.append(estimate_bin(bin_id, book, library))
        except BookError as error:
            problems += error.problems
    if problems:
        raise BookError(problems)
    return found


def _assemble(
    evidence: Evidence,
    found: Reconciled,
    before: Belief,
    compared: Agreement,
    book: Book,
    library: Library,
) -> BinEstimate:
    belief = found.belief
    index = (*evidence.problem.nutrients, DRY_MATTER)
    covariance, prior = as_fed_covariance(belief), as_fed_covariance(before)
    crops = _crops(evidence, belief)
    shares = {row.crop: row.share for row in crops if row.crop != FOREIGN_MATTER}
    known, dry = _samples_until(evidence, book), evidence.dry_matter.pct
    harm = bin_contents(evidence.bin.bin, known, dry, shares, book, library)
    alone = _laboratory(evidence.lone, evidence, library)
    lone = {name: pair for name, pair in alone.items() if not is_contaminant(name, library)}
    lone |= {name: (harm.by_nutrient[name].value, harm.by_nutrient[name].sd) for name in harm.measured}
    values = _values(evidence, belief, lone, library)
    mass = bin_mass(evidence.bin, shares, library, units_of(book.farm))
    newest = evidence.samples[-1] if evidence.samples else None
    made = BinEstimate(
        bin=evidence.bin.bin,
        label=evidence.bin.label or evidence.bin.bin,
        tonnes=mass.tonnes,
        sample=newest.sample if newest else "",
        taken_on=newest.taken_on if newest else None,
        dry_matter_pct=evidence.dry_matter.pct,
        moisture_from=evidence.dry_matter.source,
        crops=crops,
        values=values,
        nutrients=_nutrient_values(evidence, values, covariance, prior, before, lone, book, library),
        dry_matter_sd=float(covariance[-1, -1]) ** 0.5,
        tonnes_sd=mass.sd,
        tonnes_from=mass.source,
        evidence=_kind_of_evidence(evidence),
        samples=tuple(sample.sample for sample in evidence.samples),
        agreement=compared,
        drifts=evidence.drifts,
        nutrient_index=index,
        covariance=covariance,
        contaminants=harm.by_nutrient,
        reasons=(*found.reasons, *harm.reasons, *bin_reasons(evidence, book, library)),
    )
    return replace(made, notices=findings(evidence, made, book, library))


def _samples_until(evidence: Evidence, book: Book) -> tuple[Sample, ...]:
    """Every sample of the bin up to the newest of the evidence, oldest first: a toxin once found is not forgotten."""
    newest = evidence.samples[-1].taken_on if evidence.samples else None
    own = [row for row in book.samples if row.bin == evidence.bin.bin]
    return tuple(
        sorted(
            (row for row in own if newest is None or (row.taken_on or date.min) <= newest),
            key=lambda row: row.taken_on or date.min,
        )
    )


def _kind_of_evidence(evidence: Evidence) -> EvidenceKind:
    if evidence.newest_sorted:
        return EvidenceKind.BOTH if evidence.newest_assayed else EvidenceKind.SORT
    return EvidenceKind.ASSAY if evidence.newest_assayed else EvidenceKind.NONE


def as_fed_covariance(belief: Belief) -> Floats:
    """Covariance of the nutrients as fed and of dry matter (last), from that on dry matter."""
    inner = belief.covariance[belief.crops :, belief.crops :]
    scale = np.append(np.full(len(belief.nutrients), belief.dry_matter_pct / 100), 1.0)
    steep = np.append(belief.nutrients / 100, 0.0)  # how a nutrient as fed moves with dry matter
    with_dry = np.outer(inner[:, -1] * scale, steep)
    dry_variance = float(inner[-1, -1])
    return inner * np.outer(scale, scale) + with_dry + with_dry.T + dry_variance * np.outer(steep, steep)


def _values(
    evidence: Evidence, belief: Belief, lone: Mapping[str, tuple[float, float]], library: Library
) -> dict[str, float]:
    """Everything known of the bin as fed, the digestibility of the blend in percent of each nutrient."""
    on_dry_matter = dict(zip(evidence.problem.nutrients, np.clip(belief.nutrients, 0, None).tolist(), strict=True))
    values = {nutrient: value * belief.dry_matter_pct / 100 for nutrient, value in on_dry_matter.items()}
    for row in library.nutrients.values():
        if row.part_of in values and row.nutrient in values:
            whole = values[row.part_of]
            values[row.coefficient] = 100 * values[row.nutrient] / whole if whole else 100.0
    values |= {nutrient: value for nutrient, (value, _) in lone.items()}
    values[DRY_MATTER] = evidence.dry_matter.pct  # as stated; what assays say of it is in the values as fed
    return with_derived(values, library.nutrients)


def _laboratory(rows: Iterable[Assay], evidence: Evidence, library: Library) -> dict[str, tuple[float, float]]:
    """Mean and standard deviation, as fed at the bin's dry matter, of the newest sample's figures of each nutrient."""
    found: dict[str, tuple[float, float]] = {}
    by_sample: dict[tuple[str, str], list[Assay]] = {}
    for row in rows:
        by_sample.setdefault((row.sample, row.nutrient), []).append(row)
    for sample in evidence.samples:  # oldest first, the newest stays
        dry = evidence.dry_matter.of(sample.sample)
        for (name, nutrient), same in by_sample.items():
            if name != sample.sample:
                continue
            scale = {"as_fed": evidence.dry_matter.pct / dry, "dry_matter": evidence.dry_matter.pct / 100}
            scales = [1.0 if nutrient == DRY_MATTER else scale[row.basis] for row in same]
            value = sum(row.value * times for row, times in zip(same, scales, strict=True)) / len(same)
            variance = sum((assay_sd(row, library) * times) ** 2 for row, times in zip(same, scales, strict=True))
            found[nutrient] = value, variance**0.5 / len(same)
    return found


def _crops(evidence: Evidence, belief: Belief) -> tuple[CropShare, ...]:
    newest = next((r.sort for r in reversed(evidence.problem.readings) if r.sort is not None), None)
    rows = [
        CropShare(
            crop=crop.crop,
            label=crop.label,
            share=(share := max(float(belief.shares[i]), 0.0)),
            sorted_share=float(newest.shares[i]) if newest else None,
            sd=(sd := max(float(belief.covariance[i, i]), 0.0) ** 0.5),
            sorted_sd=float(newest.covariance[i, i]) ** 0.5 if newest else None,
            dry_matter_pct=crop.dry_matter_pct,
            at_most=min(max(share + Z90 * sd, _if_none_found(newest, i, crop)), 1.0),
        )
        for i, crop in enumerate(evidence.problem.crops)
    ]
    named = (row for row in rows if row.share > 0 or row.sorted_share is not None)
    return tuple(sorted(named, key=lambda row: largest_first(row.share)))


def _if_none_found(sort: Sorted | None, index: int, crop: Crop) -> float:
    """The most of a crop that may be in the bin where its heap was empty, else 0."""
    if sort is None or sort.shares[index] > 0:
        return 0.0
    return none_found_at_most(crop.kernel_mass_g, sort.sample_g)


def _nutrient_values(
    evidence: Evidence,
    values: Mapping[str, float],
    covariance: Floats,
    prior: Floats,
    before: Belief,
    lone: Mapping[str, tuple[float, float]],
    book: Book,
    library: Library,
) -> tuple[NutrientValue, ...]:
    """A line per nutrient, in the library's order, the farm's own nutrients last."""
    index = {nutrient: i for i, nutrient in enumerate((*evidence.problem.nutrients, DRY_MATTER))}
    place = _between_places(evidence, before)
    units = nutrient_units(book, library)
    expected = (*(before.nutrients * before.dry_matter_pct / 100).tolist(), before.dry_matter_pct)
    assayed = _laboratory((row for rows in evidence.assays.values() for row in rows), evidence, library)
    assayed |= {nutrient: pair for nutrient, pair in lone.items() if nutrient in assayed}
    lines = []
    for nutrient in (*library.nutrients, *(n for n in values if n not in library.nutrients)):
        row = library.nutrients.get(nutrient)
        if nutrient not in values or (row is not None and row.kind == "coefficient"):
            continue
        label, unit = (row.label, row.unit) if row else (nutrient.replace("_", " "), units.get(nutrient, ""))
        if nutrient in index:
            at = index[nutrient]
            before_variance = float(prior[at, at])
            in_sample = before_variance - float(place[at])
            gone = before_variance - float(covariance[at, at])
            weight = min(gone / in_sample, 1.0) if in_sample > 0 else 0.0
            if nutrient == DRY_MATTER:
                weight = 0.0 if not evidence.dry_matter.readings else 1.0
            sd, start, start_sd = max(float(covariance[at, at]), 0.0) ** 0.5, expected[at], before_variance**0.5
        else:
            sd, start, start_sd, weight = _lone_sd(nutrient, lone, library), None, None, 1.0
        value, value_sd = assayed.get(nutrient, (None, None))
        origin = "assay" if weight >= MOSTLY_ASSAY else "both" if weight >= HARDLY_ASSAY else "library"
        lines.append(
            NutrientValue(
                nutrient,
                label,
                unit,
                values[nutrient],
                origin,
                sd,
                start,
                start_sd,
                value,
                value_sd,
                max(weight, 0.0),
            )
        )
    return tuple(lines)


def _between_places(evidence: Evidence, before: Belief) -> Floats:
    """Variance of each nutrient as fed, and of dry matter, that no assay of these samples can take away: their probes
    are few, and they hold other grain than the bin."""
    made = blend(evidence.problem, before.shares, np.diag(before.share_covariance))
    probes = sum(probes_of(sample) for sample in evidence.samples)
    if not probes:
        return np.zeros(len(evidence.problem.nutrients) + 1)
    slopes = made.slopes * before.dry_matter_pct / 100
    return np.append(np.diag(slopes @ evidence.unevenness.of(before.shares, probes) @ slopes.T), 0.0)


def _lone_sd(nutrient: str, lone: Mapping[str, tuple[float, float]], library: Library) -> float:
    if nutrient in lone:
        return lone[nutrient][1]
    parts = library.nutrients[nutrient].sum_of if nutrient in library.nutrients else ()
    return math.sqrt(sum(lone[part][1] ** 2 for part in parts if part in lone))
