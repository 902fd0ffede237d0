"""What the law and its guidance say of a bin's toxins: for the grain itself, and for the complete feed of a stage."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from rationlp.bins.findings.grain_words import speaks_of_any
from rationlp.bins.model import BinEstimate
from rationlp.book.columns import FOREIGN_MATTER
from rationlp.book.records import Book
from rationlp.library.read import Library
from rationlp.library.records import Contaminant, Stage
from rationlp.units import Z90, convert_composition

EVERYWHERE = "all"
RESEARCH = "research"
GRADE = "grade limit"
"""Kind of a limit that makes a trade grade and no feed law: a finding, never a refusal."""
AT_12_PCT = "at 12 % moisture"
DRY_MATTER_OF_LIMIT = 88.0
NO_DILUTING = ("canada", "eu")
"""Where no lot above a limit may be thinned (ca_feeds2024 s. 34(2); Directive 2002/32/EC Article 5)."""
JURISDICTION_WORDS = {"us": "US", "eu": "EU", "canada": "Canada"}


@dataclass(frozen=True, slots=True)
class ContaminantLimit:
    """What a contaminant of the bin does to the rations of a stage.

    `refusal` says why the bin may not be fed to the stage at all, empty if it may. Otherwise `maximum` (of the complete
    feed as fed, in `unit`) is a hard row of the ration, in which the bin counts with `bin_content`: its content as fed
    with the assay's uncertainty on the safe side (95 of 100). `rule` is the sentence to print.
    """

    nutrient: str
    label: str
    unit: str
    maximum: float | None
    bin_content: float
    rule: str
    source: str
    how: str
    refusal: str = ""


def contaminant_limits(
    estimate: BinEstimate, stage: Stage | None, book: Book, library: Library
) -> list[ContaminantLimit]:
    """Every limit that an assayed contaminant of the bin meets in this stage, refusals first.

    Only the farm's jurisdiction counts; where it sets none for the complete feed, published tolerance does. A stage of
    the farm's own (`stage` None) is held to what is written for every animal. Of several limits on the complete feed
    the lowest is the row. The tool never proposes to thin a lot.
    """
    found: list[ContaminantLimit] = []
    for nutrient in _toxins(estimate, library):
        content, upper = estimate.values[nutrient], estimate.values[nutrient] + Z90 * toxin_sd(estimate, nutrient)
        rows = [row for row in library.contaminants if row.nutrient == nutrient]
        for row in _grain_rows(rows, estimate, stage, book, library):
            limit = _as_fed(row.limit_in_ingredient, row, estimate, library)
            if content > limit:
                found.append(_refused(row, nutrient, content, limit, estimate, book, library))
        found += _diet_rows(rows, nutrient, upper, estimate, stage, book, library)
    return sorted(found, key=lambda limit: not limit.refusal)


def toxin_sd(estimate: BinEstimate, nutrient: str) -> float:
    """Standard deviation of a contaminant of the bin as fed, in its unit."""
    return next((row.sd for row in estimate.nutrients if row.nutrient == nutrient), 0.0)


def grain_limits(
    estimate: BinEstimate, book: Book, library: Library
) -> list[tuple[Contaminant, float, Literal["above", "near"]]]:
    """Limits on the grain that the bin passes, or may pass: the row, the limit as fed, and which of the two.

    Grade limits are among them.
    """
    found = []
    for nutrient in _toxins(estimate, library):
        content, upper = estimate.values[nutrient], estimate.values[nutrient] + Z90 * toxin_sd(estimate, nutrient)
        for row in (r for r in library.contaminants if r.nutrient == nutrient and r.limit_in_ingredient is not None):
            if row.jurisdiction == book.farm.jurisdiction and _about_this_grain(row, estimate, library):
                limit = _as_fed(row.limit_in_ingredient, row, estimate, library)
                if upper > limit:
                    found.append((row, limit, "above" if content > limit else "near"))
    return found


def _toxins(estimate: BinEstimate, library: Library) -> list[str]:
    return [n for n, row in library.nutrients.items() if row.kind == "toxin" and n in estimate.values]


def _grain_rows(
    rows: Iterable[Contaminant], estimate: BinEstimate, stage: Stage | None, book: Book, library: Library
) -> list[Contaminant]:
    """Feed law on the grain itself that speaks of this grain and this stage."""
    return [
        row
        for row in rows
        if row.limit_in_ingredient is not None
        and row.kind != GRADE
        and row.jurisdiction == book.farm.jurisdiction
        and (not row.scopes or _speaks_of(row, stage))
        and _about_this_grain(row, estimate, library)
    ]


def _about_this_grain(row: Contaminant, estimate: BinEstimate, library: Library) -> bool:
    """Whether the words of the source speak of a crop of the bin; those that were never mapped speak of every grain."""
    if ("contaminants", row.applies_to) not in library.grain_words:
        return True
    crops = [crop.crop for crop in estimate.crops if crop.crop != FOREIGN_MATTER and crop.share > 0]
    return speaks_of_any("contaminants", row.applies_to, crops, library)


def _speaks_of(row: Contaminant, stage: Stage | None) -> bool:
    return EVERYWHERE in row.scopes or (stage is not None and bool(set(row.scopes) & set(stage.scopes)))


def _diet_rows(
    rows: Iterable[Contaminant], nutrient: str, upper: float, estimate: BinEstimate, stage: Stage | None, book: Book,
    library: Library,
) -> list[ContaminantLimit]:  # fmt: skip
    """The lowest limit on the complete feed, as a row; nothing may be fed where it is zero."""
    speaking = [row for row in rows if row.limit_in_complete_diet is not None and _speaks_of(row, stage)]
    own = [row for row in speaking if row.jurisdiction == book.farm.jurisdiction]
    lawful = own or [row for row in speaking if row.jurisdiction == RESEARCH]
    if not lawful:
        return []
    row = min(lawful, key=lambda r: _as_fed(r.limit_in_complete_diet, r, estimate, library))
    maximum = _as_fed(row.limit_in_complete_diet, row, estimate, library)
    label, unit = library.nutrients[nutrient].label, library.nutrients[nutrient].unit
    rule = f"{label}: at most {maximum:.3g} {unit} of the complete feed ({_words(row)})"
    refusal = f"{rule}; the bin holds {estimate.values[nutrient]:.3g}" if maximum == 0 and upper > 0 else ""
    return [ContaminantLimit(nutrient, label, unit, maximum, upper, rule, row.source, row.how, refusal)]


def _refused(
    row: Contaminant, nutrient: str, content: float, limit: float, estimate: BinEstimate, book: Book, library: Library
) -> ContaminantLimit:
    label, unit = library.nutrients[nutrient].label, library.nutrients[nutrient].unit
    rule = f"{label}: at most {limit:.3g} {unit} of the grain itself ({_words(row)})"
    law = " Thinning it with other grain is prohibited." if book.farm.jurisdiction in NO_DILUTING else ""
    refusal = (
        f"bin {estimate.bin} holds {content:.3g} {unit} of {label}, above the limit of the grain itself, {limit:.3g} "
        f"({_words(row)}).{law}"
    )
    return ContaminantLimit(
        nutrient, label, unit, None, content + Z90 * toxin_sd(estimate, nutrient), rule, row.source, row.how, refusal
    )


def _words(row: Contaminant) -> str:
    where = JURISDICTION_WORDS.get(row.jurisdiction, row.jurisdiction)
    return f"{where} {row.kind}, {row.applies_to}"


def _as_fed(limit: float | None, row: Contaminant, estimate: BinEstimate, library: Library) -> float:
    """A limit in the library's unit, as fed at the bin's dry matter.

    A limit at 12 % moisture is lower in wetter grain, and never taken as higher in drier grain.
    """
    value = convert_composition(limit or 0.0, row.unit, library.nutrients[row.nutrient].unit)
    if AT_12_PCT in row.note:
        value *= min(1.0, estimate.dry_matter_pct / DRY_MATTER_OF_LIMIT)
    return value
