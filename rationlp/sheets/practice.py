"""Figures of mixing practice, each with its source. Source ids are those of the feed library's sources.csv.

`memory` means recalled from extension bulletins and not seen on a page; `common practice` is the trade's judgement.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from rationlp.rations.program.least import LEAST_STEPS as STEPS
from rationlp.units import KG_PER_LB


@dataclass(frozen=True, slots=True)
class Practice:
    """A figure and where it is from."""

    value: float
    source: str
    how: str


# Weighing ---------------------------------------------------------------------------------------

LEAST_STEPS = Practice(STEPS, "memory:NIST Handbook 44, class III minimum load", "memory")
"""Nothing lighter than so many steps of a scale belongs on it."""

# The bucket --------------------------------------------------------------------------------------

LEAST_HAND_ADD = Fraction(1, 200)
"""0.5 % of the batch: anything lighter is built up first (memory: extension practice)."""
HAND_ADD = Fraction(1, 100)
"""1 % of the batch: what it is built up to, the better figure of the same bulletins (memory: extension practice)."""
DILUTION = 10
"""One part to ten parts in all per step of a pre-blend (memory: extension practice)."""
LEAST_CARRIER = Fraction(1, 2)
"""Share of the carrier in a pre-blend, so that the small ingredients are really thinned (our reading)."""

# Order -------------------------------------------------------------------------------------------

FIRST_GRAIN = Fraction(3, 5)
"""Share of the ground grain that goes in first: about half to two thirds (memory: extension bulletins)."""

# Flush ------------------------------------------------------------------------------------------

FLUSH_SHARE = Fraction(1, 10)
"""Of what the mixer holds: 5 to 10 % of ground grain (memory: extension practice); the larger."""
FLUSH_LEAST = 200 * KG_PER_LB
"""Kilograms: a flush is 200 lb or more (memory: extension practice)."""

# Time and fill -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class MixingTime:
    """Minutes after the last ingredient."""

    mixer: str
    minutes: tuple[int, int]
    source: str
    how: str


MIXING_TIMES = (
    MixingTime("horizontal ribbon or paddle", (3, 4), "osu_b869", "page"),
    MixingTime("vertical screw", (8, 12), "osu_b869", "page"),
    MixingTime("vertical screw, to be safe", (15, 15), "memory:extension practice, vertical mixers", "memory"),
)
LEAST_FILL = Practice(0.50, "memory:extension practice, horizontal mixers", "memory")
"""Below half of its volume a horizontal mixer does not turn the feed over."""
MOST_FILL = Practice(0.90, "memory:extension practice, vertical mixers", "memory")
"""A vertical mixer is filled to 70 to 90 % of its volume, a horizontal one to 100 %; the lower figure suits both."""

GROUND_OVER_WHOLE = {
    "barley_hulled": Practice(0.395 / 0.618, "fao_bulk_density", "computed"),
    "oats_hulled": Practice(0.395 / 0.618, "fao_bulk_density", "analogy"),
    "corn": Practice(0.62 / 0.721, "fao_bulk_density", "computed"),
    "wheat_hard": Practice(0.61 / 0.772, "fao_bulk_density", "computed"),
}
"""Bulk density of the ground grain over that of the whole one: FAO gives 0.38 to 0.41 t/m3 for ground barley, 0.60 to
0.62 for ground wheat, 0.60 to 0.64 for ground maize; the whole grain is the library's figure (618, 772, 721 kg/m3)."""
GROUND_OTHERWISE = Practice(0.61 / 0.772, "fao_bulk_density", "analogy")
"""Other grains and seeds as wheat."""
WHOLE_SEED_GROUPS = ("cereal", "pulse", "oilseed")
"""Groups whose bulk density in the library is that of whole seed."""

# What weighing may miss --------------------------------------------------------------------------

