"""What was found for a formula: amounts, what its chance and margin cost, what would mend it."""

from __future__ import annotations

from dataclasses import dataclass

from rationlp.errors import SolverError
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.program import Program, ProgramRow, Solution

PER_TONNE = "per tonne"
"""The unit of a cost by the objective where it counts by mass; elsewhere `per Gcal`."""


@dataclass(frozen=True, slots=True)
class MarginCost:
    """What the book's margin on amino acid minima costs, per tonne (or per Gcal with the energy objective).

    `cost_without` is None where the ration without the margin could not be found.
    """

    margin_pct: float
    unit: str
    cost: float
    cost_without: float | None


@dataclass(frozen=True, slots=True)
class Remedy:
    """A feed, not on offer, that would mend a ration: the least `share` of it that does, or None if only in part.

    The shortfalls are totals over all requirements, each relative to its own need. `worth` is by how much the total
    falls with the first percent of the feed, at the duals of the nearest ration (None where not even the limits can be
    kept).
    """

    feed: str
    label: str
    group: str
    share: float | None
    shortfall_before: float | None
    shortfall_after: float
    worth: float | None = None


@dataclass(frozen=True, slots=True)
class Confidence:
    """What the chance of meeting every requirement costs, per tonne (or per Gcal with the energy objective).

    The chance is that of each requirement by itself, or, with `of_all`, of all of them at once.
    """

    asked_pct: float
    attained_pct: float
    unit: str  # per tonne, per Gcal
    cost: float
    cost_of_averages: float  # the ration of plain averages, 50 %
    cost_of_fixed_margins: float | None  # every feed worsened by z sd; None where no ration meets that, or of all
    of_all: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """Amounts of the candidates of a formula and how they were found.

    `amounts` is None where no mix keeps even the limits and doses. `solution` is the verified optimum of `program` (the
    formula's own, with the cuts of a confidence), or None for a nearest or a fixed mix; `conflict` are keys of rows.
    `nearest` is whether not everything can be met, so that the mix is the one that misses least, on averages.
    `failure` says why nothing the solver said can be shown; then there are no amounts either.
    `formula` is the one that was solved in the end: usual bounds eased, with the rows that keep crystals and dust out
    (rationlp.rations.solve.settle); whoever asks more of the ration asks it of that one.
    """

    amounts: tuple[float, ...] | None
    solution: Solution | None = None
    program: Program | None = None
    confidence: Confidence | None = None
    conflict: tuple[str, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    margin: MarginCost | None = None
    formula: Formula | None = None
    failure: str = ""
    nearest: bool = False

    @property
    def duals(self) -> tuple[tuple[ProgramRow, float], ...]:
        """Each row of the program with its dual, where there is an optimum."""
        if self.solution is None or self.program is None:
            return ()
        return tuple(zip(self.program.rows, self.solution.row_duals, strict=True))

    @property
    def tonnes(self) -> float:
        """Tonnes of mix in one unit of the objective: 1 of a tonne, the tonnes that hold a Gcal."""
        return sum(self.solution.amounts) if self.solution else 0.0


def failed_answer(error: SolverError) -> Answer:
    """The answer of a ration for which the solver gave none that can be trusted; the other rations go on without it."""
    return Answer(None, failure=f"No mix is shown: the calculation did not stand up to its own check. {error}")
