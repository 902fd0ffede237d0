"""The farm's own maxima of contaminants (`own_stages`): beside the published limits, never in their place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from rationlp.book.reading.contaminant_names import looks_like_a_contaminant
from rationlp.book.records import OwnRequirement
from rationlp.errors import Problem
from rationlp.feeds.candidates import Candidate
from rationlp.library.read import Library
from rationlp.numbers import plain
from rationlp.reasons import Kind, Reason, Severity
from rationlp.stages.model import Need
from rationlp.stages.stage import KCAL_PER_MCAL, StageNeeds
from rationlp.units import convert_composition


def own_maximum(row: OwnRequirement, need: Need, reference_energy: float | None, library: Library) -> Need:
    """An own maximum of a contaminant per kg of the complete feed, in the library's unit.

    One per Mcal is put at the energy of the table's diet.
    """
    unit = library.nutrients[row.nutrient].unit
    times = (reference_energy or KCAL_PER_MCAL) / KCAL_PER_MCAL if need.reference_energy else 1.0
    most = None if need.maximum is None else convert_composition(need.maximum * times, need.unit, unit)
    return replace(need, unit=unit, minimum=None, maximum=most, reference_energy=None)


def own_maximum_note(need: Need, library: Library) -> str:
    """What the farm's own maximum does, in one sentence."""
    label = library.nutrients[need.nutrient].label
    return (
        f"Own maximum of {label}, {plain(need.maximum)} {need.unit} ({need.source or 'no source given'}): of it and "
        "the published limit the lower counts."
    )


def unlimited_reasons(candidate: Candidate, stage: StageNeeds, library: Library) -> Iterator[Reason]:
    """What is to be asked of a feed in which a test found a contaminant that no table and no own row limits here."""
    limited = {need.nutrient for need in stage.needs if need.maximum is not None}
    for nutrient, value in candidate.values.items():
        known = nutrient in library.nutrients or nutrient in limited
        if value and not known and looks_like_a_contaminant(nutrient):
            named = f"bin {candidate.name}" if candidate.estimate else candidate.name
            yield Reason(
                Kind.SAFETY,
                Severity.ASK,
                f"{named} holds {nutrient.replace('_', ' ')}, and nobody has said what these animals bear of it. Ask a "
                "nutritionist, and give it as a maximum on own_stages for this stage too.",
                nutrient=nutrient,
                feed=candidate.name,
                value=value,
            )


def minimum_problems(row: OwnRequirement) -> Iterator[Problem]:
    """An error for a minimum of what only does harm."""
    if row.minimum:
        yield Problem(
            "error",
            row.place.sheet,
            row.place.cell("minimum"),
            f"a minimum of {plain(row.minimum)} {row.unit} of {row.nutrient} in {row.stage}",
            "a maximum: no animal needs a contaminant",
            "Clear the minimum, and write the maximum if you have one.",
        )
