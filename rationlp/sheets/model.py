"""What stands on the pages, whatever they are written as. Masses are exact, in the book's unit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from rationlp.book_units import BookUnits, units_in
from rationlp.rations.answer.model import Ration
from rationlp.reasons import HEADLINES, Severity, Verdict
from rationlp.sheets.weights.scale import Scale, nearest_to, shown
from rationlp.sheets.weights.whole_program import Tool

MOST_BOXES = 4
LEAST_BOXES = 2
NOTHING = "THERE IS NOTHING TO WEIGH. Do not mix this ration: it must not be fed as it is, for these reasons."
EACH_ONCE = (
    "For all batches, each group of animals fed once: where sheets of several bins feed the same animals, those of the "
    "bin with the best and then the cheapest ration count."
)
CARRIER_MASS = "{mass}"
"""Stands in the words of the carrier for its mass, which follows the batch."""
MOST_REASONS = 5
"""Reasons to ask that are named on a sheet; more are in the ration."""


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to weigh. `offer` is empty for the bucket; `holds` is what the mixer (or the bucket) holds after it."""

    section: str
    offer: str
    label: str
    part: str
    tool: Tool | None
    step: Fraction
    mass: Fraction
    holds: Fraction
    package: Fraction | None = None

    @property
    def name(self) -> str:
        """The label, with the part where the ingredient comes in two."""
        return f"{self.label} ({self.part})" if self.part else self.label


@dataclass(frozen=True, slots=True)
class MixSheet:
    """The page one ration in one batch size is mixed by. `id` is that of its weights, `ration_id` that of the ration
    they came from; `first_batch` is the number of its first batch."""

    name: str
    id: str
    ration_id: str
    book_version: str
    farm: str
    stage: str
    stage_label: str
    bin: str
    bin_words: str
    sample_words: str
    made_on: date | None
    date_format: str
    scale: Scale
    batch: Fraction
    count: int
    first_batch: int
    capacity: Fraction | None
    bucket: tuple[Line, ...]
    mixer: tuple[Line, ...]
    carrier_words: str
    rounding_words: str
    misses: tuple[str, ...]
    notes: tuple[str, ...]  # for the one who ordered the sheets, too
    hints: tuple[str, ...]  # for the crew alone
    cautions: tuple[str, ...]
    ration: Ration
    extra_cost: float
    eaters: tuple[str, ...] = ()  # a line for each group
    grinding: str = ""
    only_for: str = ""  # FOR LAYING HENS ONLY, and why; empty where it harms nobody else
    carry_over: tuple[str, ...] = ()  # what to do in the mixer before and after
    turn: int = 0  # in an order of mixing that keeps what harms others last
    counts: bool = True  # in what to buy; False where another bin's sheet feeds the same animals
    eaten_by: tuple[str, ...] = ()  # animals the plan of the year makes it for; empty: the groups of its stage
    also_for: tuple[str, ...] = ()  # other stages that the plan of the year feeds it to
    signed: str = ""  # by whom its ration was signed and until when, or that it was not

    @property
    def unit(self) -> str:
        return self.scale.unit

    @property
    def offers(self) -> frozenset[str]:
        """The bins and offers in it."""
        return frozenset(line.offer for line in (*self.bucket, *self.mixer) if line.offer)

    @property
    def verdict(self) -> Verdict:
        """Whether the mix may be fed as it is weighed here, and why."""
        return self.ration.verdict

    @property
    def carrier_told(self) -> str:
        """The words of the carrier for the batch as printed."""
        mass = sum((line.mass for line in self.bucket if line.part), Fraction(0))
        return self.carrier_words.replace(CARRIER_MASS, shown(mass, self.scale.hand_step, self.unit))

    @property
    def verdict_words(self) -> str:
        """The verdict as it stands on the sheet: in words, with what a nutritionist must decide first."""
        asked = [reason.text for reason in self.verdict.reasons if reason.severity is not Severity.FEED]
        more = len(asked) - MOST_REASONS
        last = [f"And {more} more: see the ration."] if more > 0 else []
        return " ".join([f"{self.verdict.headline}.", *asked[:MOST_REASONS], *last, self.signed]).strip()

    @property
    def boxes(self) -> int:
        """How many batches can be ticked off on the page."""
        return min(max(self.count, LEAST_BOXES), MOST_BOXES)

    def reads(self, line: Line, factor: Fraction = Fraction(1)) -> Fraction:
        """What the mixer scale shows once `line` is in, in a batch `factor` times as large."""
        return nearest_to(line.holds * factor, self.scale.step)

    def batch_id(self, number: int) -> str:
        """The name of one batch on its label and in the records, `7KQ4-M2XD #2`."""
        return f"{self.id} #{self.first_batch + number - 1}"

    def label_line(self, number: int, made_on: str = "") -> str:
        """The label of one batch: stage, date, bin, sample, batch."""
        day = made_on or (self.made_on.strftime(self.date_format) if self.made_on else blank_day(self.date_format))
        mark = "" if self.verdict.severity is Severity.FEED else f" | {HEADLINES[self.verdict.severity]}"
        batch = self.batch_id(number)
        return f"{self.stage_label} | made {day} | {self.bin_words} | {self.sample_words} | batch {batch}{mark}"


