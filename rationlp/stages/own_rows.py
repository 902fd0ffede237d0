"""The farm's own rows of a stage (`own_stages`), in place of the library's bounds on the same side of a nutrient."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from rationlp.book.columns import ENERGIES
from rationlp.book.records import Book, OwnRequirement
from rationlp.errors import BookError, Problem
from rationlp.figures import nutrient_label
from rationlp.library.read import Library
from rationlp.stages.model import Need, NeedKind
from rationlp.stages.stage import (
    KCAL_PER_MCAL,
    NEVER_GIVEN_UP,
    StageNeeds,
    ceilings_of,
    per_day_to_concentration,
    reference_energy,
)
from rationlp.units import COMPOSITION_UNITS, convert_composition


def new_stage(stage_id: str, own: Sequence[OwnRequirement], group_feed_kg: float | None) -> StageNeeds:
    """A stage of the farm's own: nothing of the library applies to it."""
    energy = next((row.nutrient for row in own if row.nutrient in ENERGIES), None)
    label = stage_id.replace("_", " ")
    return StageNeeds(stage_id, label, None, energy, None, None, group_feed_kg, (), (), (), (), (), ())


def with_own(
    found: StageNeeds, own: Sequence[OwnRequirement], units: Mapping[str, str], book: Book, library: Library
) -> StageNeeds:
    """`found` with the farm's own rows. Raises BookError for rows that cannot be used.

    A maximum above a safe or legal ceiling needs the column `source` to say why.
    """
    own_energy = next((row.nutrient for row in own if row.nutrient in ENERGIES), None)
    if own_energy and own_energy != found.energy:
        found = _with_energy(found, own_energy, library)
    own_needs = [(row, own_need(row, found, units)) for row in own]
    problems = [p for row, need in own_needs if (p := _unexplained(row, need, found, book, library))]
    if problems:
        raise BookError(problems)
    needs, notes, warnings = list(found.needs), list(found.notes), list(found.warnings)
    for row, own in own_needs:
        needs, replaced, safety = _without(needs, row)
        label, why = nutrient_label(row.nutrient, library), row.source or "no source given"
        if replaced:
            notes.append(f"Own requirement of {label} ({why}) instead of the library's {', '.join(replaced)}.")
        if safety is not None and _highest(own, found) > safety.maximum:
            warnings.append(
                f"SAFETY: the farm's own maximum of {label}, {row.maximum:g} {row.unit}, stands instead of the safe "
                f"ceiling of {safety.maximum:g} {safety.unit} ({safety.source}). Reason in the book: {why}."
            )
    needs += [own for _, own in own_needs]
    return replace(found, needs=tuple(needs), notes=tuple(notes), warnings=tuple(warnings))


def own_need(row: OwnRequirement, found: StageNeeds, units: Mapping[str, str]) -> Need:
    """A row of `own_stages` as bounds on the mix. Raises BookError if its energy or intake is not known."""
    low, high, reference, basis = row.minimum, row.maximum, None, "per kg"
    if row.per == "mcal":
        if found.energy is None:
            raise _unusable(row, "per mcal in a stage without an energy row", "a row of the stage for its energy")
        reference, basis = KCAL_PER_MCAL, "per Mcal"
    elif row.per == "day":
        return _daily_need(row, found, units)
    kind = NeedKind.ENERGY_FLOOR if row.nutrient == found.energy else NeedKind.REQUIREMENT
    return Need(row.nutrient, row.unit, low, high, reference_energy=reference, kind=kind, basis=basis,
                source=row.source, how="own")  # fmt: skip


def _daily_need(row: OwnRequirement, found: StageNeeds, units: Mapping[str, str]) -> Need:
    feed = found.group_feed_kg or found.daily_feed_kg
    if feed is None:
        raise _unusable(row, "an amount per day without the intake", "feed_per_head_per_day of a group")
    unit = units[row.nutrient]
    base = COMPOSITION_UNITS[unit][0]
    low, high = (
        None if v is None else convert_composition(per_day_to_concentration(v, row.unit, base, feed), base, unit)
        for v in (row.minimum, row.maximum)
    )
    return Need(row.nutrient, unit, low, high, basis=f"the day's amount in {feed:g} kg of feed", source=row.source,
                how="own")  # fmt: skip


def _with_energy(found: StageNeeds, energy: str, library: Library) -> StageNeeds:
    """The stage reckoned on another energy, as the farm's own rows name it."""
    if found.known is None:
        return replace(found, energy=energy)
    stage = found.known.model_copy(update={"energy": energy})
    reference = reference_energy(stage, library)
    needs = [
        replace(need, reference_energy=reference) if need.reference_energy else need
        for need in found.needs
        if need.kind is not NeedKind.ENERGY_FLOOR
    ]
    return replace(found, energy=energy, reference_energy=reference, needs=tuple(needs))


def _without(needs: list[Need], row: OwnRequirement) -> tuple[list[Need], list[str], Need | None]:
    """`needs` without the bounds that the farm's row replaces, these in words, and a safe ceiling among them."""
    kept, replaced, safety = [], [], None
    for need in needs:
        if need.nutrient != row.nutrient:
            kept.append(need)
            continue
        low = None if row.minimum is not None else need.minimum
        high = None if row.maximum is not None else need.maximum
        if row.minimum is not None and need.minimum is not None:
            replaced.append(f"minimum {need.minimum:.4g} {need.unit}")
        if row.maximum is not None and need.maximum is not None:
            replaced.append(f"{'safe ceiling' if need.safety else 'maximum'} {need.maximum:.4g} {need.unit}")
            safety = need if need.safety and need.how != "own" else safety
        if low is not None or high is not None:
            kept.append(replace(need, minimum=low, maximum=high))
    return kept, replaced, safety


def _unexplained(row: OwnRequirement, need: Need, found: StageNeeds, book: Book, library: Library) -> Problem | None:
    """The problem of a maximum above a safe or legal ceiling for which the book gives no reason."""
    if need.maximum is None or row.source.strip() or found.known is None:
        return None
    high = _highest(need, found)
    applying = ceilings_of(found.known, book.farm.jurisdiction, library.ceilings)
    lower = [c for c in applying if c.nutrient == row.nutrient and c.kind in NEVER_GIVEN_UP and high > c.maximum]
    if not lower:
        return None
    ceiling = min(lower, key=lambda c: c.maximum)
    return Problem(
        "error", "own_stages", row.place.cell("source"),
        f"no source for a maximum of {high:.4g} {need.unit} of {row.nutrient} in {row.stage}, "
        f"above the {'legal' if ceiling.kind == 'legal' else 'safe'} ceiling of {ceiling.maximum:g} ({ceiling.source})",
        "who says so, in the column source, wherever a safe ceiling is raised",
        "Write the source down, or lower the maximum.",
    )  # fmt: skip


def _highest(need: Need, found: StageNeeds) -> float:
    """The maximum of an own need per kg of a mix with the energy of the table."""
    reference = found.reference_energy or KCAL_PER_MCAL
    return need.maximum * (reference / KCAL_PER_MCAL if need.reference_energy else 1.0)


def _unusable(row: OwnRequirement, found: str, expected: str) -> BookError:
    return BookError([Problem(
        "error", "own_stages", row.place.cell("per"), f"{row.nutrient} of {row.stage}: {found}", expected,
        f"Add it to the sheet {'groups' if row.per == 'day' else 'own_stages'}, or state the row per kg.",
    )])  # fmt: skip
