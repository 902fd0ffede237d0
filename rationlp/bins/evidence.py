"""What the book holds on one bin, put as the least-squares problem of joint.py, and what does not go into it.

The crop shares of a bin that nobody has sorted come from what was sown, the farm's other bins, or nothing at all.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from rationlp.bins.drift import Unevenness, drifts_between, one_day, probes_of, unevenness
from rationlp.bins.dry_matter import DRY_MATTER, DryMatter, assay_sd, dry_matter
from rationlp.bins.joint import Assays, LeastSquaresProblem, SampleReading, Sorted, sorted_shares
from rationlp.bins.lots import Crop, foreign_matter, is_coefficient, known_crop
from rationlp.bins.model import Drift
from rationlp.bins.toxins import is_contaminant
from rationlp.book.columns import FOREIGN_MATTER
from rationlp.book.records import Assay, Bin, Book, Sample
from rationlp.errors import BookError, Problem
from rationlp.library.dangers.poisonous import poisonous_seed
from rationlp.library.read import Library
from rationlp.numbers import Floats

PORTION_G = 500.0
"""What a laboratory grinds (a final sample is at least 500 g: memory, Regulation (EU) 691/2013 Annex I)."""
SOWN_CV = 0.5
"""How far a crop's share at harvest may lie from its share of the seed, as a part of it (a judgement: crops of a
mixture out-yield or smother each other, and no published spread was found)."""
GRAIN_GROUPS = ("cereal", "pulse", "oilseed")


@dataclass(frozen=True, slots=True)
class Evidence:
    """The problem and the rows of the book behind it: `samples` oldest first, `lone` assays of what no crop has."""

    bin: Bin
    samples: tuple[Sample, ...]
    problem: LeastSquaresProblem
    dry_matter: DryMatter
    assays: Mapping[str, tuple[Assay, ...]]
    lone: tuple[Assay, ...]
    drifts: tuple[Drift, ...]
    crops_from: str  # sort, sown, farm, library
    unevenness: Unevenness

    @property
    def newest_sorted(self) -> str:
        """The newest sample that was sorted, or empty."""
        return next((r.sample for r in reversed(self.problem.readings) if r.sort is not None), "")

    @property
    def newest_assayed(self) -> str:
        """The newest sample with an assay that the problem uses, or empty."""
        return next((r.sample for r in reversed(self.problem.readings) if r.assays is not None), "")

    @property
    def assayed(self) -> frozenset[str]:
        """The samples with an assay that the problem uses."""
        return frozenset(r.sample for r in self.problem.readings if r.assays is not None)


def gather(bin_id: str, book: Book, library: Library, sample_id: str | None = None) -> Evidence:
    """Everything the book says of the bin: all its samples, or `sample_id` alone, and what was sown.

    Raises BookError for a crop without a dry matter figure, a bin that is not in the book, or a sample that is not the
    bin's or says nothing.
    """
    bin_ = next((row for row in book.bins if row.bin == bin_id), None)
    if bin_ is None:
        known = ", ".join(row.bin for row in book.bins)
        found = f"no bin {bin_id!r}"
        raise BookError([Problem("error", "bins", "", found, f"one of {known or '(none)'}", "Check the spelling.")])
    samples = _samples(bin_id, book, sample_id)
    heaps = {sample.sample: _heaps(sample, book, library) for sample in samples}
    sown = {row.crop: row.mass_kg for row in book.sown if row.bin == bin_id}
    names, crops_from = _crop_names(bin_id, heaps, sown, book, library)
    crops = _crops(names, heaps, book, library)
    assays = {sample.sample: tuple(row for row in book.assays if row.sample == sample.sample) for sample in samples}
    dry = dry_matter(bin_, samples, assays, _table_dry_matter(crops, heaps), library)
    nutrients = _nutrients(crops, library)
    prior = _prior(crops_from, crops, sown, bin_id, book, library)
    sorts = {name: sorted_shares(masses, crops) for name, masses in heaps.items() if masses}
    between = farm_unevenness(book, library)
    likely = next(reversed(sorts.values()), prior).shares
    places = {
        row.sample: between.of(sorts[row.sample].shares if row.sample in sorts else likely, probes_of(row))
        for row in samples
    }
    readings, drifts = [], [(None, None), *drifts_between(samples, sorts, places, crops)]
    for sample, (_, moved) in zip(samples, drifts, strict=False):
        used = sample_assays(sample, assays[sample.sample], nutrients, dry, library)
        readings.append(SampleReading(sample.sample, sorts.get(sample.sample), used, moved, places[sample.sample]))
    problem = LeastSquaresProblem(crops, nutrients, dry.pct, dry.sd, tuple(readings), prior)
    lone = tuple(row for rows in assays.values() for row in rows if row.nutrient not in (*nutrients, DRY_MATTER))
    return Evidence(
        bin_,
        samples,
        problem,
        dry,
        assays,
        lone,
        tuple(drift for drift, _ in drifts if drift and drift.degrees),
        crops_from,
        between,
    )


# Samples and crops ----------------------------------------------------------------------------------------------


def _samples(bin_id: str, book: Book, sample_id: str | None) -> tuple[Sample, ...]:
    """The bin's samples that say anything, oldest first, undated ones before all others."""
    speaking = {row.sample for row in book.sorted if row.mass_g > 0} | {row.sample for row in book.assays}
    own = [row for row in book.samples if row.bin == bin_id and row.sample in speaking]
    if sample_id is not None:
        named = [row for row in own if row.sample == sample_id]
        if not named:
            expected = (
                f"a sample of {bin_id} that was sorted or assayed: {', '.join(r.sample for r in own) or '(none)'}"
            )
            found = f"no such sample {sample_id!r} of the bin {bin_id!r}"
            raise BookError([Problem("error", "samples", "", found, expected, "Check sample and bin.")])
        own = named
    return tuple(sorted(own, key=lambda row: row.taken_on or date.min))


