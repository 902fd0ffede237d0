"""The farm's own rows of a stage (`own_stages`), in place of the library's bounds on the same side of a nutrient."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from rationlp.bins.toxins import is_contaminant
from rationlp.book.columns import ENERGIES
from rationlp.book.reading.contaminant_names import looks_like_a_contaminant
from rationlp.book.records import Book, OwnRequirement, Settings
from rationlp.errors import BookError, Problem, given
from rationlp.figures import nutrient_label, nutrient_units
from rationlp.library.cited import cited
from rationlp.library.read import Library
from rationlp.library.records import Ceiling
from rationlp.numbers import figure, plain
from rationlp.reasons import Kind, Reason, Severity
from rationlp.stages.approvals import approval, weight_problems
from rationlp.stages.model import IN_THE_GROUPS_FEED, Need, NeedKind
from rationlp.stages.own_contaminants import minimum_problems, own_maximum, own_maximum_note
from rationlp.stages.stage import (
    KCAL_PER_MCAL,
    NEVER_GIVEN_UP,
    StageNeeds,
    ceilings_in,
    in_feed_eaten,
    per_day_to_concentration,
    reference_energy,
)
from rationlp.units import COMPOSITION_UNITS, convert_composition

SCOPES_OF_ENERGY = {
    "ne_pig": ("swine", "all"),
    "me_pig": ("swine", "all"),
    "de_pig": ("swine", "all"),
    "amen_poultry": ("poultry", "all"),
}
"""Whose ceilings hold for a stage of the farm's own: its energy names the animals."""
FAR_ABOVE = 2.0
"""Times a ceiling from which on a minimum is taken for a slip of its unit (a judgement)."""
FAR_UNDER = 0.75
"""Less than this part of the library's minimum is far under it: a decimal point, or a nutritionist's decision (a
judgement)."""


def new_stage(stage_id: str, own: Sequence[OwnRequirement], group_feed_kg: float | None) -> StageNeeds:
    """A stage of the farm's own: nothing of the library applies to it."""
    energy = next((row.nutrient for row in own if row.nutrient in ENERGIES), None)
    label = stage_id.replace("_", " ")
    return StageNeeds(stage_id, label, None, energy, None, None, group_feed_kg, (), (), (), (), (), ())


def with_own(
    found: StageNeeds, own: Sequence[OwnRequirement], units: Mapping[str, str], book: Book, library: Library
) -> StageNeeds:
    """`found` with the farm's own rows. Raises BookError for rows that cannot be used.

    A maximum above a safe or legal ceiling needs `source` (why), `approved_by` and `approved_on`; one of a contaminant
    stands beside the published limits and passes none of them.
    """
    poisons = [row for row in own if is_contaminant(row.nutrient, library)]
    own = [row for row in own if row not in poisons]
    own_energy = next((row.nutrient for row in own if row.nutrient in ENERGIES), None)
    if own_energy and own_energy != found.energy:
        found = _with_energy(found, own_energy, library)
    own_needs = [(row, own_need(row, found, units)) for row in own]
    passed = [(row, need, ceiling) for row, need in own_needs if (ceiling := _passed(row, need, found, book, library))]
    maxima = [own_maximum(row, own_need(row, found, units), found.reference_energy, library) for row in poisons]
    problems = [p for row in poisons for p in minimum_problems(row)]
    problems += [p for row, need in own_needs for p in _beyond_reach(row, need, found, book, library)]
    problems += [
        p for row, need, ceiling in passed for p in weight_problems(row, _passes(row, need, found, ceiling, library))
    ]
    if problems:
        raise BookError(problems)
    needs, premix = list(found.needs), list(found.premix_needs)
    notes, warnings = [*found.notes, *(own_maximum_note(need, library) for need in maxima)], list(found.warnings)
    for row, asked in own_needs:
        needs, replaced, safety = _without(needs, row)
        premix, of_premix, _ = _without(premix, row)
        replaced += of_premix
        label, why = nutrient_label(row.nutrient, library), row.source or "no source given"
        if replaced:
            notes.append(f"Own requirement of {label} ({why}) instead of the library's {', '.join(replaced)}.")
        if safety is not None and _highest(asked, found) > given(safety.maximum, f"the safe ceiling of {label}"):
            warnings.append(
                f"SAFETY: the farm's own maximum of {label}, {plain(row.maximum)} {row.unit}, stands instead of the "
                f"safe ceiling of {plain(safety.maximum)} {safety.unit} ({cited(safety.source, library.sources)}). "
                f"In the book: {approval(row, book.farm)}."
            )
    for _, asked in own_needs:
        rows, brought = _placed(asked, library)
        needs, premix = [*needs, *rows], [*premix, *brought]
    reasons = (
        *found.reasons,
        *(_approved(row, need, found, ceiling, library, book.farm) for row, need, ceiling in passed),
    )
    asked_low = {row.nutrient for row in own if row.minimum is not None}
    lowered = tuple(n for n in (*found.needs, *found.premix_needs) if n.nutrient in asked_low and n.minimum is not None)
    return replace(
        found,
        lowered=lowered,
        needs=tuple(needs),
        premix_needs=tuple(premix),
        notes=tuple(notes),
        warnings=tuple(warnings),
        reasons=reasons,
        own_contaminants=tuple(maxima),
    )


