"""What a stage needs, from the library and the farm's own rows: one list of bounds on the mix as fed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from rationlp.book.records import Book, OwnRequirement
from rationlp.errors import BookError, InputError, LibraryError, Problem
from rationlp.figures import nutrient_label, nutrient_units
from rationlp.library.read import Library
from rationlp.library.records import Ceiling, Ratio, Requirement, Stage
from rationlp.rations.model import Need, RatioNeed
from rationlp.units import COMPOSITION_UNITS, convert_composition

ENERGIES = ("ne_pig", "me_pig", "de_pig", "amen_poultry")
KCAL_PER_MCAL = 1000.0
PHOSPHORUS = ("sttd_phosphorus_pig", "nonphytate_phosphorus", "phosphorus")
LYSINE = ("sid_lysine_pig", "sid_lysine_poultry", "lysine")
PER_DAY_IN_UNIT = {"%": ("g", 0.1), "mg/kg": ("mg", 1.0), "IU/kg": ("IU", 1.0), "kcal/kg": ("kcal", 1.0)}


@dataclass(frozen=True, slots=True)
class StageNeeds:
    """Everything a ration of `stage` is judged by.

    `needs` are rows of the program, `premix_needs` are met by the premix, `unchecked` cannot be reckoned at all.
    `reference_energy` in kcal/kg is the energy the table's requirements stand for; `daily_feed_kg` the table's intake
    at that energy. `incomplete` names what a stage of the farm's own lacks to be a ration that may be fed.
    """

    stage: str
    label: str
    known: Stage | None
    energy: str | None
    reference_energy: float | None
    daily_feed_kg: float | None
    group_feed_kg: float | None
    needs: tuple[Need, ...]
    ratios: tuple[RatioNeed, ...]
    premix_needs: tuple[Need, ...]
    unchecked: tuple[str, ...]
    incomplete: tuple[str, ...]
    notes: tuple[str, ...]


def stage_needs(stage_id: str, book: Book, library: Library) -> StageNeeds:
    """The needs of `stage_id`: the library's, then the farm's own rows in their place.

    Raises LibraryError if a stage of the library lacks energy, lysine, calcium, phosphorus or sodium, and BookError
    if a row of the farm cannot be used.
    """
    own = [row for row in book.own_stages if row.stage == stage_id]
    known = library.stages.get(stage_id)
    found = _library_needs(known, book, library) if known else _new_stage(stage_id, own, book)
    found = _with_own(found, own, nutrient_units(book, library), library)
    missing = _missing(found)
    if missing and known:
        raise LibraryError([Problem(
            "error", "requirements.csv", "", f"stage {stage_id} without rows for {', '.join(missing)}",
            "energy, lysine, calcium, phosphorus and sodium rows",
            "Add the rows to the feed library or to 'own_stages': without them the cheapest mix may be stones.",
        )])  # fmt: skip
    return replace(_with_margin(found, book, library), incomplete=tuple(missing))


def stages_of_book(book: Book, library: Library, wanted: Iterable[str] = ()) -> list[str]:
    """The stages to formulate: those asked for, else of the groups and own stages, else all of the library.

    `all` asks for every stage of the library. Raises InputError for a stage that nobody knows.
    """
    own = list(dict.fromkeys(row.stage for row in book.own_stages))
    wanted = list(dict.fromkeys(wanted))
    if wanted == ["all"]:
        return [*library.stages, *(stage for stage in own if stage not in library.stages)]
    if not wanted:
        in_use = list(dict.fromkeys([*(group.stage for group in book.groups), *own]))
        return in_use or list(library.stages)
    unknown = [stage for stage in wanted if stage not in library.stages and stage not in own]
    if unknown:
        raise InputError([
            Problem("error", "--stage", "", repr(stage), "a stage of the library or of 'own_stages'",
                    f"Did you mean {_nearest(stage, [*library.stages, *own])}? 'rationlp library stages' lists them.")
            for stage in unknown
        ])  # fmt: skip
    return wanted


def _nearest(word: str, known: list[str]) -> str:
    import difflib

    return " or ".join(difflib.get_close_matches(word, known, 2, 0.4)) or "another one"


def _library_needs(stage: Stage, book: Book, library: Library) -> StageNeeds:
    rows = [row for row in library.requirements.get(stage.stage, ()) if row.use == "row"]
    reference = _reference_energy(stage, library)
    intake = stage.daily_feed_g / 1000 if stage.daily_feed_g else None
    group_feed = _group_feed(stage.stage, book)
    needs = [_energy_floor(stage, reference, intake, group_feed)]
    premix, unchecked = [], []
    for nutrient in dict.fromkeys(row.nutrient for row in rows):
        need = _need(nutrient, rows, reference, intake, group_feed, library)
        met_by = library.nutrients[nutrient].met_by
        if met_by == "not_tabled":
            unchecked.append(nutrient)
        else:
            (premix if met_by == "premix" else needs).append(need)
    rows_only = [row for row in library.ceilings if row.use == "row"]
    needs += [_ceiling(row) for row in _nearest_ceilings(rows_only, stage, book.farm.jurisdiction)]
    ratios = [
        RatioNeed(r.numerator, r.denominator, r.minimum, r.maximum, r.kind == "safety", r.source, r.how, r.note)
        for r in _nearest_ratios(library.ratios, stage)
    ]
    return StageNeeds(
        stage.stage, stage.label, stage, stage.energy, reference, intake, group_feed,
        tuple(needs), tuple(ratios), tuple(premix), tuple(unchecked), (), (),
    )  # fmt: skip


def _reference_energy(stage: Stage, library: Library) -> float:
    for row in library.requirements.get(stage.stage, ()):
        if row.use == "reference_energy" and row.per == "kg" and row.nutrient == stage.energy and row.minimum:
            return row.minimum
    raise LibraryError([Problem(
        "error", "requirements.csv", "", f"stage {stage.stage} without a reference energy ({stage.energy})",
        "a reference_energy row per kg", "Add the row: requirements follow it.",
    )])  # fmt: skip


def _group_feed(stage: str, book: Book) -> float | None:
    """The least feed per head and day, kg, that the book gives for a group of this stage."""
    given = [group.feed_kg_per_head_per_day for group in book.groups if group.stage == stage]
    return min((feed for feed in given if feed), default=None)


def _energy_floor(stage: Stage, reference: float, intake: float | None, group_feed: float | None) -> Need:
    floor, basis = reference * stage.energy_floor_pct / 100, f"{stage.energy_floor_pct:g} % of the table's {reference:g}"
    if stage.fed == "by_weight" and intake and group_feed:
        floor = reference * intake / group_feed
        basis = f"the day's energy of the table in {group_feed:g} kg of feed"
    return Need(
        stage.energy, "kcal/kg", floor, kind="energy_floor", basis=basis,
        source=stage.energy_floor_source, how=stage.energy_floor_how,
    )  # fmt: skip


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
    row = per_kg or per_day
    low, high = (_in_unit(value, row, unit, intake) for value in (row.minimum, row.maximum))
    if per_day and group_feed and intake:
        low, high = (None if v is None else v * intake / group_feed for v in (low, high))
        return Need(
            nutrient, unit, low, high, basis=f"the day's amount in {group_feed:g} kg of feed",
            source=row.source, how=row.how, note=row.note,
        )  # fmt: skip
    return Need(
        nutrient, unit, low, high, reference_energy=reference, basis="with energy",
        source=row.source, how=row.how, note=row.note,
    )  # fmt: skip


def _in_unit(value: float | None, row: Requirement, unit: str, intake: float | None) -> float | None:
    """A bound of a row as a concentration in `unit`; a day's amount is spread over `intake` kg."""
    if value is None or row.per == "kg":
        return value
    if intake is None:
        raise LibraryError([Problem(
            "error", "stages.csv", "", f"stage {row.stage} without a daily feed", "daily_feed_g",
            f"Its {row.nutrient} is stated per day and needs the intake.",
        )])  # fmt: skip
    return per_day_to_concentration(value, row.unit, unit, intake)