def _heaps(sample: Sample, book: Book, library: Library) -> dict[str, float]:
    """Grams of each heap of a hand sort, poisonous seeds as foreign matter; empty if no crop was sorted out."""
    masses: dict[str, float] = {}
    for row in book.sorted:
        if row.sample == sample.sample:
            crop = FOREIGN_MATTER if poisonous_seed(row.crop, library) else row.crop
            masses[crop] = masses.get(crop, 0.0) + row.mass_g
    return masses if any(grams > 0 for crop, grams in masses.items() if crop != FOREIGN_MATTER) else {}


def farm_unevenness(book: Book, library: Library) -> Unevenness:
    """How uneven the bins of this farm are, by the samples taken of one bin on one day."""
    repeats = []
    sampled = Counter(row.bin for row in book.samples)
    for bin_ in (each for each in book.bins if sampled[each.bin] > 1):
        for samples in one_day([row for row in book.samples if row.bin == bin_.bin]):
            heaps = {sample.sample: masses for sample in samples if (masses := _heaps(sample, book, library))}
            if len(heaps) < 2:
                continue
            names = list(dict.fromkeys(crop for masses in heaps.values() for crop in masses))
            try:
                crops = _crops(names, heaps, book, library)
            except BookError:  # told where that bin is estimated
                continue
            sorts = {name: sorted_shares(masses, crops) for name, masses in heaps.items()}
            repeats.append([(sorts[row.sample], probes_of(row)) for row in samples if row.sample in sorts])
    return unevenness(repeats)


def _crop_names(
    bin_id: str,
    heaps: Mapping[str, Mapping[str, float]],
    sown: Mapping[str, float] | None,
    book: Book,
    library: Library,
) -> tuple[list[str], str]:
    """The crops that may be in the bin, and how we know."""
    found = list(dict.fromkeys(crop for masses in heaps.values() for crop in masses))
    if any(crop != FOREIGN_MATTER for crop in found):
        return found, "sort"
    if sown:
        return list(sown), "sown"
    farm = list(dict.fromkeys(crop for shares in farm_sorts(book, bin_id, library) for crop in shares))
    return (farm, "farm") if farm else (library_grains(library), "library")


def _crops(
    names: list[str], heaps: Mapping[str, Mapping[str, float]], book: Book, library: Library
) -> tuple[Crop, ...]:
    grain = {name: known_crop(name, book, library) for name in names if name != FOREIGN_MATTER}
    newest = next((masses for masses in reversed(list(heaps.values())) if masses), {})
    weights = {name: newest.get(name, 0.0) for name in grain}
    if not any(weights.values()):
        weights = dict.fromkeys(grain, 1.0)
    return tuple(grain[name] if name in grain else foreign_matter(weights, grain) for name in names)


def _nutrients(crops: tuple[Crop, ...], library: Library) -> tuple[str, ...]:
    """The nutrients that every crop of the bin has a figure for, in the library's order, the farm's own ones last.

    A contaminant is none of them: it is not spread evenly over the lots of a crop (rationlp.bins.toxins).
    """
    common = set.intersection(*(set(crop.values) for crop in crops))
    known = [nutrient for nutrient in library.nutrients if nutrient in common]
    own = sorted(common - set(known))
    return tuple(
        nutrient
        for nutrient in (*known, *own)
        if not is_coefficient(nutrient, library) and not is_contaminant(nutrient, library)
    )


def _prior(
    crops_from: str,
    crops: tuple[Crop, ...],
    sown: Mapping[str, float] | None,
    bin_id: str,
    book: Book,
    library: Library,
) -> Sorted:
    names = [crop.crop for crop in crops]
    if crops_from == "sown" and sown:
        return shares_sown([sown[name] for name in names])
    if crops_from == "farm":
        return shares_like(farm_sorts(book, bin_id, library), names)
    return shares_unknown(names)