def is_far_under(amount: float, need: Need, low: float) -> bool:
    """Whether an amount is far under `low`, what the library asks for by `need`; how dense a feed is, is the farm's
    choice."""
    return need.kind is not NeedKind.ENERGY_FLOOR and amount < FAR_UNDER * low


def far_under_problems(found: StageNeeds, book: Book, library: Library) -> Iterator[Problem]:
    """A warning for each own minimum that is far under the library's in whose place it stands."""
    units = nutrient_units(book, library)
    for row in book.own_stages:
        if row.stage != found.stage or row.minimum is None:
            continue
        own, per = own_need(row, found, units), "" if row.per == "kg" else f" per {row.per}"
        for need in found.lowered:
            low = given(need.minimum, f"the library's minimum of {need.nutrient}")
            if need.nutrient == row.nutrient and is_far_under(_per_kg(own.minimum, own, found), need, low):
                yield Problem(
                    "warning",
                    row.place.sheet,
                    row.place.cell("minimum"),
                    f"a minimum of {plain(row.minimum)} {row.unit}{per} of {row.nutrient} in {row.stage}",
                    f"not far below the library's {figure(low)} {need.unit} ({need.source})",
                    "Look at the decimal point and the unit, or have a nutritionist confirm it: a ration this low is "
                    "asked about.",
                )


def missing_problems(stage_id: str, ids: Sequence[str], own: Sequence[OwnRequirement]) -> Iterator[Problem]:
    """An error for each own row that leaves a stage of the library without a minimum of any of these nutrients."""
    for row in own:
        if row.nutrient in ids and not row.minimum:
            yield Problem(
                "error",
                row.place.sheet,
                row.place.cell("minimum"),
                f"{'no minimum' if row.minimum is None else 'a minimum of 0'} of {row.nutrient} in {stage_id}",
                "a minimum above 0: without one the cheapest mix may be stones",
                "Write the minimum, or delete the row: the library's minimum then holds.",
            )


def _placed(asked: Need, library: Library) -> tuple[list[Need], list[Need]]:
    """An own need where the library's of that nutrient stand: among the rows, or with what premixes bring.

    Most feeds have no figure of a vitamin or of iodine, and a ration is not left without feeds for it: what is not
    known counts as none, which is the safe side of a minimum. Nor has a feed a figure of a contaminant that no limit
    knows until somebody tests it; the farm's own maximum of one is never given up.
    """
    known = library.nutrients.get(asked.nutrient)
    if known is None and asked.minimum is None and looks_like_a_contaminant(asked.nutrient):
        return [replace(asked, none_if_unknown=True, safety=True)], []
    if known is None or not (known.met_by == "premix" or known.kind == "vitamin"):
        return [asked], []
    least = [replace(asked, maximum=None, gives_way=known.met_by == "ration")] if asked.minimum is not None else []
    rows = [replace(asked, minimum=None, none_if_unknown=True)] if asked.maximum is not None else []
    return (rows, least) if known.met_by == "premix" else ([*rows, *least], [])


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
    return Need(
        row.nutrient,
        row.unit,
        low,
        high,
        reference_energy=reference,
        kind=kind,
        basis=basis,
        source=row.source,
        how="own",
    )


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
    return Need(
        row.nutrient,
        unit,
        low,
        high,
        basis=IN_THE_GROUPS_FEED,
        source=row.source,
        how="own",
    )


def _with_energy(found: StageNeeds, energy: str, library: Library) -> StageNeeds:
    """The stage calculated on another energy, as the farm's own rows name it."""
    if found.known is None:
        return replace(found, energy=energy)
    stage = replace(found.known, energy=energy)
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
            replaced.append(f"minimum {plain(need.minimum)} {need.unit}")
        if row.maximum is not None and need.maximum is not None:
            replaced.append(f"{'safe ceiling' if need.safety else 'maximum'} {plain(need.maximum)} {need.unit}")
            safety = need if need.safety and need.how != "own" else safety
        if low is not None or high is not None:
            kept.append(replace(need, minimum=low, maximum=high))
    return kept, replaced, safety


