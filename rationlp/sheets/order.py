"""What goes in when: ground grain, the bucket of small things, minerals, meals, the rest of the grain, liquids.

The order is that of the reference on mixing practice: large dry ingredients first and liquids last (trade pages), the
small ones between two halves of the grain (memory: extension bulletins).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from rationlp.feeds.candidates import Candidate
from rationlp.sheets.bucket import Bucket, Ingredient, fill_bucket
from rationlp.sheets.practice import FIRST_GRAIN, LEAST_HAND_ADD
from rationlp.sheets.weights.rounding import WholeMix
from rationlp.sheets.weights.scale import Scale, down_to
from rationlp.sheets.weights.whole_program import Tool, Way

GRAIN = ("bin", "cereal")
SMALL = ("mineral", "amino_acid", "additive", "premix")
LIQUID = ("fat",)
LIQUID_FEEDS = ("molasses_cane",)

FIRST_PART, REST = "first part", "the rest"
LARGE_PART, SMALL_PART = "most of it", "and the rest of it"
BUCKET = "bucket"
SECTIONS = {
    "grain": "Start the mixer. Grain, first part",
    BUCKET: "The bucket, all of it",
    "mineral": "Minerals and premix",
    "meal": "Meals",
    "rest": "The rest of the grain",
    "liquid": "Liquids, slowly, after the dry feed has mixed",
}


@dataclass(frozen=True, slots=True)
class Add:
    """One thing that goes into the mixer. `candidate` is None for the bucket; `part` tells two lots of one apart; `way`
    is how it was settled to be measured, None where a lot is weighed as its mass asks for."""

    section: str
    candidate: int | None
    mass: Fraction
    part: str = ""
    way: Way | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """The bucket, if there is one, and everything that goes into the mixer, in order."""

    bucket: Bucket | None
    adds: tuple[Add, ...]


def is_liquid(candidate: Candidate) -> bool:
    """Whether it is poured in last: oils, melted fats, molasses."""
    return candidate.group in LIQUID or candidate.feed in LIQUID_FEEDS


def order_of_adding(mix: WholeMix, candidates: Sequence[Candidate], scale: Scale) -> Order:
    """The order in which the portions of `mix` are added; every gram of every portion is in it once."""
    whole = mix.masses()
    dry = [p for p in mix.portions if not is_liquid(candidates[p.candidate])]
    liquid = [p for p in mix.portions if is_liquid(candidates[p.candidate])]
    light = {p.candidate: p.way for p in dry if whole[p.candidate] < LEAST_HAND_ADD * mix.batch}
    small = [Ingredient(j, whole[j], way) for j, way in light.items()]
    large = [Ingredient(p.candidate, p.mass, p.way) for p in dry if p.candidate not in light]
    bucket = fill_bucket(small, _carriers(large, candidates), mix.batch, scale)
    if bucket and bucket.carrier is not None:
        large = [
            Ingredient(item.candidate, item.mass - bucket.carrier_mass, item.way)
            if item.candidate == bucket.carrier and item.way.tool is not Tool.HAND
            else item
            for item in large
        ]
    grain = [item for item in large if candidates[item.candidate].group in GRAIN]
    minerals = [item for item in large if candidates[item.candidate].group in SMALL]
    meals = [item for item in large if item not in grain and item not in minerals]
    first, rest = _split(grain, scale)
    adds = [*first]
    if bucket:
        adds.append(Add(BUCKET, None, bucket.mass))
    taken = bucket.carrier if bucket else None
    adds += _adds("mineral", sorted(minerals, key=lambda item: (whole[item.candidate], -item.mass)), taken)
    adds += _adds("meal", sorted(meals, key=lambda item: (-whole[item.candidate], -item.mass)), taken)
    adds += rest
    poured = [Ingredient(p.candidate, p.mass, p.way) for p in liquid]
    adds += _adds("liquid", sorted(poured, key=lambda item: -item.mass), taken)
    return Order(bucket, tuple(adds))


def _adds(section: str, items: Sequence[Ingredient], carrier: int | None) -> list[Add]:
    """The items one after the other, those in two parts named; what was the carrier's is weighed as its mass asks."""
    parts = Counter(item.candidate for item in items)
    return [
        Add(
            section,
            item.candidate,
            item.mass,
            "" if parts[item.candidate] == 1 else SMALL_PART if item.way.tool is Tool.HAND else LARGE_PART,
            None if item.candidate == carrier and item.way.tool is not Tool.HAND else item.way,
        )
        for item in items
    ]


def _carriers(large: Sequence[Ingredient], candidates: Sequence[Candidate]) -> list[Ingredient]:
    """What may carry the small things, best first: ground grain, else a meal; never a mineral, a bag left whole before
    one that must be opened."""
    usable = [item for item in large if candidates[item.candidate].group not in SMALL]
    return sorted(
        usable,
        key=lambda item: (
            candidates[item.candidate].group not in GRAIN,
            item.way.tool is Tool.PACKAGES,
            -item.mass,
            item.candidate,
        ),
    )


def _split(grain: Sequence[Ingredient], scale: Scale) -> tuple[list[Add], list[Add]]:
    """About three fifths of the grain first and the rest after the meals; only the largest grain is ever split.

    Each lot is a weight the mixer scale can tell; where the grain is too little for two lots, all of it goes first.
    """
    if not grain:
        return [], []
    largest, *others = sorted(grain, key=lambda item: -item.mass)
    beside = sum((item.mass for item in others), Fraction(0))
    target = FIRST_GRAIN * (largest.mass + beside)
    least = max(scale.hand_below, scale.step)
    part = down_to(target - beside, scale.step)
    if part >= least and largest.mass - part >= least:
        first = [Add("grain", largest.candidate, part, FIRST_PART), *(_whole("grain", item) for item in others)]
        return first, [Add("rest", largest.candidate, largest.mass - part, REST)]
    if beside >= target / 2:
        return [_whole("grain", largest)], [_whole("rest", item) for item in others]
    return [_whole("grain", item) for item in (largest, *others)], []


def _whole(section: str, item: Ingredient) -> Add:
    return Add(section, item.candidate, item.mass, "", item.way)