def per_day_to_concentration(amount: float, day_unit: str, unit: str, feed_kg: float) -> float:
    """An amount per head and day (`g`, `mg`, `IU`, `kcal`) as a concentration in `unit` of `feed_kg` kg of feed.

    The arithmetic of NRC 1994 Nutrient Requirements of Poultry, Table 2-3: percent = mg per day / (10 x g of feed).
    Raises ValueError for a unit that does not fit.
    """
    expected, factor = PER_DAY_IN_UNIT[unit]
    if day_unit == "mg" and expected == "g":
        amount, day_unit = amount / 1000, "g"
    if day_unit == "g" and expected == "mg":
        amount, day_unit = amount * 1000, "mg"
    if day_unit != expected:
        raise ValueError(f"{day_unit} per day does not fit a nutrient in {unit}")
    return amount / feed_kg * factor


def _nearest_ceilings(ceilings: Iterable[Ceiling], stage: Stage, jurisdiction: str) -> list[Ceiling]:
    """Per nutrient the lowest of: the nearest safe ceiling, the nearest of practice, every legal one."""
    lowest: dict[str, Ceiling] = {}
    for row in _applying(ceilings, stage, jurisdiction):
        held = lowest.get(row.nutrient)
        if held is None or row.maximum < held.maximum:
            lowest[row.nutrient] = row
    return list(lowest.values())