def _beyond_reach(row: OwnRequirement, need: Need, found: StageNeeds, book: Book, library: Library) -> list[Problem]:
    """A minimum far above a safe or legal ceiling that stands: a slip of a unit, no mix is looked for that keeps it.

    One a little above is looked at with the mix: published diets pass some ceilings by a tenth.
    """
    if need.minimum is None or need.maximum is not None:
        return []
    ceiling = _passed(row, replace(need, minimum=None, maximum=need.minimum), found, book, library)
    if ceiling is None or need.minimum < FAR_ABOVE * ceiling.maximum:
        return []
    return [
        Problem(
            "error",
            row.place.sheet,
            row.place.cell("minimum"),
            f"a minimum of {plain(need.minimum)} {need.unit} of {row.nutrient} in {row.stage}",
            f"no more than the {_ceiling_words(ceiling)} of {plain(ceiling.maximum)} {ceiling.unit} "
            f"({cited(ceiling.source, library.sources)})",
            "Check value and unit, and lower it. To pass the ceiling write a maximum too, with source, approved_by and "
            "approved_on.",
        )
    ]


def _passed(row: OwnRequirement, need: Need, found: StageNeeds, book: Book, library: Library) -> Ceiling | None:
    """The lowest safe or legal ceiling that the farm's own maximum lies above."""
    if need.maximum is None:
        return None
    scopes = found.known.scopes if found.known else SCOPES_OF_ENERGY.get(found.energy or "", ("all",))
    high = _highest(need, found)
    stated = in_feed_eaten(library.ceilings, found.group_feed_kg, library)
    lower = [
        ceiling
        for ceiling in ceilings_in(scopes, book.farm.jurisdiction, stated)
        if ceiling.nutrient == row.nutrient
        and ceiling.kind in NEVER_GIVEN_UP
        and ceiling.use != "added"
        and high > ceiling.maximum
    ]
    return min(lower, key=lambda ceiling: ceiling.maximum, default=None)


def _passes(row: OwnRequirement, need: Need, found: StageNeeds, ceiling: Ceiling, library: Library) -> str:
    return (
        f"a maximum of {plain(_highest(need, found))} {need.unit} of {row.nutrient} in {row.stage}, above the "
        f"{_ceiling_words(ceiling)} of {plain(ceiling.maximum)} ({cited(ceiling.source, library.sources)})"
    )


def _approved(
    row: OwnRequirement, need: Need, found: StageNeeds, ceiling: Ceiling, library: Library, farm: Settings
) -> Reason:
    """The reason of a maximum that passes a safe or legal ceiling with approval."""
    high = _highest(need, found)
    return Reason(
        Kind.LAW if ceiling.kind == "legal" else Kind.SAFETY,
        Severity.ASK,
        f"Up to {figure(high)} {need.unit} of {nutrient_label(row.nutrient, library)} is allowed by the farm, above "
        f"the {_ceiling_words(ceiling)} of {figure(ceiling.maximum)} {ceiling.unit}; {approval(row, farm)}.",
        nutrient=row.nutrient,
        unit=need.unit,
        value=high,
        limit=ceiling.maximum,
        source=ceiling.source,
    )


def _ceiling_words(ceiling: Ceiling) -> str:
    return "legal ceiling" if ceiling.kind == "legal" else "safe ceiling"


def _highest(need: Need, found: StageNeeds) -> float:
    """The maximum of an own need per kg of a mix with the energy of the table."""
    return _per_kg(need.maximum, need, found)


def _per_kg(bound: float | None, need: Need, found: StageNeeds) -> float:
    """A bound of an own need per kg of a mix with the energy of the table."""
    reference = found.reference_energy or KCAL_PER_MCAL
    return given(bound, f"the farm's own {need.nutrient}") * (
        reference / KCAL_PER_MCAL if need.reference_energy else 1.0
    )


def _unusable(row: OwnRequirement, found: str, expected: str) -> BookError:
    return BookError(
        [
            Problem(
                "error",
                "own_stages",
                row.place.cell("per"),
                f"{row.nutrient} of {row.stage}: {found}",
                expected,
                f"Add it to the sheet {'groups' if row.per == 'day' else 'own_stages'}, or state the row per kg.",
            )
        ]
    )
