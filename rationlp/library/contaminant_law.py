"""What law, guidance and trials say a feed, or the complete feed of some animals, may hold of a contaminant.

The limit is that of the farm's jurisdiction; where that sets none, the strictest published one, named as such. What a
sensitive species bears less of than the law allows holds beside the law.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from rationlp.library.dangers.records import Contaminant
from rationlp.library.grain_words import speaks_of_any
from rationlp.library.read import Library
from rationlp.library.records import Stage
from rationlp.units import convert_composition

EVERYWHERE = "all"
GRADE = "grade limit"
"""Kind of a limit that makes a trade grade and no feed law: a finding, never a refusal."""
PROHIBITION = "prohibition"
NO_DILUTING = "diluting"
"""How the rows begin that forbid to thin a feed above a limit; without a nutrient they speak of every contaminant."""
SENSITIVE = "safe level of a sensitive species"
"""Kind of a published level for animals that bear less than the law, which speaks of many: it holds beside any law."""
LAWS = ("maximum", "action level")
"""Kinds that are law or enforced like it; the others are guidance and trials."""
AT_12_PCT = "at 12 % moisture"
OF_DRY_MATTER = "diet dry matter"
DRY_MATTER_OF_LIMIT = 88.0
JURISDICTION_WORDS = {"us": "US", "eu": "EU", "canada": "Canada", "china": "China"}
SPECIES_OF_ENERGY = {
    "ne_pig": ("swine",),
    "me_pig": ("swine",),
    "de_pig": ("swine",),
    "amen_poultry": ("chicken", "turkey", "duck"),
}


@dataclass(frozen=True, slots=True)
class LegalLimit:
    """The most of a contaminant in a feed or in the complete feed, as the table has it.

    `borrowed` names the jurisdiction that sets none where the limit is another's; else it is empty.
    """

    row: Contaminant
    borrowed: str = ""

    @property
    def is_law(self) -> bool:
        """Whether it is the farm's own law, not guidance, a trial, or the law of another country."""
        return not self.borrowed and self.row.kind in LAWS

    @property
    def words(self) -> str:
        """Who says so: `US advisory level, swine, all`."""
        where = JURISDICTION_WORDS.get(self.row.jurisdiction, self.row.jurisdiction)
        said = f"{where} {self.row.kind}, {self.row.applies_to}"
        lacking = JURISDICTION_WORDS.get(self.borrowed, self.borrowed)
        return f"strictest published limit, {lacking} sets none: {said}" if self.borrowed else said

    def as_fed(self, value: float | None, dry_matter_pct: float | None, library: Library) -> float:
        """A figure of the row in the library's unit, as fed at this dry matter.

        A limit at 12 % moisture is lower in wetter feed, and never taken as higher in drier feed; one on dry matter is
        put at the dry matter of the feed (88 % where that is not known).
        """
        found = convert_composition(value or 0.0, self.row.unit, library.nutrients[self.row.nutrient].unit)
        dry = DRY_MATTER_OF_LIMIT if dry_matter_pct is None else dry_matter_pct
        if AT_12_PCT in self.row.note:
            return found * min(1.0, dry / DRY_MATTER_OF_LIMIT)
        return found * dry / 100 if OF_DRY_MATTER in self.row.note else found

    def material(self, dry_matter_pct: float | None, library: Library) -> float:
        """The most of the feed itself, as fed in the library's unit."""
        return self.as_fed(self.row.limit_in_ingredient, dry_matter_pct, library)

    def diet(self, dry_matter_pct: float | None, library: Library) -> float:
        """The most of the complete feed, as fed in the library's unit."""
        return self.as_fed(self.row.limit_in_complete_diet, dry_matter_pct, library)


@dataclass(frozen=True, slots=True)
class LimitsOnFeed:
    """What holds a feed in the rations of some animals.

    `material` are the limits on the feed itself: above any of them it is not fed at all. `diet` is the lowest limit on
    the complete feed. `no_diluting` is the row of the law that forbids to thin a feed above a limit; there a feed above
    the limit of the complete feed is not fed either, where nothing is set for the feed itself.
    """

    material: tuple[LegalLimit, ...]
    diet: LegalLimit | None
    no_diluting: Contaminant | None


