"""Which nutrients of a ration a nutritionist is shown, in which order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rationlp.library.read import Library
from rationlp.rations.answer.model import Ration, RequirementLine
from rationlp.sheets.model import MixSheet

PROXIMATES = ("dry_matter", "crude_protein", "ether_extract", "crude_fibre", "ash", "starch", "ndf")


def analysis_rows(sheets: Sequence[MixSheet], library: Library) -> list[tuple[str, str, str]]:
    """Nutrient, label and unit of every row: all requirements of these rations and the proximates, in library order."""
    known = {line.nutrient: (line.label, line.unit) for sheet in sheets for line in sheet.ration.requirements}
    for nutrient in PROXIMATES:
        if nutrient in library.nutrients and any(nutrient in sheet.ration.analysis for sheet in sheets):
            row = library.nutrients[nutrient]
            known.setdefault(nutrient, (row.label, row.unit))
    order = [nutrient for nutrient in library.nutrients if nutrient in known]
    order += [nutrient for nutrient in known if nutrient not in library.nutrients]
    return [(nutrient, *known[nutrient]) for nutrient in order]


def requirement_of(nutrient: str, ration: Ration) -> RequirementLine | None:
    """The ration's line for a nutrient."""
    lines: Mapping[str, RequirementLine] = {line.nutrient: line for line in ration.requirements}
    return lines.get(nutrient)
