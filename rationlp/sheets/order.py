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
from rationlp.sheets.practice import DILUTION, FIRST_GRAIN, HAND_ADD, LEAST_CARRIER, LEAST_HAND_ADD
from rationlp.sheets.rounding import WholeMix
from rationlp.sheets.scale import Scale, down_to, up_to
from rationlp.sheets.whole_program import Tool, Way

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


# The bucket: what is too light to find its way through a batch is first thinned by hand ------------------------------


@dataclass(frozen=True, slots=True)
class BucketIngredient:
    candidate: int
    mass: Fraction
    way: Way


@dataclass(frozen=True, slots=True)
class Scoop:
    """One thing that goes into the bucket."""

    candidate: int
    mass: Fraction
    is_carrier: bool
    way: Way | None = None


@dataclass(frozen=True, slots=True)
class Bucket:
    """The scoops in order; no scoop is more than nine times what is already in."""

    scoops: tuple[Scoop, ...]
    carrier: int | None

    @property
    def mass(self) -> Fraction:
        """All of it."""
        return sum((scoop.mass for scoop in self.scoops), Fraction(0))

    @property
    def carrier_mass(self) -> Fraction:
        """The carrier alone."""
        return sum((scoop.mass for scoop in self.scoops if scoop.is_carrier), Fraction(0))

    @property
    def carrier_share(self) -> float:
        """The carrier as a share of the bucket, 0 to 1."""
        return float(self.carrier_mass / self.mass)


def fill_bucket(
    small: Sequence[BucketIngredient], carriers: Sequence[BucketIngredient], batch: Fraction, scale: Scale
) -> Bucket | None:
    """The bucket of everything in `small`, thinned with the first of `carriers` that has enough; None if all is large.

    It is built up to 1 % of the batch, and at least half of it is carrier. The whole of it is a step of the mixer
    scale where that can be had, so that the scale shows it truly.
    """
    if not small:
        return None
    mass = sum((item.mass for item in small), Fraction(0))
    wanted = max(HAND_ADD * batch, mass / (1 - LEAST_CARRIER))
    for carrier in carriers:
        # The carrier's own remainder must stay worth weighing.
        thinner = _carrier_mass(mass, wanted, scale)
        if thinner <= carrier.mass / 2:
            return Bucket(tuple(_scoops(small, carrier.candidate, thinner, scale)), carrier.candidate)
    return Bucket(tuple(_scoops(small, None, Fraction(0), scale)), None)


def _carrier_mass(mass: Fraction, wanted: Fraction, scale: Scale) -> Fraction:
    """What brings `mass` to at least `wanted`: to a whole step of the mixer scale if the hand scale can show that."""
    whole = up_to(wanted, scale.step) - mass
    if whole % scale.hand_step == 0 and whole <= 2 * wanted:
        return whole
    return up_to(wanted - mass, scale.hand_step)


def _scoops(small: Sequence[BucketIngredient], carrier: int | None, thinner: Fraction, scale: Scale) -> list[Scoop]:
    """Lightest first; the carrier goes in between wherever the next scoop would be more than nine times what is in."""
    first, *others = sorted(small, key=lambda item: item.mass)
    scoops, held = [Scoop(first.candidate, first.mass, False, first.way)], first.mass

    def thin(most: Fraction) -> None:
        nonlocal held, thinner
        part = min(thinner, max(down_to(most, scale.hand_step), scale.hand_step))
        if part > 0 and carrier is not None:
            scoops.append(Scoop(carrier, part, True))
            held, thinner = held + part, thinner - part

    for item in others:
        while item.mass > (DILUTION - 1) * held and thinner > 0:
            thin((DILUTION - 1) * held)
        scoops.append(Scoop(item.candidate, item.mass, False, item.way))
        held += item.mass
    while thinner > 0:
        thin((DILUTION - 1) * held)
    return scoops


# The mixer ------------------------------------------------------------------------------------------------------------


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
    small = [BucketIngredient(j, whole[j], way) for j, way in light.items()]
    large = [BucketIngredient(p.candidate, p.mass, p.way) for p in dry if p.candidate not in light]
    bucket = fill_bucket(small, _carriers(large, candidates), mix.batch, scale)
    if bucket and bucket.carrier is not None:
        large = [
            BucketIngredient(item.candidate, item.mass - bucket.carrier_mass, item.way)
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
    poured = [BucketIngredient(p.candidate, p.mass, p.way) for p in liquid]
    adds += _adds("liquid", sorted(poured, key=lambda item: -item.mass), taken)
    return Order(bucket, tuple(adds))


def _adds(section: str, items: Sequence[BucketIngredient], carrier: int | None) -> list[Add]:
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


def _carriers(large: Sequence[BucketIngredient], candidates: Sequence[Candidate]) -> list[BucketIngredient]:
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


def _split(grain: Sequence[BucketIngredient], scale: Scale) -> tuple[list[Add], list[Add]]:
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


def _whole(section: str, item: BucketIngredient) -> Add:
    return Add(section, item.candidate, item.mass, "", item.way)
