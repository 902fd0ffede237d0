"""A ration in whole scale steps and whole packages as an integer program.

Every ingredient is measured over the mixer scale, over the hand scale, or in unopened packages; in each it is a whole
number of steps. One that the mixer scale shows too coarsely may come in two parts: 25 kg on the mixer scale and 3.00 on
the hand scale. The batch is exact, every row of the ration holds as it held for the shares, and caps are kept a margin
away, so that the crew's ordinary error does not pass them.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from math import ceil, floor

from rationlp.rations.program.program import Program, ProgramRow
from rationlp.rations.program.rows import LAW_RANK, PREMIX
from rationlp.sheets.weights.scale import FINEST, Scale, nearest_to, quantum

PackedRow = tuple[dict[int, float], float | None, float | None]

DOSE_TOLERANCE = 0.02
"""A set share or a premix dose may be off by a step of the scale, but never by more than 2 % (common practice)."""
PACKAGE_SAME = Fraction(1, 10**4)  # of a package: a hundred of them are then right to a hundredth of one
PACKAGE_BONUS = 0.0005
"""Whole packages need no weighing: worth up to this fraction of the batch's cost (common practice)."""
SPLIT_TROUBLE = 0.001
"""One weighing more: worth it where it saves more than this fraction of the batch's cost (common practice)."""
ERROR_STEPS = 1
"""Of its scale, that the crew may be off in one weight without a cap being passed (common practice)."""
KEEP_AWAY = 0.002
"""What it may cost, as a fraction of the batch's cost, to keep one cap that far away (a judgement)."""
NEAR_STEPS = 5
"""So many steps of the mixer scale, or ten times as many of the hand scale, around the ration are looked at first."""
SMALL_PART = 2
"""Steps of the mixer scale that the small part of an ingredient is at most, where it is looked for first."""


class Tool(StrEnum):
    """What something is measured with."""

    MIXER = "mixer scale"
    HAND = "hand scale"
    PACKAGES = "packages"


@dataclass(frozen=True, slots=True)
class Way:
    """One way to measure: a whole number of `step`, from `least` to `most` of them."""

    tool: Tool
    step: Fraction
    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Band:
    """How far an equality of the ration may be off in the batch, in the units of its row; `size` is the dose itself."""

    low: float
    high: float
    size: float


def ways(batch: Fraction, scale: Scale, package: Fraction | None) -> list[Way]:
    """How an ingredient can be measured in a batch."""
    found = [Way(Tool.MIXER, scale.step, max(1, ceil(scale.hand_below / scale.step)), int(batch / scale.step))]
    most = min(ceil(scale.hand_below / scale.hand_step) - 1, int(batch / scale.hand_step))
    found.append(Way(Tool.HAND, scale.hand_step, 1, most))
    if package is not None:
        whole = package_mass(package, scale)
        found.append(Way(Tool.PACKAGES, whole, 1, int(batch / whole)))
    return [way for way in found if way.least <= way.most]


def package_mass(package: Fraction, scale: Scale) -> Fraction:
    """The mass a package counts as: 22.68 kg for a bag of 50 lb, where the hand scale can show no difference."""
    near = nearest_to(package, scale.hand_step)
    return near if abs(near - package) <= PACKAGE_SAME * package else package


def band(program: Program, row: ProgramRow, shares: Sequence[float], batch: Fraction, scale: Scale) -> Band:
    """The tolerance of an equality: up to one step of the scale, around a set share, or upward for a premix dose.

    Written out, the row says sum(w x) = size with w the weights of those it speaks of, the total being fixed.
    """
    offset = min(row.coefficients)
    steps = []
    for coefficient, share in zip(row.coefficients, shares, strict=True):
        mass = share * float(batch)
        if coefficient > offset and mass > 0:
            step = scale.hand_step if mass < scale.hand_below else scale.step
            steps.append((coefficient - offset) * float(step))
    size = abs(offset) * float(batch)
    width = min(max(steps, default=0.0), DOSE_TOLERANCE * size)
    if row.key.startswith(PREMIX):
        return Band(0.0, width, size)
    return Band(-width / 2, width / 2, size)


@dataclass(frozen=True, slots=True)
class Asked:
    """What the weights of one batch must keep, by candidate of the ration's program; masses in the book's unit.

    `least` is what is worth weighing of each (a step where a dose asks for less); those in `splits` may come in two
    parts. `margins` has for each row how far within its bound it is kept, in the units of the row.
    """

    program: Program
    shares: Sequence[float]
    batch: Fraction
    scale: Scale
    packages: Sequence[Fraction | None]
    least: Sequence[Fraction]
    splits: frozenset[int]
    margins: Sequence[float]

    def weighing_anything_of(self, these: Collection[int]) -> Asked:
        """The same, with any amount of these candidates, worth weighing or not."""
        return replace(self, least=[self.scale.hand_step if j in these else m for j, m in enumerate(self.least)])

    @property
    def one_step(self) -> float:
        """A step of the mixer scale in the ration, as a fraction of the batch's cost (`step_of`)."""
        return self.step_of([share * float(self.batch) for share in self.shares])

    def step_of(self, masses: Sequence[float]) -> float:
        """A step of the mixer scale of the dearest ingredient that goes over it, as a fraction of the batch's cost."""
        cost = sum(c * share for c, share in zip(self.program.costs, self.shares, strict=True))
        large = min(float(self.scale.hand_below), max(masses))
        dearest = max(c for c, mass in zip(self.program.costs, masses, strict=True) if mass >= large)
        return float(self.scale.step / self.batch) * (dearest / cost if cost > 0 else 1.0)