def _applying(ceilings: Iterable[Ceiling], stage: Stage, jurisdiction: str) -> list[Ceiling]:
    """Per nutrient and kind the ceilings of the nearest scope; legal ones of the jurisdiction at any distance."""
    here = [row for row in ceilings if row.scope in stage.scopes and (not row.jurisdiction or jurisdiction in row.jurisdiction)]
    nearest: dict[tuple[str, str], int] = {}
    for row in here:
        key = (row.nutrient, row.kind)
        nearest[key] = min(nearest.get(key, len(stage.scopes)), stage.scopes.index(row.scope))
    return [
        row
        for row in here
        if row.kind == "legal" or stage.scopes.index(row.scope) == nearest[row.nutrient, row.kind]
    ]


def ceilings_to_watch(stage: Stage, jurisdiction: str, library: Library) -> list[Ceiling]:
    """Ceilings that are no rows of the program (potassium, trace minerals, vitamins): shown when a mix passes them."""
    return _applying((row for row in library.ceilings if row.use == "check"), stage, jurisdiction)


def _nearest_ratios(ratios: Iterable[Ratio], stage: Stage) -> list[Ratio]:
    here = [row for row in ratios if row.use == "row" and row.scope in stage.scopes]
    nearest: dict[tuple[str, str], Ratio] = {}
    for row in sorted(here, key=lambda row: stage.scopes.index(row.scope)):
        nearest.setdefault((row.numerator, row.denominator), row)
    return list(nearest.values())


def _ceiling(row: Ceiling) -> Need:
    return Need(
        row.nutrient, row.unit, maximum=row.maximum, kind="ceiling", basis="per kg", safety=row.kind != "practice",
        probability_pct=row.probability_pct,
        source=row.source, how=row.how, note=row.note,
    )  # fmt: skip


def _new_stage(stage_id: str, own: list[OwnRequirement], book: Book) -> StageNeeds:
    """A stage of the farm's own: nothing of the library applies to it."""
    energy = next((row.nutrient for row in own if row.nutrient in ENERGIES), None)
    label = stage_id.replace("_", " ")
    return StageNeeds(stage_id, label, None, energy, None, None, _group_feed(stage_id, book), (), (), (), (), (), ())


def _with_own(
    found: StageNeeds, own: list[OwnRequirement], units: Mapping[str, str], library: Library
) -> StageNeeds:
    """The farm's own rows, in place of the library's bounds on the same side of the same nutrient."""
    own_energy = next((row.nutrient for row in own if row.nutrient in ENERGIES), None)
    if own_energy and own_energy != found.energy:
        found = _with_energy(found, own_energy, library)
    needs, notes = list(found.needs), list(found.notes)
    for row in own:
        needs, replaced = _without(needs, row)
        if replaced:
            notes.append(
                f"Own requirement of {nutrient_label(row.nutrient, library)} ({row.source or 'no source given'}) "
                f"instead of the library's {', '.join(replaced)}."
            )
    needs += [_own_need(row, found, units) for row in own]
    return replace(found, needs=tuple(needs), notes=tuple(notes))