def animals_of(stage: Stage | None, energy: str | None, library: Library) -> frozenset[str]:
    """The scopes whose limits hold for a stage.

    For a stage of the farm's own they are those of every class of the species that its energy row speaks of (of every
    species, where none does), so that the strictest class counts.
    """
    if stage is not None:
        return frozenset(stage.scopes)
    species = SPECIES_OF_ENERGY.get(energy or "")
    stages = [row for row in library.stages.values() if species is None or row.species in species]
    return frozenset(scope for row in stages for scope in row.scopes)


def limits_on_feed(
    nutrient: str,
    feeds: Collection[str],
    animals: Collection[str],
    jurisdiction: str,
    dry_matter_pct: float | None,
    library: Library,
) -> LimitsOnFeed:
    """What holds a feed made of `feeds` (the crops of a bin, or one feed) in the rations of these animals."""
    rows = [row for row in library.contaminants if row.nutrient == nutrient and row.kind != GRADE]
    material = [
        row
        for row in rows
        if row.limit_in_ingredient is not None
        and (not row.scopes or _speaks_of(row, animals))
        and about_feed(row, feeds, library)
    ]
    diet = [row for row in rows if row.limit_in_complete_diet is not None and _speaks_of(row, animals)]
    own_material, own_diet = _own(material, jurisdiction), _own(diet, jurisdiction)
    held = own_material
    if not own_material and not own_diet:
        held = _strictest(material, "material", jurisdiction, dry_matter_pct, library)
    lowest = _strictest(diet, "diet", jurisdiction, dry_matter_pct, library)
    return LimitsOnFeed(tuple(held), lowest[0] if lowest else None, no_diluting(nutrient, jurisdiction, library))


def no_diluting(nutrient: str, jurisdiction: str, library: Library) -> Contaminant | None:
    """The row of the jurisdiction that forbids to thin a feed above a limit of the contaminant, if it has one."""
    for row in library.contaminants:
        forbids = row.kind == PROHIBITION and row.contaminant.startswith(NO_DILUTING)
        if forbids and row.jurisdiction == jurisdiction and row.nutrient in ("", nutrient):
            return row
    return None


def about_feed(row: Contaminant, feeds: Iterable[str], library: Library) -> bool:
    """Whether the words of the source speak of one of these feeds; words never mapped speak of every feed."""
    if ("contaminants", row.applies_to) not in library.grain_words:
        return True
    return speaks_of_any("contaminants", row.applies_to, feeds, library)


def contaminants_known(library: Library) -> list[str]:
    """Every contaminant there is an id for, in the order of the table."""
    return [nutrient for nutrient, row in library.nutrients.items() if row.kind == "toxin"]


def published_levels(nutrient: str, library: Library) -> list[float]:
    """Every published limit above zero on a contaminant, or on a sum it is part of, in the library's unit."""
    names = {nutrient, *(name for name, row in library.nutrients.items() if nutrient in row.sum_of)}
    return [
        convert_composition(value, row.unit, library.nutrients[row.nutrient].unit)
        for row in library.contaminants
        if row.nutrient in names
        for value in (row.limit_in_ingredient, row.limit_in_complete_diet)
        if value
    ]


def lowest_limit(nutrient: str, library: Library) -> float:
    """The lowest of the published levels; 0 where none is published."""
    return min(published_levels(nutrient, library), default=0.0)


def _speaks_of(row: Contaminant, animals: Collection[str]) -> bool:
    return EVERYWHERE in row.scopes or bool(set(row.scopes) & set(animals))


def _own(rows: Iterable[Contaminant], jurisdiction: str) -> list[LegalLimit]:
    return [LegalLimit(row) for row in rows if row.jurisdiction == jurisdiction]


def _strictest(
    rows: Iterable[Contaminant], side: str, jurisdiction: str, dry_matter_pct: float | None, library: Library
) -> list[LegalLimit]:
    """The lowest of the jurisdiction's own limits and of those of sensitive species, else of all that are published;
    empty without any."""
    kept = list(rows)
    own = _own(kept, jurisdiction)
    sensitive = [LegalLimit(row) for row in kept if row.kind == SENSITIVE]
    limits = [*own, *sensitive] if own else [LegalLimit(row, jurisdiction) for row in kept]
    value = LegalLimit.material if side == "material" else LegalLimit.diet
    return sorted(limits, key=lambda limit: value(limit, dry_matter_pct, library))[:1]
