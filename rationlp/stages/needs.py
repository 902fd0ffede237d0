"""What a stage needs, from the library and the farm's own rows: one list of bounds on the mix as fed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from rationlp.book.columns import ENERGIES
from rationlp.book.lookup import stages_named
from rationlp.book.records import Book, OwnRequirement
from rationlp.errors import BookError, LibraryError, Problem, given
from rationlp.figures import nutrient_units
from rationlp.library.read import Library
from rationlp.library.records import Ceiling, Ratio, Requirement, Stage
from rationlp.reasons import Kind, Reason, Severity
from rationlp.stages.housing import with_housing
from rationlp.stages.model import IN_THE_GROUPS_FEED, Need, NeedKind, RatioNeed
from rationlp.stages.own_rows import missing_problems, new_stage, with_own
from rationlp.stages.species import asked_of, like_stages, species_ceilings, usual_scopes
from rationlp.stages.stage import (
    NEVER_GIVEN_UP,
    StageNeeds,
    ceilings_of,
    in_feed_eaten,
    per_day_to_concentration,
    reference_energy,
)
from rationlp.stages.usual import usual_needs

PHOSPHORUS = ("sttd_phosphorus_pig", "nonphytate_phosphorus", "phosphorus")
ADDED = ("premix", "mineral")
"""Groups of feeds whose selenium is added to a feed."""
METHIONINE = (
    "sid_methionine_pig",
    "sid_methionine_cystine_pig",
    "sid_methionine_poultry",
    "sid_methionine_cystine_poultry",
    "methionine",
    "methionine_cystine",
)
LYSINE = ("sid_lysine_pig", "sid_lysine_poultry", "lysine")
ESSENTIAL = {
    "energy": ENERGIES,
    "lysine": LYSINE,
    "methionine": METHIONINE,
    "calcium": ("calcium",),
    "phosphorus": PHOSPHORUS,
    "sodium": ("sodium",),
}
"""What a stage must ask for: one of these nutrients each."""


def stage_needs(stage_id: str, book: Book, library: Library) -> StageNeeds:
    """The needs of `stage_id`: the library's, then the farm's own rows in their place.

    Raises LibraryError if a stage of the library lacks energy, lysine, methionine, calcium, phosphorus or sodium, and
    BookError if a row of the farm cannot be used, or raises a safe ceiling without a reason.
    """
    own = [row for row in book.own_stages if row.stage == stage_id]
    known = library.stages.get(stage_id)
    found = _library_needs(known, book, library) if known else _new_stage(stage_id, own, book, library)
    found = with_own(found, own, nutrient_units(book, library), book, library)
    found = _with_usual(found, library)
    missing = _missing(found)
    if missing and known:
        own_slips = [p for name in missing for p in missing_problems(stage_id, ESSENTIAL[name], own)]
        if own_slips:
            raise BookError(own_slips)
        raise LibraryError(
            [
                Problem(
                    "error",
                    "requirements.csv",
                    "",
                    f"stage {stage_id} without rows for {', '.join(missing)}",
                    "energy, lysine, methionine, calcium, phosphorus and sodium rows",
                    "Add the rows to the feed library or to own_stages: without them the cheapest mix may be stones.",
                )
            ]
        )
    reasons = (*found.reasons, *_lacks(found, missing))
    found = with_housing(_with_margin(found, book, library), book, library)
    return replace(found, incomplete=tuple(missing), reasons=reasons)


def _new_stage(stage_id: str, own: list[OwnRequirement], book: Book, library: Library) -> StageNeeds:
    """A stage of the farm's own with the safe and legal maxima of its species (rationlp.stages.species)."""
    bare = new_stage(stage_id, own, _group_feed(stage_id, book))
    asked = asked_of(with_own(bare, own, nutrient_units(book, library), book, library).needs)
    ceilings = species_ceilings(bare.energy, asked, book.farm.jurisdiction, library)
    like = like_stages(bare.energy, asked, book.farm.jurisdiction, library)
    return replace(bare, needs=tuple(_ceiling(row) for row in ceilings), like=like)


def _with_usual(found: StageNeeds, library: Library) -> StageNeeds:
    """`found` with what the trade uses at most."""
    scopes = found.known.scopes if found.known else usual_scopes(found.energy, asked_of(found.needs))
    usual = usual_needs(scopes, found.needs, library)
    return replace(found, needs=(*found.needs, *usual), usual_scopes=tuple(scopes))


def _lacks(found: StageNeeds, missing: Sequence[str]) -> list[Reason]:
    """What a stage of the farm's own has no row for: a nutritionist must say whether the ration is complete."""
    if not missing:
        return []
    rows = f"{', '.join(missing[:-1])} and {missing[-1]}" if len(missing) > 1 else missing[0]
    return [
        Reason(
            Kind.STAGE,
            Severity.ASK,
            f"The stage {found.label} has no row for {rows}: the mix meets what was asked and may lack the rest. Add "
            "the rows to own_stages, or ask a nutritionist whether the ration is complete.",
        )
    ]