WEIGHING_TOLERANCE = Practice(0.05, "common practice", "common practice")
"""An ingredient off by more than this and by more than a step of its scale is named."""
REQUIREMENT_TOLERANCE = Practice(0.05, "common practice", "common practice")
"""A requirement missed by no more than this is within what weighing and the tables can tell."""
MAXIMUM_TOLERANCE = Practice(0.02, "common practice", "common practice")
"""A maximum passed by no more than this is within what weighing can tell; safe maxima have a margin of their own."""
STOP_SHORTFALL = Practice(0.20, "ca_feeds2024, Schedule 1", "analogy")
"""A requirement missed by more than this: the tolerance of the law for trace minerals and phosphorus, taken for all."""


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a feed may be from its formula: points of the feed where the formula is at or below `up_to`, a fraction
    of the formula above. Canada, Feeds Regulations 2024, Schedule 1; there for a guarantee, here for the mix."""

    nutrients: tuple[str, ...]
    up_to: float | None
    points: float | None
    fraction: float | None
    sides: tuple[str, ...] = ("under", "over")


TOLERANCE_SOURCE = Practice(0.0, "ca_feeds2024", "page")
TOLERANCES = (
    Tolerance(("calcium", "magnesium", "sodium", "potassium"), 1.0, 0.2, 0.2),
    Tolerance(("zinc", "manganese", "copper", "iodine"), None, None, 0.2),
    Tolerance(("phosphorus", "sttd_phosphorus_pig", "nonphytate_phosphorus"), None, None, 0.2),
    Tolerance(("crude_protein",), 24.0, 1.0, None, ("under",)),
    Tolerance(("ether_extract",), None, 1.5, None),
    Tolerance(("crude_fibre",), 5.0, 1.0, 0.15),
    Tolerance(("vitamin_a", "vitamin_e"), None, None, 0.2, ("under",)),
)
PROTEIN_POINTS_ABOVE = 1.5
"""Points of crude protein a feed of more than 24 % may be under its formula (ca_feeds2024, Schedule 1)."""

# Uniformity --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class UniformityLimit:
    """The largest coefficient of variation of samples of one batch, in percent, for a kind of feed."""

    feed: str
    at_most_pct: float
    source: str
    how: str
    by: str  # who says so, in words

    def named(self) -> str:
        """What it is for and who says so: `farm mixer (Ohio State University Extension, Bulletin 869)`."""
        return f"{self.feed} ({self.by})"


FARM_TARGET = UniformityLimit("farm mixer", 10.0, "osu_b869", "page", "Ohio State University Extension, Bulletin 869")
UNIFORMITY_LIMITS = (
    UniformityLimit("industry standard", 5.0, "ucd_mixing", "page", "University of California, Davis"),
    FARM_TARGET,
    UniformityLimit("complete feed, Canadian regulator", 15.0, "ctl_cv_limits", "page", "a laboratory's page of 2018"),
)
UNIFORMITY_ADVICE = (
    (10.0, "good"),
    (15.0, "mix a quarter to a third longer and test again"),
    (20.0, "mix half as long again, look for wear and overfilling, check the order of adding"),
    (float("inf"), "do not use this mixer for animals that need every mouthful right; repair it and test again"),
)
"""What to do up to a CV in percent (memory: Kansas State MF-1172)."""
UNIFORMITY_SAMPLES = Practice(10, "mixer_test_vet; ca_feeds2024 s. 73", "page")

# Words for the crew -----------------------------------------------------------------------------------------------

LOOK = (
    "Look at the grain as it runs: no coloured (treated) seed, no mould, no black ergot. If you see any, stop and ask."
)
SAMPLES = int(UNIFORMITY_SAMPLES.value)
ADVICE_WORDS: tuple[tuple[float | None, str], ...] = tuple(
    (None if limit == float("inf") else limit, advice.capitalize() + ".") for limit, advice in UNIFORMITY_ADVICE
)
"""Up to which CV in percent what is advised; None for anything above."""
LIMIT_WORDS: tuple[str, ...] = (
    *(f"At most {limit.at_most_pct:g} %: {limit.named()}." for limit in UNIFORMITY_LIMITS),
    "What to do at which CV: recalled from Kansas State MF-1172, not seen. The error of the assay must be smaller than "
    "the CV looked for (University of California, Davis).",
)


def mixing_words() -> str:
    """How long to mix after the last ingredient, by mixer."""
    words = []
    for time in MIXING_TIMES:
        low, high = time.minutes
        words.append(f"{time.mixer} {low} to {high} min" if low != high else f"{time.mixer} {low} min")
    return ", ".join(words) + "."