def blank_day(date_format: str) -> str:
    """A day to be filled in by hand, in the order of the book: `____-__-__`."""
    return re.sub("%.", lambda part: "____" if part[0] in ("%Y", "%B") else "__", date_format)


@dataclass(frozen=True, slots=True)
class NoSheet:
    """A ration that cannot be mixed as it stands, and why."""

    name: str
    id: str
    book_version: str
    farm: str
    stage: str
    stage_label: str
    bin: str
    reasons: tuple[str, ...]
    ration: Ration
    failed: bool = False  # the calculation did not stand up to its own check, which says nothing of the mix


@dataclass(frozen=True, slots=True)
class PurchaseLine:
    """One offer and what all the batches of the pack need of it; prices per tonne, masses in the book's unit."""

    offer: str
    label: str
    supplier: str
    price_per_tonne: float
    package: Fraction | None
    stock: Fraction | None
    quoted_on: date | None
    needs: tuple[tuple[str, Fraction], ...]  # sheet and mass in one batch
    is_bin: bool

    def needed(self, counts: dict[str, int]) -> Fraction:
        """What so many batches of each sheet take."""
        return sum((mass * counts[sheet] for sheet, mass in self.needs), Fraction(0))


@dataclass(frozen=True, slots=True, repr=False)
class Pack:
    """All pages of one run, in order."""

    farm: str
    season: str
    currency: str
    date_format: str
    book_version: str
    unit: str
    scale: Scale
    sheets: tuple[MixSheet, ...]
    unmade: tuple[NoSheet, ...]
    purchases: tuple[PurchaseLine, ...]
    cautions: tuple[str, ...]
    review: str

    def __repr__(self) -> str:
        held = ", ".join(f"{page.name} {page.id}" for page in self.sheets)
        return f"<{len(self.sheets)} mix sheets ({held}), {len(self.unmade)} rations without one>"

    @property
    def units(self) -> BookUnits:
        """The units of the book."""
        return units_in("us" if self.unit == "lb" else "metric", self.currency)

    @property
    def pages(self) -> tuple[MixSheet | NoSheet, ...]:
        """What is made, then what cannot be."""
        return (*self.sheets, *self.unmade)

    @property
    def batches(self) -> dict[str, int]:
        """Batches of each sheet that feed is bought for: where bins are alternatives, those of one of them."""
        return {sheet.name: sheet.count if sheet.counts else 0 for sheet in self.sheets}

    @property
    def complete(self) -> bool:
        """Whether every ration asked for has its sheet."""
        return not self.unmade