def stages_of_book(book: Book, library: Library, wanted: Iterable[str] = ()) -> list[str]:
    """The stages to formulate: those asked for, else of the groups and own stages, else all of the library.

    `all` asks for every stage of the library; a stage may go by its label, a word of the trade, a weight or a group.
    Raises RequestError for a stage that nobody knows, or a word that fits several.
    """
    own = list(dict.fromkeys(row.stage for row in book.own_stages))
    wanted = list(dict.fromkeys(wanted))
    if wanted == ["all"]:
        return [*library.stages, *(stage for stage in own if stage not in library.stages)]
    if not wanted:
        fed = [*(group.stage for group in book.groups), *(step.stage for step in book.herd)]
        in_use = list(dict.fromkeys([*fed, *own]))
        return in_use or list(library.stages)
    return stages_named(wanted, book, library)


def _library_needs(stage: Stage, book: Book, library: Library) -> StageNeeds:
    rows = [row for row in library.requirements.get(stage.stage, ()) if row.use == "row"]
    reference = reference_energy(stage, library)
    intake = stage.daily_feed_g / 1000 if stage.daily_feed_g else None
    group_feed = _group_feed(stage.stage, book)
    needs = [_energy_floor(stage, reference, intake, group_feed)]
    premix: list[Need] = []
    unchecked: list[str] = []
    for nutrient in dict.fromkeys(row.nutrient for row in rows):
        need = _need(nutrient, rows, reference, intake, group_feed, library)
        known = library.nutrients[nutrient]
        met_by = known.met_by
        need = replace(need, gives_way=known.kind == "vitamin" and met_by == "ration")
        if met_by == "not_tabled":
            unchecked.append(nutrient)
        else:
            (premix if met_by == "premix" else needs).append(need)
    for added in (False, True):
        rows_only = [row for row in library.ceilings if is_row(row) and (row.use == "added") is added]
        moved = in_feed_eaten(rows_only, group_feed, library)
        needs += [_ceiling(row, group_feed) for row in _nearest_ceilings(moved, stage, book.farm.jurisdiction)]
    ratios = [
        RatioNeed(r.numerator, r.denominator, r.minimum, r.maximum, r.kind == "safety", r.source, r.how, r.note)
        for r in _nearest_ratios(library.ratios, stage)
    ]
    return StageNeeds(
        stage.stage,
        stage.label,
        stage,
        stage.energy,
        reference,
        intake,
        group_feed,
        tuple(needs),
        tuple(ratios),
        tuple(premix),
        tuple(unchecked),
        (),
        _whose(stage),
    )


def _whose(stage: Stage) -> tuple[str, ...]:
    """A sentence on which animals the needs were found on, and which stages are of today's."""
    if not stage.animals_of:
        return ()
    today = f"; of today's animals are {' and '.join(stage.today)}" if stage.today else ""
    return (f"The needs are those of {stage.animals_of}{today}.",)


def _group_feed(stage: str, book: Book) -> float | None:
    """The least feed per head and day, kg, that the book gives for a group or a step of the herd of this stage."""
    groups = [group.feed_kg_per_head_per_day for group in book.groups if group.stage == stage]
    steps = [step.feed_kg_per_head_per_day for step in book.herd if step.stage == stage]
    return min((feed for feed in (*groups, *steps) if feed), default=None)


def _energy_floor(stage: Stage, reference: float, intake: float | None, group_feed: float | None) -> Need:
    floor, basis = (
        reference * stage.energy_floor_pct / 100,
        f"{stage.energy_floor_pct:g} % of the table's {reference:g}",
    )
    if stage.fed == "by_weight" and intake and group_feed:
        floor = reference * intake / group_feed
        basis = "the day's energy of the table, in the feed the group eats"
    return Need(
        stage.energy,
        "kcal/kg",
        floor,
        kind=NeedKind.ENERGY_FLOOR,
        basis=basis,
        source=stage.energy_floor_source,
        how=stage.energy_floor_how,
    )


def _need(
    nutrient: str,
    rows: list[Requirement],
    reference: float,
    intake: float | None,
    group_feed: float | None,
    library: Library,
) -> Need:
    """One requirement of a library stage: the per kg row, else the day's amount over the table's intake.

    Where the table knows a day's amount and the book the group's own intake, the day's amount is spread over that
    intake and does not follow energy any more; otherwise the requirement follows energy.
    """
    unit = library.units[nutrient]
    per_kg = next((row for row in rows if row.nutrient == nutrient and row.per == "kg"), None)
    per_day = next((row for row in rows if row.nutrient == nutrient and row.per == "day"), None)
    row = given(per_kg or per_day, f"the requirement of {nutrient}")
    low, high = (_in_unit(value, row, unit, intake) for value in (row.minimum, row.maximum))
    if per_day and group_feed and intake:
        low, high = (None if v is None else v * intake / group_feed for v in (low, high))
        return Need(
            nutrient,
            unit,
            low,
            high,
            basis=IN_THE_GROUPS_FEED,
            source=row.source,
            how=row.how,
            note=row.note,
        )
    return Need(
        nutrient,
        unit,
        low,
        high,
        reference_energy=reference,
        basis="with energy",
        source=row.source,
        how=row.how,
        note=row.note,
    )


