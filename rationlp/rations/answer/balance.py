"""What nothing forbids and the trade does not feed: far more protein than is needed, electrolytes far off balance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate
from rationlp.figures import feed_label, nutrient_label
from rationlp.library.read import Library
from rationlp.numbers import plain
from rationlp.rations.answer.mix import Mix
from rationlp.rations.answer.model import RequirementLine
from rationlp.rations.program.left_out import BIN
from rationlp.stages.needs import far_off_ranges

MUCH = 1.5
"""Times the need from which protein is told as too much (a judgement; ordinary feeds keep below)."""
PROTEINS = {"sid_crude_protein_pig": "Digestible protein", "crude_protein": "Protein"}
RICH_GROUPS = ("pulse", "oilseed", "protein_meal", "animal_protein")
"""Groups of feeds that bring the protein of a blend."""
MOST_NAMED = 3
WORTH_NAMING = 0.1
"""Part of the rich crops of a bin that one must be to be named."""
WAYS_OUT = {
    "electrolyte_balance": (
        "sodium bicarbonate in place of part of the salt raises it, and so does less of lysine as its chloride",
        "salt in place of sodium bicarbonate lowers it, and so does less of what is rich in potassium",
    )
}
"""By nutrient what raises it, and what lowers it."""


def balance_notices(mix: Mix, requirements: Sequence[RequirementLine], farm: Farm) -> Iterator[str]:
    """A sentence for each, with what it comes from and what would mend it."""
    yield from _protein(mix, requirements, farm.library)
    for row in far_off_ranges(mix.formula.stage.known, farm.settings.jurisdiction, farm.library):
        gives = mix.analysis.get(row.nutrient)
        low = row.minimum or 0.0
        if gives is not None and not low <= gives <= row.maximum:
            raises, lowers = WAYS_OUT[row.nutrient]
            yield (
                f"{nutrient_label(row.nutrient, farm.library)} is {plain(gives, 3)} {row.unit}; trials did best within "
                f"{plain(low, 3)} to {plain(row.maximum, 3)}: {raises if gives < low else lowers}."
            )


def _protein(mix: Mix, requirements: Sequence[RequirementLine], library: Library) -> Iterator[str]:
    lines = [line for line in requirements if line.nutrient in PROTEINS and line.minimum and line.gives is not None]
    if not lines:
        return
    line = max(lines, key=lambda each: each.minimum or 0.0)
    need, gives = line.minimum or 0.0, line.gives or 0.0
    if gives <= MUCH * need:
        return
    cause = _brought_by(mix, line.nutrient, need, library)
    yield (
        f"{PROTEINS[line.nutrient]} is {plain(gives, 3)} {line.unit}, {plain(gives / need, 2)} times the "
        f"{plain(need, 3)} needed: {cause}. What is too much is burnt and goes into the manure: animals drink more and "
        "lie wetter. A grain of less protein beside it would mend it."
    )


def _brought_by(mix: Mix, nutrient: str, need: float, library: Library) -> str:
    """The ingredient that brings most of what is beyond the need."""
    share, candidate = max(mix.used, key=lambda pair: pair[0] * (pair[1].values.get(nutrient, 0.0) - need))
    if candidate.group != BIN:
        return f"most of that from {candidate.label}, {plain(100 * share, 3)} % of the mix"
    rich = _rich_crops(candidate, library)
    if not rich:
        return f"most of that from {candidate.label}"
    held = sum(candidate.feeds[feed] for feed in rich)
    named = [feed_label(feed, library) for feed in rich[:MOST_NAMED] if candidate.feeds[feed] >= WORTH_NAMING * held]
    return f"most of that from {candidate.label}, {plain(100 * held, 2)} % of which is {_listed(named)}"


def _rich_crops(candidate: Candidate, library: Library) -> list[str]:
    """The crops of a bin that are rich in protein, the most of it first."""
    rich = [feed for feed in candidate.feeds if feed in library.feeds and library.feeds[feed].group in RICH_GROUPS]
    return sorted(rich, key=lambda feed: -candidate.feeds[feed])


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
