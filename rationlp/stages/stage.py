"""A stage as a ration is judged by it: its needs, its energy, what it eats; amounts a day as concentrations."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from rationlp.errors import LibraryError, Problem
from rationlp.library.read import Library
from rationlp.library.records import Ceiling, Stage
from rationlp.reasons import Reason
from rationlp.stages.model import Need, RatioNeed

KCAL_PER_MCAL = 1000.0
NEVER_GIVEN_UP = ("safety", "legal")  # kinds of a ceiling
PER_DAY_IN_UNIT = {"%": ("g", 0.1), "mg/kg": ("mg", 1.0), "IU/kg": ("IU", 1.0), "kcal/kg": ("kcal", 1.0)}


@dataclass(frozen=True, slots=True)
class StageNeeds:
    """Everything a ration of `stage` is judged by.

    `needs` are rows of the program, `premix_needs` are met by the premix, `unchecked` cannot be calculated at all.
    `reference_energy` in kcal/kg is the energy the table's requirements stand for; `daily_feed_kg` the table's intake
    at that energy. `incomplete` names what a stage of the farm's own lacks to be a ration that may be fed. `notes` say
    how it was calculated, `warnings` what is to be looked at, `reasons` what decides whether any ration of it
    may be fed. `usual_scopes` are the scopes whose usual bounds (plausible.csv) hold, the nearest first; `like` the
    library's stages whose safe and legal caps on feeds hold for a stage of the farm's own; `lowered` the library's
    minima in whose place the farm's own rows stand; `own_contaminants` the farm's own maxima of contaminants, per kg of
    the complete feed.
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
    warnings: tuple[str, ...] = ()
    reasons: tuple[Reason, ...] = ()  # for the verdict on every ration of the stage
    usual_scopes: tuple[str, ...] = ()
    like: tuple[str, ...] = ()
    lowered: tuple[Need, ...] = ()
    own_contaminants: tuple[Need, ...] = ()


def reference_energy(stage: Stage, library: Library) -> float:
    """The energy in kcal/kg that the stage's requirements stand for. Raises LibraryError if the table has none."""
    for row in library.requirements.get(stage.stage, ()):
        if row.use == "reference_energy" and row.per == "kg" and row.nutrient == stage.energy and row.minimum:
            return row.minimum
    raise LibraryError(
        [
            Problem(
                "error",
                "requirements.csv",
                "",
                f"stage {stage.stage} without a reference energy ({stage.energy})",
                "a reference_energy row per kg",
                "Add the row: requirements follow it.",
            )
        ]
    )


def ceilings_of(stage: Stage, jurisdiction: str, rows: Iterable[Ceiling]) -> list[Ceiling]:
    """Per nutrient and kind the ceilings of the nearest scope; legal ones of the jurisdiction at any distance."""
    return ceilings_in(stage.scopes, jurisdiction, rows)


def ceilings_in(scopes: tuple[str, ...], jurisdiction: str, rows: Iterable[Ceiling]) -> list[Ceiling]:
    """`ceilings_of` a stage with these scopes, nearest first."""
    here = [row for row in rows if row.scope in scopes and (not row.jurisdiction or jurisdiction in row.jurisdiction)]
    nearest: dict[tuple[str, str], int] = {}
    for row in here:
        key = (row.nutrient, row.kind)
        nearest[key] = min(nearest.get(key, len(scopes)), scopes.index(row.scope))
    return [row for row in here if row.kind == "legal" or scopes.index(row.scope) == nearest[row.nutrient, row.kind]]


def in_feed_eaten(rows: Iterable[Ceiling], group_feed: float | None, library: Library) -> list[Ceiling]:
    """Ceilings as they stand in `group_feed` kg a head and day: those per day hold their amount of the table's daily
    feed, up to what is safe in a kg. Without a group's feed they are the table's own."""
    return [_in_feed_eaten(row, group_feed, library) for row in rows]


def _in_feed_eaten(row: Ceiling, group_feed: float | None, library: Library) -> Ceiling:
    known = library.stages.get(row.scope) if row.per == "day" and group_feed else None
    if not known or not known.daily_feed_g or not group_feed:
        return row
    moved = row.maximum * known.daily_feed_g / 1000 / group_feed
    return replace(row, maximum=moved if row.safe_maximum is None else min(moved, row.safe_maximum))


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