def _with_energy(found: StageNeeds, energy: str, library: Library) -> StageNeeds:
    """The stage reckoned on another energy, as the farm's own rows name it."""
    if found.known is None:
        return replace(found, energy=energy)
    stage = found.known.model_copy(update={"energy": energy})
    reference = _reference_energy(stage, library)
    needs = [
        replace(need, reference_energy=reference) if need.reference_energy else need
        for need in found.needs
        if need.kind != "energy_floor"
    ]
    return replace(found, energy=energy, reference_energy=reference, needs=tuple(needs))


def _without(needs: list[Need], row: OwnRequirement) -> tuple[list[Need], list[str]]:
    """`needs` without the bounds that the farm's row replaces, and what they were in words."""
    kept, replaced = [], []
    for need in needs:
        if need.nutrient != row.nutrient:
            kept.append(need)
            continue
        low = None if row.minimum is not None else need.minimum
        high = None if row.maximum is not None else need.maximum
        if row.minimum is not None and need.minimum is not None:
            replaced.append(f"minimum {need.minimum:.4g} {need.unit}")
        if row.maximum is not None and need.maximum is not None:
            kind = "safe ceiling" if need.safety else "maximum"
            replaced.append(f"{kind} {need.maximum:.4g} {need.unit}")
        if low is not None or high is not None:
            kept.append(replace(need, minimum=low, maximum=high))
    return kept, replaced


def _own_need(row: OwnRequirement, found: StageNeeds, units: Mapping[str, str]) -> Need:
    """A row of `own_stages` as bounds on the mix. Raises BookError if its energy or intake is not known."""
    low, high, reference, basis = row.minimum, row.maximum, None, "per kg"
    if row.per == "mcal":
        if found.energy is None:
            raise _unusable(row, "per mcal in a stage without an energy row", "a row of the stage for its energy")
        reference, basis = KCAL_PER_MCAL, "per Mcal"
    elif row.per == "day":
        feed = found.group_feed_kg or found.daily_feed_kg
        if feed is None:
            raise _unusable(row, "an amount per day without the intake", "feed_per_head_per_day of a group")
        unit = units[row.nutrient]
        base = COMPOSITION_UNITS[unit][0]
        low, high = (
            None if v is None else convert_composition(per_day_to_concentration(v, row.unit, base, feed), base, unit)
            for v in (low, high)
        )
        return Need(row.nutrient, unit, low, high, basis=f"the day's amount in {feed:g} kg of feed", source=row.source,
                    how="own")  # fmt: skip
    kind = "energy_floor" if row.nutrient == found.energy else "requirement"
    return Need(row.nutrient, row.unit, low, high, reference_energy=reference, kind=kind, basis=basis,
                source=row.source, how="own")  # fmt: skip


def _unusable(row: OwnRequirement, found: str, expected: str) -> BookError:
    return BookError([Problem(
        "error", "own_stages", row.place.cell("per"), f"{row.nutrient} of {row.stage}: {found}", expected,
        f"Add it to the sheet {'groups' if row.per == 'day' else 'own_stages'}, or state the row per kg.",
    )])  # fmt: skip


def _missing(found: StageNeeds) -> list[str]:
    """What a ration cannot do without and the stage does not ask for."""
    asked = {need.nutrient for need in found.needs if need.minimum}
    wanted = {
        "energy": ENERGIES,
        "lysine": LYSINE,
        "calcium": ("calcium",),
        "phosphorus": PHOSPHORUS,
        "sodium": ("sodium",),
    }
    return [name for name, ids in wanted.items() if not asked & set(ids)]


def _with_margin(found: StageNeeds, book: Book, library: Library) -> StageNeeds:
    """Amino acid minima raised by the book's requirement margin."""
    margin = book.farm.requirement_margin_pct
    if not margin:
        return found
    acids = {n.nutrient for n in library.nutrients.values() if n.kind in ("amino_acid", "digestible_amino_acid")}
    needs = tuple(
        replace(need, minimum=need.minimum * (1 + margin / 100), basis=f"{need.basis}, {margin:g} % margin")
        if need.nutrient in acids and need.minimum is not None
        else need
        for need in found.needs
    )
    note = f"Amino acid minima are raised by the margin of {margin:g} % that the book asks for."
    return replace(found, needs=needs, notes=(*found.notes, note))
