"""Which limits of the library hold for a stage of the farm's own: those of its species, which its energy row names.

Of each nutrient the strictest class of the species counts that leaves room for what the stage itself asks for: a class
held below that cannot be the class of these animals. Where no class leaves room, the most generous one stands, and the
ration says that it cannot be made. Rows that the library calculated from the need of one of its own stages do not count.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rationlp.library.read import Library
from rationlp.library.records import Ceiling
from rationlp.stages.model import Need, NeedKind
from rationlp.stages.stage import NEVER_GIVEN_UP, ceilings_of

POULTRY_ENERGY = "amen_poultry"
SWINE, POULTRY, EVERY = "swine", "poultry", "all"
LAYER_CALCIUM_PCT = 1.5
"""More calcium than this is asked for layers only: 1.35 % is the tolerance of growing birds (ceilings.csv)."""


def species_of(energy: str | None) -> tuple[str, ...]:
    """The species whose limits hold for a stage with this energy; both where it names none."""
    if energy is None:
        return SWINE, POULTRY
    return (POULTRY,) if energy == POULTRY_ENERGY else (SWINE,)


def classes_of(species: Iterable[str], library: Library) -> frozenset[str]:
    """Every scope that only stages of the species have, single stages left out."""
    wanted = set(species)
    scopes = {scope for stage in library.stages.values() if wanted & set(stage.scopes) for scope in stage.scopes}
    return frozenset(scopes - set(library.stages)) | {EVERY}


def usual_scopes(energy: str | None, asked: Mapping[str, float]) -> tuple[str, ...]:
    """The scopes whose usual bounds hold, the nearest first: layers are known by the calcium that is asked for."""
    species = species_of(energy)
    if species != (POULTRY,):
        return species if len(species) == 1 else (EVERY,)
    lays = asked.get("calcium", 0.0) > LAYER_CALCIUM_PCT
    return ("layer" if lays else "poultry_growing", POULTRY)


def asked_of(needs: Iterable[Need]) -> dict[str, float]:
    """The least of each nutrient that a stage asks for, at the energy it asks for."""
    energy = max((need.minimum or 0.0 for need in needs if need.kind is NeedKind.ENERGY_FLOOR), default=0.0)
    found: dict[str, float] = {}
    for need in needs:
        if need.minimum is not None:
            times = energy / need.reference_energy if need.reference_energy else 1.0
            found[need.nutrient] = max(found.get(need.nutrient, 0.0), need.minimum * times)
    return found


def like_stages(energy: str | None, asked: Mapping[str, float], jurisdiction: str, library: Library) -> tuple[str, ...]:
    """The library's stages of the species that bear what the stage asks for; all of the species, where none does."""
    species = set(species_of(energy))
    here = [stage for stage in library.stages.values() if species & set(stage.scopes)]
    able = [
        stage.stage
        for stage in here
        if all(
            row.maximum >= asked.get(row.nutrient, 0.0)
            for row in ceilings_of(stage, jurisdiction, library.ceilings)
            if row.kind in NEVER_GIVEN_UP and row.use != "added"
        )
    ]
    return tuple(able or [stage.stage for stage in here])


def species_ceilings(
    energy: str | None, asked: Mapping[str, float], jurisdiction: str, library: Library
) -> list[Ceiling]:
    """Per nutrient the safe or legal maximum that a stage of the farm's own is held to; `asked` by nutrient."""
    classes = classes_of(species_of(energy), library)
    by_nutrient: dict[tuple[str, str], list[Ceiling]] = {}
    for row in library.ceilings:
        lawful = not row.jurisdiction or jurisdiction in row.jurisdiction
        if row.kind in NEVER_GIVEN_UP and row.scope in classes and lawful:
            use = "added" if row.use == "added" else "total"
            by_nutrient.setdefault((row.nutrient, use), []).append(row)
    found = []
    for (nutrient, _), rows in by_nutrient.items():
        roomy = [row for row in rows if row.maximum >= asked.get(nutrient, 0.0)]
        found.append(min(roomy, key=lambda r: r.maximum) if roomy else max(rows, key=lambda r: r.maximum))
    return found