def _in_unit(value: float | None, row: Requirement, unit: str, intake: float | None) -> float | None:
    """A bound of a row as a concentration in `unit`; a day's amount is spread over `intake` kg."""
    if value is None or row.per == "kg":
        return value
    if intake is None:
        raise LibraryError(
            [
                Problem(
                    "error",
                    "stages.csv",
                    "",
                    f"stage {row.stage} without a daily feed",
                    "daily_feed_g",
                    f"Its {row.nutrient} is stated per day and needs the intake.",
                )
            ]
        )
    return per_day_to_concentration(value, row.unit, unit, intake)


def _nearest_ceilings(ceilings: Iterable[Ceiling], stage: Stage, jurisdiction: str) -> list[Ceiling]:
    """Per nutrient the lowest of: the nearest safe ceiling, the nearest of practice, every legal one."""
    lowest: dict[str, Ceiling] = {}
    for row in ceilings_of(stage, jurisdiction, ceilings):
        held = lowest.get(row.nutrient)
        if held is None or row.maximum < held.maximum:
            lowest[row.nutrient] = row
    return list(lowest.values())


def ceilings_to_watch(stage: Stage, jurisdiction: str, library: Library) -> list[Ceiling]:
    """Ceilings that are no rows of the program (potassium, a balance of practice): shown when a mix passes them."""
    return ceilings_of(stage, jurisdiction, (row for row in library.ceilings if not is_row(row) and row.use != "told"))


def far_off_ranges(stage: Stage | None, jurisdiction: str, library: Library) -> list[Ceiling]:
    """Ranges outside of which a balance is told beside the verdict; none of a stage of the farm's own."""
    rows = (row for row in library.ceilings if row.use == "told")
    return ceilings_of(stage, jurisdiction, rows) if stage is not None else []


def is_row(row: Ceiling) -> bool:
    """Whether a ceiling is a row of the program: those of practice as their table says, safe and legal ones always."""
    return row.use == "row" or row.kind in NEVER_GIVEN_UP


def _nearest_ratios(ratios: Iterable[Ratio], stage: Stage) -> list[Ratio]:
    here = [row for row in ratios if row.use == "row" and row.scope in stage.scopes]
    nearest: dict[tuple[str, str], Ratio] = {}
    for row in sorted(here, key=lambda row: stage.scopes.index(row.scope)):
        nearest.setdefault((row.numerator, row.denominator), row)
    return list(nearest.values())


def _ceiling(row: Ceiling, group_feed: float | None = None) -> Need:
    per_kg = IN_THE_GROUPS_FEED if row.per == "day" and group_feed else "per kg"
    return Need(
        row.nutrient,
        row.unit,
        row.minimum,
        row.maximum,
        kind=NeedKind.CEILING,
        basis="per kg, added" if row.use == "added" else per_kg,
        safety=row.kind in NEVER_GIVEN_UP,
        probability_pct=row.probability_pct,
        source=row.source,
        how=row.how,
        note=row.note,
        legal=row.kind == "legal",
        of_groups=ADDED if row.use == "added" else (),
    )


def _missing(found: StageNeeds) -> list[str]:
    """What a ration cannot do without and the stage does not ask for."""
    asked = {need.nutrient for need in found.needs if need.minimum}
    return [name for name, ids in ESSENTIAL.items() if not asked & set(ids)]


def _with_margin(found: StageNeeds, book: Book, library: Library) -> StageNeeds:
    """Amino acid minima raised by the book's requirement margin; without one it is said that the tables have none."""
    margin = book.farm.requirement_margin_pct
    if not margin:
        note = "The requirements are the tables' own and carry no margin; requirement_margin_pct in the book adds one."
        return replace(found, notes=(*found.notes, note)) if found.known else found
    acids = {n.nutrient for n in library.nutrients.values() if n.kind in ("amino_acid", "digestible_amino_acid")}
    needs = tuple(
        replace(
            need,
            minimum=need.minimum * (1 + margin / 100),
            basis=f"{need.basis}, {margin:g} % margin",
            margin_pct=margin,
        )
        if need.nutrient in acids and need.minimum is not None
        else need
        for need in found.needs
    )
    note = f"The tables' requirements carry no margin; amino acid minima are raised by the book's {margin:g} %."
    return replace(found, needs=needs, notes=(*found.notes, note))
