"""What a bin holds: crop shares from the hand sort, nutrients from the library, assays before the library."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from rationlp.book.records import Assay, Bin, Book, Sample
from rationlp.errors import BookError, Problem
from rationlp.figures import FeedFigures, feed_figures
from rationlp.library.derive import depends_on, with_derived
from rationlp.library.read import Library
from rationlp.units import dry_matter_basis

FOREIGN_MATTER = "foreign_matter"


@dataclass(frozen=True, slots=True)
class CropShare:
    """Share of a crop in the bin, 0 to 1 by mass."""

    crop: str
    label: str
    share: float
    sorted_share: float


@dataclass(frozen=True, slots=True)
class NutrientValue:
    """A nutrient of the bin as fed, and whether a laboratory or the library says so."""

    nutrient: str
    label: str
    unit: str
    value: float
    origin: str  # assay, library, both (an assayed nutrient through library coefficients)


@dataclass(frozen=True, slots=True)
class BinEstimate:
    """A bin as it stands in the rations; `values` as fed, by nutrient, coefficients included."""

    bin: str
    label: str
    tonnes: float | None
    sample: str
    taken_on: date | None
    dry_matter_pct: float
    moisture_from: str
    crops: tuple[CropShare, ...]
    values: Mapping[str, float]
    nutrients: tuple[NutrientValue, ...]
    findings: tuple[str, ...] = ()

    def covariance_of(self, first: str, second: str) -> float:
        """Covariance of two nutrients of the bin as fed; the simple estimate knows none."""
        return 0.0


def estimate_bin(bin_id: str, book: Book, library: Library, sample_id: str | None = None) -> BinEstimate:
    """The bin `bin_id` from its newest sample, or from `sample_id`.

    Everything is reckoned on dry matter and turned to as fed once, at the bin's own moisture. Foreign matter takes
    its share and brings no nutrient. Raises BookError if the bin has no hand sort or a crop has no figures.
    """
    bin_ = next(row for row in book.bins if row.bin == bin_id)
    sample = _choose_sample(bin_, book, sample_id)
    shares = _sorted_shares(sample, book)
    crops = {crop: feed_figures(crop, book, library) for crop in shares if crop != FOREIGN_MATTER}
    assays = [row for row in book.assays if row.sample == sample.sample]
    dry_matter, moisture_from = _dry_matter(bin_, assays, shares, crops)
    blend = _blend(shares, crops, library)
    assayed = {row.nutrient: _on_dry_matter(row, dry_matter) for row in assays if row.nutrient != "dry_matter"}
    values_dm = with_derived({**blend, **assayed}, library.nutrients)
    values = {
        nutrient: value if _is_coefficient(nutrient, library) else value * dry_matter / 100
        for nutrient, value in values_dm.items()
    }
    values["dry_matter"] = dry_matter
    return BinEstimate(
        bin=bin_id,
        label=bin_.label or bin_id,
        tonnes=None if bin_.mass_kg is None else bin_.mass_kg / 1000,
        sample=sample.sample,
        taken_on=sample.taken_on,
        dry_matter_pct=dry_matter,
        moisture_from=moisture_from,
        crops=tuple(
            CropShare(crop, crops[crop].label if crop in crops else "Foreign matter", share, share)
            for crop, share in sorted(shares.items(), key=lambda item: -item[1])
        ),
        values=values,
        nutrients=_nutrient_values(values, set(assayed), library),
    )


def _choose_sample(bin_: Bin, book: Book, sample_id: str | None) -> Sample:
    """The sample asked for, or the bin's newest one that was sorted."""
    sorted_samples = {row.sample for row in book.sorted}
    own = [row for row in book.samples if row.bin == bin_.bin and row.sample in sorted_samples]
    if sample_id is not None:
        own = [row for row in own if row.sample == sample_id]
    if not own:
        raise BookError([Problem(
            "error", "bins", bin_.place.cell("bin"), f"bin {bin_.bin!r} without a hand-sorted sample",
            "at least one sample of it with rows in the sheet 'sorted'",
            "Take a sample, sort it by crop, weigh the heaps and enter them in 'samples' and 'sorted'.",
        )])  # fmt: skip
    return max(own, key=lambda row: (row.taken_on or date.min, book.samples.index(row)))


