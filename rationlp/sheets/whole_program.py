"""A ration in whole scale steps and whole packages as an integer program.

Every ingredient is measured in one way: over the mixer scale, over the hand scale, or in unopened packages; in each it
is a whole number of steps. The batch is exact, and every row of the ration holds as it held for the shares.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import ceil

from rationlp.rations.program.program import Program, ProgramRow
from rationlp.sheets.scale import Scale, nearest_to, quantum

PackedRow = tuple[dict[int, float], float | None, float | None]

DOSE_TOLERANCE = 0.02
"""A set share or a premix dose may be off by a step of the scale, but never by more than 2 % (common practice)."""
PACKAGE_SAME = Fraction(1, 10**4)  # of a package: a hundred of them are then right to a hundredth of one
SAME = 1e-6  # of a step: what the solver may be off
FINEST = 1000  # the common mass of all steps is not less than this part of the smallest
PACKAGE_BONUS = 0.0005
"""Whole packages need no weighing: worth up to this fraction of the batch's cost (common practice)."""


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
    if row.key.startswith("premix:"):
        return Band(0.0, width, size)
    return Band(-width / 2, width / 2, size)


class WholeProgram:
    """Columns and rows for the solver, from the ration's program restricted to some of its candidates."""

    def __init__(
        self,
        program: Program,
        shares: Sequence[float],
        batch: Fraction,
        scale: Scale,
        packages: Sequence[Fraction | None],
        used: Sequence[int],
    ):
        self.program, self.shares, self.batch, self.scale = program, shares, batch, scale
        self.columns: list[tuple[float, float, bool]] = []
        self.counts: list[tuple[int, int, Way]] = []  # candidate, column of its count, way
        self.switches: dict[int, int] = {}  # column of the count: column that says whether the way is used
        self.slack = Fraction(0)  # by how much the sum of the weights may miss the batch
        self._laws: list[PackedRow] = []
        for candidate in used:
            self._add_candidate(candidate, ways(batch, scale, packages[candidate]))
        self._laws.append(self._total())

    def _column(self, high: float, whole: bool) -> int:
        self.columns.append((0.0, high, whole))
        return len(self.columns) - 1

    def _add_candidate(self, candidate: int, found: list[Way]) -> None:
        switches = []
        for way in found:
            count = self._column(way.most, True)
            self.counts.append((candidate, count, way))
            if len(found) > 1 or way.least > 1:
                switch = self._column(1, True)
                switches.append(switch)
                self.switches[count] = switch
                self._laws.append(({count: 1.0, switch: -float(way.least)}, 0.0, None))
                self._laws.append(({count: 1.0, switch: -float(way.most)}, None, 0.0))
        if len(switches) > 1:
            self._laws.append((dict.fromkeys(switches, 1.0), None, 1.0))

    def _total(self) -> PackedRow:
        """The batch: exact, in the largest mass that everything is a whole multiple of. Where the steps have no such
        mass worth the name (kilograms beside ounces), to half a step of the hand scale."""
        unit = quantum(self.batch, *(way.step for _, _, way in self.counts))
        if unit * FINEST < min(way.step for _, _, way in self.counts):
            self.slack = self.scale.hand_step / 2
            unit = self.scale.hand_step
        terms = {count: float(way.step / unit) for _, count, way in self.counts}
        return terms, float((self.batch - self.slack) / unit), float((self.batch + self.slack) / unit)

    def costs(self, ratio: float, price: float) -> list[float]:
        """Cost of each column beyond `ratio` times what the program is normalized by, in fractions of `price`."""
        found = [0.0] * len(self.columns)
        for candidate, count, way in self.counts:
            beyond = self.program.costs[candidate] - ratio * self.program.normalizer[candidate]
            found[count] = beyond * float(way.step) / price
            if way.tool is Tool.PACKAGES:
                found[self.switches[count]] = -PACKAGE_BONUS
        return found

    def held_to(
        self, ranges: Mapping[int, tuple[float, float]]
    ) -> tuple[list[tuple[float, float, bool]], list[PackedRow]]:
        """Columns and further rows that hold the mass of each candidate to its range, in the book's unit."""
        columns = list(self.columns)
        rows: list[PackedRow] = []
        for candidate, count, way in self.counts:
            low, high = (end / float(way.step) for end in ranges[candidate])
            least, most = max(way.least, ceil(low - SAME)), min(way.most, int(high + SAME))
            switch = self.switches.get(count)
            columns[count] = (0.0, float(max(most, 0) if least <= most else 0), True)
            if switch is not None and least > most:
                columns[switch] = (0.0, 0.0, True)
            elif switch is not None:
                rows.append(({count: 1.0, switch: -float(least)}, 0.0, None))
                rows.append(({count: 1.0, switch: -float(most)}, None, 0.0))
        return columns, rows

    def rows(self, extra: Sequence[ProgramRow] = ()) -> list[PackedRow]:
        """The laws of weighing and every row of the ration."""
        return [*self._laws, *(self._packed(row) for row in (*self.program.rows, *extra))]

    def elastic_rows(self) -> tuple[list[PackedRow], list[int]]:
        """The same with a shortfall for each requirement and dose, as a fraction of it; and the shortfalls' columns."""
        rows, slacks = list(self._laws), []
        for row in self.program.rows:
            terms, low, high = self._packed(row)
            if row.relaxable or row.sense == "=":
                size = float(self.batch) * (abs(min(row.coefficients)) if row.sense == "=" else 1.0)
                for side, sign in ((low, 1.0), (high, -1.0)):
                    if side is not None:
                        slack = self._column(1e3, False)
                        slacks.append(slack)
                        terms = {**terms, slack: sign * size}
            rows.append((terms, low, high))
        return rows, slacks

    def _packed(self, row: ProgramRow) -> PackedRow:
        terms = {
            count: row.coefficients[candidate] * float(way.step)
            for candidate, count, way in self.counts
            if row.coefficients[candidate]
        }
        if row.sense == "=":
            allowed = band(self.program, row, self.shares, self.batch, self.scale)
            return terms, allowed.low, allowed.high
        return terms, 0.0 if row.sense == ">=" else None, 0.0 if row.sense == "<=" else None

    def read(self, amounts: Sequence[float]) -> list[tuple[int, Fraction, Way]]:
        """What is weighed, exactly: candidate, mass and way."""
        return [
            (candidate, round(amounts[count]) * way.step, way)
            for candidate, count, way in self.counts
            if round(amounts[count])
        ]