# Dry matter and assays ------------------------------------------------------------------------------------------


def _table_dry_matter(crops: tuple[Crop, ...], heaps: Mapping[str, Mapping[str, float]]) -> tuple[float, float]:
    """Dry matter [%] of the crops in the library and its sd. They share one air: all are moist or dry together."""
    newest = next((masses for masses in reversed(list(heaps.values())) if masses), {})
    weights = np.array([newest.get(crop.crop, 0.0) for crop in crops])
    weights = weights / weights.sum() if weights.any() else np.full(len(crops), 1 / len(crops))
    return (
        float(weights @ [crop.dry_matter_pct for crop in crops]),
        float(weights @ [crop.dry_matter_sd for crop in crops]),
    )


def sample_assays(
    sample: Sample, rows: tuple[Assay, ...], nutrients: tuple[str, ...], dry: DryMatter, library: Library
) -> Assays | None:
    """The sample's figures of nutrients that the crops have.

    A figure as fed speaks of the bin's nutrient and dry matter at once. One of a sample of another day is put on dry
    matter at the sample's own, if that was assayed; else the bin may have dried or drawn water since. A figure given
    twice comes from two portions.
    """
    used = [row for row in rows if row.nutrient in nutrients]
    if not used:
        return None
    portion_g = (sample.lab_portion_g or PORTION_G) * max(Counter(row.nutrient for row in used).values())
    picks = np.zeros((len(used), len(nutrients)))
    picks[range(len(used)), [nutrients.index(row.nutrient) for row in used]] = 1.0
    values = np.array([row.value for row in used])
    sds = np.array([assay_sd(row, library) for row in used])
    as_fed = np.array([row.basis == "as_fed" for row in used])
    there = dry.of_sample.get(sample.sample)
    if there is None:
        moved = np.where(as_fed, values / dry.pct * dry.moved_sd.get(sample.sample, 0.0), 0.0)
        return Assays(picks, values, np.diag(sds**2) + np.outer(moved, moved), as_fed, portion_g)
    to_dry = np.where(as_fed, 100 / there[0], 1.0)
    values, sds = values * to_dry, sds * to_dry
    through = np.where(as_fed, values * there[1] / there[0], 0.0)
    return Assays(picks, values, np.diag(sds**2) + np.outer(through, through), np.zeros(len(used), bool), portion_g)


def shares_sown(seed_mass: Sequence[float]) -> Sorted:
    """Shares of the seed as a first guess at the shares of the harvest; each crop by itself may do half as well or
    better.

    `seed_mass` in any one unit. The covariance is that of shares that make a whole.
    """
    shares = np.asarray(seed_mass, float) / float(np.sum(seed_mass))
    off = np.eye(len(shares)) - shares[:, None]
    return Sorted(shares, off @ np.diag((SOWN_CV * shares) ** 2) @ off.T)


def shares_like(other_bins: Sequence[Mapping[str, float]], crops: Sequence[str]) -> Sorted:
    """Shares of a bin among these crops, when other bins of the farm are all that is known (Dirichlet law).

    One count for each crop and one for each other bin: a farm with two bins sorted has an idea, no more.
    """
    counts = np.ones(len(crops)) + sum(
        (np.array([found.get(crop, 0.0) for crop in crops]) for found in other_bins), np.zeros(len(crops))
    )
    return _dirichlet(counts / counts.sum(), float(counts.sum()))


def shares_unknown(crops: Sequence[str]) -> Sorted:
    """Any of these crops, in any share: as wide as a draw that is mostly one crop or another (Dirichlet, 1)."""
    return _dirichlet(np.full(len(crops), 1 / len(crops)), 1.0)


def _dirichlet(mean: Floats, weight: float) -> Sorted:
    return Sorted(mean, (np.diag(mean) - np.outer(mean, mean)) / (weight + 1))


def farm_sorts(book: Book, without_bin: str, library: Library) -> list[dict[str, float]]:
    """Shares of the newest hand sort of each other bin, foreign matter and poisonous seeds left out."""
    newest: dict[str, dict[str, float]] = {}
    for sample in sorted(book.samples, key=lambda row: (row.taken_on is not None, row.taken_on)):
        masses = {crop: grams for crop, grams in _heaps(sample, book, library).items() if crop != FOREIGN_MATTER}
        total = sum(masses.values())
        if sample.bin != without_bin and total:
            newest[sample.bin] = {crop: mass / total for crop, mass in masses.items()}
    return list(newest.values())


def library_grains(library: Library) -> list[str]:
    """Every crop of the library that lies in bins."""
    return [feed for feed, row in library.feeds.items() if row.origin == "crop" and row.group in GRAIN_GROUPS]