def margins(
    program: Program, kept: Sequence[bool], shares: Sequence[float], batch: Fraction, scale: Scale
) -> list[float]:
    """For each row that is `kept` away from its bound, how far ERROR_STEPS in the weight of one ingredient of the mix
    move it at most; 0 for the others."""
    steps = [
        float(ERROR_STEPS * (scale.hand_step if share * batch < scale.hand_below else scale.step)) if share else 0.0
        for share in shares
    ]
    return [
        max(abs(a) * step for a, step in zip(row.coefficients, steps, strict=True)) if away and row.sense != "=" else 0
        for row, away in zip(program.rows, kept, strict=True)
    ]


class WholeProgram:
    """Columns and rows for the solver: what is asked, with some of the candidates.

    With `near` (the mass of each candidate in the book's unit) only weights around it are looked at; with `split` what
    may be weighed in two parts may be so.
    """

    def __init__(self, asked: Asked, used: Sequence[int], near: Sequence[float] | None = None, split: bool = False):
        self.asked, self.program, self.near = asked, asked.program, near
        self.columns: list[tuple[float, float, bool]] = []
        self.counts: list[tuple[int, int, Way]] = []  # candidate, column of its count, way
        self.switches: dict[int, int] = {}  # column of the count: column that says whether the way is used
        self.slack = Fraction(0)  # by how much the sum of the weights may miss the batch
        self._extra: list[int] = []  # columns that say whether an ingredient comes in two parts
        self._laws: list[PackedRow] = []
        for candidate in used:
            self._add_candidate(candidate, split and candidate in asked.splits)
        self._laws.append(self._total())
        self._closer = {  # row: column by which it comes closer to its bound than its margin
            i: self._column(margin, False) for i, margin in enumerate(asked.margins) if margin
        }

    def _column(self, high: float, whole: bool, low: float = 0.0) -> int:
        self.columns.append((low, high, whole))
        return len(self.columns) - 1

    def _add_candidate(self, candidate: int, split: bool) -> None:
        found = [way for way in self._ways(candidate, split) if way.least <= way.most]
        beside = [way for way in found[1:] if way.tool is Tool.HAND and split and self._is_large(candidate)]
        if found and self._stays(candidate) and len(found) == 1 + len(beside):
            self.counts.append((candidate, self._column(found[0].most, True, found[0].least), found[0]))
            for way in found[1:]:
                self._extra.append(self._switched(candidate, way))
            return
        switches = [self._switched(candidate, way) for way in found if len(found) > 1 or way.least > 1]
        for way in found[len(switches) :]:
            self.counts.append((candidate, self._column(way.most, True), way))
        if len(switches) < 2:
            return
        at_once = dict.fromkeys(switches, 1.0)
        if split:
            self._extra.append(self._column(1, True))
            at_once[self._extra[-1]] = -1.0
        self._laws.append((at_once, None, 1.0))

    def _switched(self, candidate: int, way: Way) -> int:
        """A count that is nothing, or within its way; the column that says which."""
        count, switch = self._column(way.most, True), self._column(1, True)
        self.counts.append((candidate, count, way))
        self.switches[count] = switch
        self._laws.append(({count: 1.0, switch: -float(way.least)}, 0.0, None))
        self._laws.append(({count: 1.0, switch: -float(way.most)}, None, 0.0))
        return switch

    def _ways(self, candidate: int, split: bool) -> list[Way]:
        """How a candidate is measured, in amounts worth weighing, and around `near` where there is one."""
        asked, least = self.asked, self.asked.least[candidate]
        found = [
            Way(way.tool, way.step, max(way.least, ceil(least / way.step)), way.most)
            for way in ways(asked.batch, asked.scale, asked.packages[candidate])
        ]
        return found if self.near is None else [self._around(way, self.near[candidate], split) for way in found]

    def _is_large(self, candidate: int) -> bool:
        """Whether a candidate goes over the mixer scale, as far as it is looked for."""
        return self.near is not None and self.near[candidate] >= self.asked.scale.hand_below

    def _stays(self, candidate: int) -> bool:
        """Whether a candidate is so far above the least worth weighing that it does not drop out."""
        return self.near is not None and self.near[candidate] - self._room(False) > self.asked.least[candidate]

    def _room(self, by_hand: bool) -> float:
        """How far around a mass is looked, in the book's unit."""
        scale = self.asked.scale
        return NEAR_STEPS * float(max(10 * scale.hand_step, scale.step / NEAR_STEPS) if by_hand else scale.step)

    def _around(self, way: Way, mass: float, split: bool) -> Way:
        """The counts of a way around a mass; as the small part beside a large one, about a step of the mixer scale."""
        step, scale = way.step, self.asked.scale
        if split and way.tool is Tool.HAND and mass >= scale.hand_below:
            return Way(way.tool, step, way.least, min(way.most, max(way.least, ceil(SMALL_PART * scale.step / step))))
        room = self._room(way.tool is Tool.HAND)
        least, most = ceil((mass - room) / float(step)), floor((mass + room) / float(step))
        return Way(way.tool, step, max(way.least, least), min(way.most, most))

    def _total(self) -> PackedRow:
        """The batch: exact, in the largest mass that everything is a whole multiple of. Where the steps have no such
        mass worth the name (kilograms beside ounces), to half a step of the hand scale."""
        batch, hand_step = self.asked.batch, self.asked.scale.hand_step
        unit = quantum(batch, *(way.step for _, _, way in self.counts))
        if self.counts and unit * FINEST < min(way.step for _, _, way in self.counts):
            self.slack = hand_step / 2
            unit = hand_step
        terms = {count: float(way.step / unit) for _, count, way in self.counts}
        return terms, float((batch - self.slack) / unit), float((batch + self.slack) / unit)

    def costs(self, ratio: float, price: float) -> list[float]:
        """Cost of each column beyond `ratio` times what the program is normalized by, in fractions of `price`."""
        found = [0.0] * len(self.columns)
        for candidate, count, way in self.counts:
            beyond = self.program.costs[candidate] - ratio * self.program.normalizer[candidate]
            found[count] = beyond * float(way.step) / price
            if way.tool is Tool.PACKAGES and count in self.switches:
                found[self.switches[count]] = -PACKAGE_BONUS
        for column in self._extra:
            found[column] = min(SPLIT_TROUBLE, self.asked.one_step / 2)
        for row, column in self._closer.items():
            found[column] = KEEP_AWAY / self.asked.margins[row]
        return found

    def money(self, ratio: float, price: float, counts: Sequence[float]) -> float:
        """Cost of `counts` beyond `ratio` alone, without trouble and margins, in fractions of `price`."""
        costs = self.costs(ratio, price)
        return sum(costs[count] * counts[count] for _, count, _ in self.counts)

    def closer(self, counts: Sequence[float]) -> float:
        """What is counted for margins that `counts` do not keep, in fractions of the cost of the batch."""
        return sum(KEEP_AWAY * counts[column] / self.asked.margins[row] for row, column in self._closer.items())

    def rows(self, extra: Sequence[ProgramRow] = ()) -> list[PackedRow]:
        """The laws of weighing and every row of the ration that the columns could break."""
        packed = [self._packed(row, i) for i, row in enumerate(self.program.rows)]
        return [*self._laws, *(row for row in (*packed, *(self._packed(row) for row in extra)) if self._can_bind(row))]

    def _can_bind(self, row: PackedRow) -> bool:
        """Whether any counts within the columns break the row."""
        terms, low, high = row
        ends = [(a * self.columns[column][0], a * self.columns[column][1]) for column, a in terms.items()]
        if low is not None and sum(min(pair) for pair in ends) < low:
            return True
        return high is not None and sum(max(pair) for pair in ends) > high

    def elastic_rows(self) -> tuple[list[PackedRow], dict[int, int]]:
        """The same with a shortfall for each requirement and dose, as a fraction of it; and the rank of the row behind
        each column of a shortfall. A dose, which no ration misses, gives way last."""
        rows, ranks = list(self._laws), {}
        for i, row in enumerate(self.program.rows):
            terms, low, high = self._packed(row, i)
            if row.relaxable or row.sense == "=":
                size = float(self.asked.batch) * (abs(min(row.coefficients)) if row.sense == "=" else 1.0)
                for side, sign in ((low, 1.0), (high, -1.0)):
                    if side is not None:
                        slack = self._column(1e3, False)
                        ranks[slack] = row.rank if row.relaxable else LAW_RANK
                        terms = {**terms, slack: sign * size}
            rows.append((terms, low, high))
        return rows, ranks

    def _packed(self, row: ProgramRow, place: int | None = None) -> PackedRow:
        """A row in counts; the one at `place` in the program keeps its margin, or comes closer at a price."""
        terms = {
            count: row.coefficients[candidate] * float(way.step)
            for candidate, count, way in self.counts
            if row.coefficients[candidate]
        }
        if row.sense == "=":
            asked = self.asked
            allowed = band(self.program, row, asked.shares, asked.batch, asked.scale)
            return terms, allowed.low, allowed.high
        closer = self._closer.get(place) if place is not None else None
        margin = 0.0
        if closer is not None and place is not None:
            margin = self.asked.margins[place]
            terms[closer] = 1.0 if row.sense == ">=" else -1.0
        return terms, margin if row.sense == ">=" else None, -margin if row.sense == "<=" else None

    def read(self, amounts: Sequence[float]) -> list[tuple[int, Fraction, Way]]:
        """What is weighed, exactly: candidate, mass and way."""
        return [
            (candidate, round(amounts[count]) * way.step, way)
            for candidate, count, way in self.counts
            if round(amounts[count])
        ]
