"""Who eats a mix: which groups, how heavy or old, how much a head; for whom alone it is; how to grind it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.library.read import Library
from rationlp.library.records import Stage
from rationlp.numbers import plain
from rationlp.rations.answer.model import Ration
from rationlp.sheets.batches import fed_on

HIGH_CALCIUM_PCT = 2.0
"""Above this a feed is for laying birds alone: 3.25 % calcium gave pullets kidney stones, 1 % none (ca_urolith1985)."""
HIGH_COPPER_MG_KG, HIGH_ZINC_MG_KG = 35.0, 300.0
"""Above this a feed is said not to be for others: copper poisons sheep (common practice; the figures are our reading,
below the doses that are added for growth)."""
ANIMALS = {"swine": "PIGS", "chicken": "CHICKENS", "turkey": "TURKEYS", "duck": "DUCKS"}
KINDS = {
    "nursery": "WEANED PIGS",
    "grower": "GROWING PIGS",
    "finisher": "FINISHING PIGS",
    "gestation": "PREGNANT SOWS",
    "lactation": "NURSING SOWS",
    "boar": "BOARS",
    "gilt_developer": "YOUNG GILTS",
    "layer": "LAYING HENS",
    "prelay": "PULLETS COMING INTO LAY",
    "breeder": "LAYING BREEDERS",
    "pullet": "PULLETS",
    "chick": "CHICKS",
    "broiler": "BROILERS",
}
DRUG_WORDS = frozenset({"ionophore", "medicated"})
"""Meanings of words on labels that speak of a drug."""
LAYING = ("layer", "prelay", "breeder")


@dataclass(frozen=True, slots=True)
class Grinding:
    """Mean size of the ground grain, in micrometres, and where the figure is from."""

    words: str
    source: str
    how: str


PIG_GRINDING = Grinding(
    "Grind to about 600 micron, barley 700, wheat 800 to 900; never below 500.",
    "ksu_particle; particle_altgrain",
    "page",
)
HEN_GRINDING = Grinding("Grind coarse and even: 800 to 1,200 micron.", "memory:poultry extension", "memory")
SMALL_SEEDS = "Small seeds slip through whole: grind them with the other grain, and sieve a handful for whole ones."
"""A mixed-grain bin gives mixed sizes; flax, canola and millet can pass a screen whole (common practice)."""


def eaters(ration: Ration, book: Book, library: Library, day: date | None) -> tuple[str, ...]:
    """A line for each group that eats the mix (on `day`, if one is given): head, size, feed per head and day."""
    units, stage = units_of(book.farm), library.stages.get(ration.stage)
    size = _size(stage, units)

    def daily(kilograms: float | None) -> str:
        return f"{units.weight(kilograms, 3)} per head and day" if kilograms else ""

    found = []
    for group in book.groups:
        if group.stage == ration.stage and fed_on(group, day):
            per_head = group.feed_kg_per_head_per_day or ration.feed_kg_per_head_per_day
            in_all = f"{units.weight(per_head * group.head, 3)} per day in all" if per_head else ""
            found.append(f"{group.group}: {_listed(f'{group.head:,} head', size, daily(per_head), in_all)}")
    if found:
        return tuple(found)
    animals = whom(ration.stage, ration.stage_label, library).lower()
    return (f"{_listed(animals, size, daily(ration.feed_kg_per_head_per_day))}; no group of the book eats it now",)


def _listed(*words: str) -> str:
    return ", ".join(filter(None, words))


def _size(stage: Stage | None, units: BookUnits) -> str:
    """The weight of the animals, else their age."""
    if stage is None:
        return ""
    if stage.weight_from_kg is not None and stage.weight_to_kg is not None:
        low, high = (plain(mass / units.mass_kg, 3) for mass in (stage.weight_from_kg, stage.weight_to_kg))
        return f"{low} to {high} {units.mass}"
    if stage.age_from_wk is not None:
        to = f" to {plain(stage.age_to_wk)}" if stage.age_to_wk is not None else ""
        return f"{plain(stage.age_from_wk)}{to} weeks{'' if to else ' and older'}"
    return ""


def whom(stage: str, label: str, library: Library) -> str:
    """The animals of a stage in capitals, LAYING HENS; of a stage the library does not know its label."""
    known = library.stages.get(stage)
    return (KINDS.get(known.kind) or ANIMALS[known.species]) if known else label.upper()


def lays(stage: str, library: Library) -> bool:
    """Whether the stage is of birds that lay, or are about to."""
    known = library.stages.get(stage)
    return known is not None and known.kind in LAYING


def harms(ration: Ration, warned: Collection[str]) -> tuple[str, ...]:
    """What in a mix harms animals that it is not for. `warned` has the meanings of words on what is in it (medicated,
    ionophore)."""
    gives = ration.analysis
    found = []
    if "ionophore" in warned:
        found.append("it holds a drug that kills horses, and turkeys, and may not go to laying birds")
    elif "medicated" in warned:
        found.append("it is medicated: mind the days before slaughter or eggs on the label")
    if gives.get("calcium", 0.0) > HIGH_CALCIUM_PCT:
        found.append("its calcium harms pigs and all birds that do not lay")
    if gives.get("copper", 0.0) > HIGH_COPPER_MG_KG:
        found.append("its copper kills sheep")
    if gives.get("zinc", 0.0) > HIGH_ZINC_MG_KG:
        found.append("its zinc is for weaned pigs alone")
    return tuple(found)


def grinding(ration: Ration, library: Library) -> str:
    """How fine to grind for these animals."""
    stage = library.stages.get(ration.stage)
    if stage is None or not ration.bins:
        return ""
    size = PIG_GRINDING if stage.species == "swine" else HEN_GRINDING
    return f"{size.words} {SMALL_SEEDS}"
