"""Assays that no grain can have: a slip in the figure, its unit or its sample, told with its cell."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.bins.dry_matter import assay_sd
from rationlp.bins.evidence import Evidence, gather, library_grains
from rationlp.bins.lots import Crop, known_crop
from rationlp.book.columns import FOREIGN_MATTER
from rationlp.book.records import Assay, Book
from rationlp.errors import BookError, Problem
from rationlp.finder import listed
from rationlp.library.read import Library
from rationlp.units import dry_matter_basis

FAR = 5.0
"""Standard deviations of lots and laboratory beyond the richest and the poorest crop that are still believed."""
WETTEST_PCT = 35.0
"""Wetter is no grain that is stored: it is more likely the moisture that is wrong than the assays (common practice)."""
CHAFF = 0.7
"""The least grain that is still believed in a sample of grain, as a share of it."""
WHOLE_PCT = 101.0
"""Parts of the dry matter add to 100 %, and one for the errors of their assays."""
PARTS = ("crude_protein", "ether_extract", "starch", "sugars", "ash")
"""Parts of the dry matter that do not overlap (sugars and starch apart, fibre left out)."""


def check_bins(book: Book, library: Library) -> list[Problem]:
    """Everything about the bins of a book that no estimate can be made of, bin by bin."""
    found: list[Problem] = []
    for row in book.bins:
        try:
            found += impossible_assays(gather(row.bin, book, library), book, library)
        except BookError as error:
            found += error.problems
    return found


def impossible_assays(evidence: Evidence, book: Book, library: Library) -> list[Problem]:
    """A problem for each assay of the bin that no grain can have, or that adds up to more than there is."""
    found: list[Problem] = []
    for rows in evidence.assays.values():
        found += [problem for row in rows if (problem := _beyond_all_crops(row, evidence, book, library)) is not None]
        found += _more_than_all(rows, evidence)
    moisture = evidence.bin.moisture_pct
    as_fed = any(row.basis == "as_fed" for rows in evidence.assays.values() for row in rows)
    if found and as_fed and moisture is not None and moisture > WETTEST_PCT:
        return [
            Problem(
                "error",
                "bins",
                evidence.bin.place.cell("moisture_pct"),
                f"a moisture of {moisture:g} %, by which the assays as fed would be more than any grain has on dry "
                "matter",
                f"at most {WETTEST_PCT:g} %",
                "Check it; 13 means 13 %. The assays can be judged once it is right.",
            )
        ]
    return found


def _beyond_all_crops(row: Assay, evidence: Evidence, book: Book, library: Library) -> Problem | None:
    if row.nutrient not in evidence.problem.nutrients:
        return None
    low, high = _range(row.nutrient, evidence.problem.crops)
    value = _on_dry_matter(row, evidence)
    error = FAR * _on_dry_matter(row, evidence, assay_sd(row, library))
    if low - error <= value <= high + error:
        return None
    others = [known_crop(name, book, library) for name in library_grains(library)]
    widest = _range(row.nutrient, [crop for crop in others if row.nutrient in crop.values] or evidence.problem.crops)
    if min(low, widest[0]) - error <= value <= max(high, widest[1]) + error:
        return None  # another crop may be in the bin: that is for agreement.py to say
    names = listed(crop.label for crop in evidence.problem.crops)
    return Problem(
        "error",
        "assays",
        row.place.cell("value"),
        f"{row.nutrient} of {row.value:g} {row.unit} ({'as fed' if row.basis == 'as_fed' else 'on dry matter'})",
        f"{max(low, 0):.3g} to {high:.3g} {row.unit} on dry matter, which the crops of the bin can have ({names})",
        "Check value, unit, basis and sample: no grain of the library has that.",
    )


def _range(nutrient: str, crops: Sequence[Crop]) -> tuple[float, float]:
    """From the poorest lot of the poorest crop, thinned by chaff, to the richest of the richest; low by a factor."""
    grain = [crop for crop in crops if crop.crop != FOREIGN_MATTER]
    spreads = [
        (crop.values[nutrient], FAR * sum(a**2 for a in crop.moves.get(nutrient, {}).values()) ** 0.5) for crop in grain
    ]
    low = min(value / (1 + spread / value) if value else 0.0 for value, spread in spreads)
    return CHAFF * low, max(value + spread for value, spread in spreads)


def _on_dry_matter(row: Assay, evidence: Evidence, value: float | None = None) -> float:
    value = row.value if value is None else value
    return value if row.basis == "dry_matter" else dry_matter_basis(value, evidence.dry_matter.pct)


def _more_than_all(rows: Sequence[Assay], evidence: Evidence) -> list[Problem]:
    parts = {row.nutrient: row for row in rows if row.nutrient in PARTS and row.unit == "%"}
    total = sum(_on_dry_matter(row, evidence) for row in parts.values())
    if total <= WHOLE_PCT or len(parts) < 2:
        return []
    last = list(parts.values())[-1]
    return [
        Problem(
            "error",
            "assays",
            last.place.cell("value"),
            f"{' + '.join(parts)} of sample {last.sample!r} adding up to {total:.1f} % of the dry matter",
            "at most 100 %",
            "Check values, units and bases; all of them may be on the other basis.",
        )
    ]
