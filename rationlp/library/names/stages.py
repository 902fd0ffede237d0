"""Stages by the weight or age of the animals: `62 kg pig`, `20 week pullets`, `pigs 25-50 kg`."""

from __future__ import annotations

import re
from collections.abc import Sequence

from rationlp.finder import words_of
from rationlp.library.names.known import stage_finder
from rationlp.library.read import Library
from rationlp.library.records import Stage
from rationlp.units import AGE_WEEKS, KG_PER_LB

_SIZE = re.compile(
    r"(?:(?P<low>\d+(?:[.,]\d+)?)\s*(?:-|\u2013|to)\s*)?(?P<number>\d+(?:[.,]\d+)?)[\s-]*"
    r"(?P<unit>kg|kilos?|lbs?|pounds?|#|weeks?|wks?|w|days?|d|months?|mo)(?![a-z])[\s-]*(?:old)?",
    re.IGNORECASE,
)
_KG = {
    "kg": 1.0,
    "kilo": 1.0,
    "kilos": 1.0,
    "lb": KG_PER_LB,
    "lbs": KG_PER_LB,
    "pound": KG_PER_LB,
    "pounds": KG_PER_LB,
    "#": KG_PER_LB,
}
GROWING = ("nursery", "grower", "finisher")
"""Kinds of pigs that are simply called pigs; gilts and sows are named as such."""
WITHIN = (0.1, 0.3, 0.5, 0.7, 0.9)
"""Where a range is looked at; a tenth at its ends may lie outside a stage: 50 to 110 lb are the pigs of 25 to 50 kg."""
PIGS = frozenset({"pig", "hog", "swine"})


def stages_by_size(text: str, library: Library) -> tuple[str, ...]:
    """The stages of a weight or age, or from one to another, written with or without the animal; none if `text` says
    neither."""
    match = _SIZE.search(text)
    if match is None:
        return ()
    words = words_of(_SIZE.sub(" ", text, count=1))
    found = [stage for stage in _of_size(match, library) if _is_called(stage, words, library)]
    simple = [stage for stage in found if stage.kind in GROWING] if not set(words) - PIGS else []
    return tuple(stage.stage for stage in _general(simple or found))


def _of_size(match: re.Match[str], library: Library) -> list[Stage]:
    """The stages of the size, or of sizes all over the range."""
    unit = match["unit"].casefold()
    factor = _KG[unit] if unit in _KG else AGE_WEEKS["wk" if unit == "wks" else unit]
    high = float(match["number"].replace(",", ".")) * factor
    low = high if match["low"] is None else float(match["low"].replace(",", ".")) * factor
    sizes = [high] if low == high else [low + part * (high - low) for part in WITHIN] if low < high else []
    found = [stages_of(library, size) if unit in _KG else stages_of(library, age_weeks=size) for size in sizes]
    return list({stage.stage: stage for stages in found for stage in stages}.values())


def _general(found: Sequence[Stage]) -> list[Stage]:
    """Without those of one kind of today's animals, where the table of all animals of the size is there too."""
    narrower = {name for stage in found for name in stage.today}
    return [stage for stage in found if stage.stage not in narrower]


def stages_of(library: Library, weight_kg: float | None = None, age_weeks: float | None = None) -> list[Stage]:
    """Stages by live weight and age.

    A weight or age on the border of two stages belongs to the older one. Of sows, whose stages say only the weight from
    which they hold, the heaviest that fits counts.
    """
    found = [
        stage
        for stage in library.stages.values()
        if _within(weight_kg, stage.weight_from_kg, stage.weight_to_kg)
        and _within(age_weeks, stage.age_from_wk, stage.age_to_wk)
    ]
    return found if weight_kg is None else _nearest_below(found)


def _is_called(stage: Stage, words: Sequence[str], library: Library) -> bool:
    """Whether every word is one that the stage goes by."""
    name = stage_finder(library).names[stage.stage]
    known = {word for text in (*name.words, name.id, name.about) for word in words_of(text)}
    return all(word in known for word in words)


def _within(value: float | None, low: float | None, high: float | None) -> bool:
    """Whether a weight or age falls in the range; a stage without a range is not found by it."""
    if value is None:
        return True
    if low is None and high is None:
        return False
    return (low or 0.0) <= value < (high if high is not None else float("inf"))


def _nearest_below(stages: list[Stage]) -> list[Stage]:
    """Of stages of one kind that hold from some weight on, those with the highest such weight."""
    highest: dict[str, float] = {}
    for stage in stages:
        if stage.weight_to_kg is None and stage.weight_from_kg is not None:
            highest[stage.kind] = max(stage.weight_from_kg, highest.get(stage.kind, 0.0))
    return [s for s in stages if s.weight_to_kg is not None or s.weight_from_kg == highest.get(s.kind)]