def _sorted_shares(sample: Sample, book: Book) -> dict[str, float]:
    """Share by mass of each heap of the hand sort, in the order of the sheet."""
    masses: dict[str, float] = {}
    for row in book.sorted:
        if row.sample == sample.sample:
            masses[row.crop] = masses.get(row.crop, 0.0) + row.mass_g
    total = sum(masses.values())
    return {crop: mass / total for crop, mass in masses.items() if mass > 0}


def _dry_matter(
    bin_: Bin, assays: list[Assay], shares: Mapping[str, float], crops: Mapping[str, FeedFigures]
) -> tuple[float, str]:
    """Dry matter in percent, and who says so: the bin's moisture, the laboratory, or the crops of the library."""
    if bin_.moisture_pct is not None:
        return 100 - bin_.moisture_pct, "moisture of the bin"
    for row in assays:
        if row.nutrient == "dry_matter":
            return row.value, f"assay of sample {row.sample}"
    known = {crop: share for crop, share in shares.items() if crop in crops and crops[crop].dry_matter_pct}
    total = sum(known.values())
    return sum(share * crops[crop].dry_matter_pct for crop, share in known.items()) / total, "library"


def _blend(shares: Mapping[str, float], crops: Mapping[str, FeedFigures], library: Library) -> dict[str, float]:
    """Composition of the blend on dry matter; a coefficient is weighted by the nutrient it belongs to.

    A nutrient that a crop has no figure for is left out, so that it is missing, not zero.
    """
    dm = {crop: _dry_figures(crop, figures, library) for crop, figures in crops.items()}
    known = set.intersection(*(set(figures) for figures in dm.values()))
    blend = {
        nutrient: sum(shares[crop] * figures[nutrient] for crop, figures in dm.items())
        for nutrient in known
        if not _is_coefficient(nutrient, library) and not library.nutrients[nutrient].part_of
    }
    for nutrient in library.nutrients.values():
        if nutrient.part_of in blend and nutrient.nutrient in known:
            whole = blend[nutrient.part_of]
            part = sum(shares[crop] * figures[nutrient.nutrient] for crop, figures in dm.items())
            blend[nutrient.coefficient] = 100 * part / whole if whole else 100.0
    return {n: v for n, v in blend.items() if not library.nutrients[n].sum_of or not _parts_known(n, blend, library)}


def _parts_known(nutrient: str, blend: Mapping[str, float], library: Library) -> bool:
    return all(part in blend or library.nutrients[part].part_of for part in library.nutrients[nutrient].sum_of)


def _dry_figures(crop: str, figures: FeedFigures, library: Library) -> dict[str, float]:
    if figures.dry_matter_pct is None:
        raise BookError([Problem(
            "error", "sorted", "", f"crop {crop!r} without a dry matter figure", "a dry matter figure",
            f"Add a row to 'own_feeds': {crop}, dry_matter, 88, %, as_fed (or what your grain has).",
        )])  # fmt: skip
    return {
        nutrient: value if _is_coefficient(nutrient, library) else dry_matter_basis(value, figures.dry_matter_pct)
        for nutrient, value in figures.values.items()
        if nutrient != "dry_matter" and nutrient in library.nutrients
    }


def _on_dry_matter(row: Assay, dry_matter_pct: float) -> float:
    return row.value if row.basis == "dry_matter" else dry_matter_basis(row.value, dry_matter_pct)


def _is_coefficient(nutrient: str, library: Library) -> bool:
    known = library.nutrients.get(nutrient)
    return known is not None and known.kind == "coefficient"


def _nutrient_values(values: Mapping[str, float], assayed: set[str], library: Library) -> tuple[NutrientValue, ...]:
    lines = []
    for nutrient in library.nutrients.values():
        if nutrient.nutrient not in values or nutrient.kind == "coefficient":
            continue
        origin = "library"
        if nutrient.nutrient in assayed:
            origin = "assay"
        elif assayed & depends_on(nutrient.nutrient, library.nutrients):
            origin = "both"
        lines.append(NutrientValue(nutrient.nutrient, nutrient.label, nutrient.unit, values[nutrient.nutrient], origin))
    return tuple(lines)
