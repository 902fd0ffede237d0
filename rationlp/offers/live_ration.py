"""The rations of a book, each with the program in the solver to ask it what prices do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rationlp.bins import BinEstimate
from rationlp.book.records import Book
from rationlp.feeds.candidates import Candidate
from rationlp.library.read import Library
from rationlp.offers.live_program import Bench
from rationlp.rations.answer.describe import describe
from rationlp.rations.answer.mix import IN_MIX
from rationlp.rations.answer.model import Ration
from rationlp.rations.formulate import answer, formula_of, tasks
from rationlp.rations.program.formula import Formula
from rationlp.rations.solve.chance import ChanceRow, achieved, chance_rows
from rationlp.rations.solve.model import Answer
from rationlp.stages.model import AVERAGES_PCT

UNSURE = 1e-4
"""A probability may be this much below what was asked for: the rounding of a quantile."""
SAME_MIX = 1e-7
"""Two answers whose shares differ by no more are one mix; a solver's numbers are no better."""
SAME_COST = 1e-4
"""Mixes that cost the same within this fraction count as equally cheap; 0.01 %, two cents in a ration of 200."""


@dataclass(frozen=True, slots=True)
class Case:
    """One ration with its program. `bench` is None where there is no mix that meets everything (or no choice at all).

    `held` are the amounts of today's mix, at one unit of the objective, and `value` their cost (per tonne or per Gcal).
    """

    formula: Formula
    answer: Answer
    ration: Ration
    bench: Bench | None
    held: np.ndarray
    value: float
    estimates: tuple[BinEstimate, ...] = ()

    @property
    def shares(self) -> np.ndarray:
        """Share of each candidate in today's mix."""
        return self.held / self.held.sum()

    @property
    def per_tonne(self) -> float:
        """Units of the objective in a tonne of today's mix: 1, or Gcal."""
        return 1.0 / float(self.held.sum())

    @property
    def regret(self) -> float:
        """What today's mix may cost more than the best one and still count as the best.

        Nothing, but where rows carry a chance: there the best mix moves a little with every price, and the mix stays as
        long as it costs the same within SAME_COST.
        """
        return SAME_COST * abs(self.value) if self.bench is not None and self.bench.chances else 0.0

    def index(self, offer: str) -> int | None:
        """The column of an offer or bin, None if it is left out of this ration."""
        return self.formula.program.columns.index(offer) if offer in self.formula.program.columns else None

    def candidate(self, index: int) -> Candidate:
        """The candidate of a column."""
        return self.formula.candidates[index]

    def cost_per_tonne(self, amounts: np.ndarray) -> float:
        """What a tonne of some other mix costs."""
        return float(self.bench.costs @ amounts) / float(amounts.sum())


def cases(
    book: Book, library: Library, stages: Iterable[str] = (), bins: Iterable[str] = (), together: bool = False
) -> list[Case]:
    """The rations of `rationlp ration`, in its order. Raises what `formulate` raises."""
    return [
        case_of(formula_of(stage, estimates, offers, book, library), book, library, estimates)
        for stage, estimates, offers in tasks(book, library, stages, bins, together)
    ]


def case_of(formula: Formula, book: Book, library: Library, estimates: Sequence[BinEstimate] = ()) -> Case:
    """The ration of one formula and its program in the solver; `estimates` are its bins."""
    if all(candidate.is_fixed for candidate in formula.candidates):
        fixed = Answer(tuple(candidate.min_share for candidate in formula.candidates))
        return _closed(formula, fixed, book, library)
    found = answer(formula, book.farm.confidence_pct)
    if found.solution is None:
        return _closed(formula, found, book, library)
    ration = describe(formula, found, book, library)
    if ration.status == "failed":
        return _closed(formula, found, book, library)
    bench = Bench(formula.program, chances_of(formula, found, book))
    held = _polished(np.array(found.solution.amounts), bench)
    return Case(formula, found, ration, bench, held, float(bench.costs @ held), tuple(estimates))


def _polished(amounts: np.ndarray, bench: Bench) -> np.ndarray:
    """The answer's amounts to the last digit, worked out from the basis, where this is the same mix."""
    corner = bench.best(bench.costs)
    return corner.amounts if np.abs(corner.amounts - amounts).max() <= SAME_MIX * amounts.sum() else amounts


def chances_of(formula: Formula, found: Answer, book: Book) -> Sequence[ChanceRow]:
    """The chances that the answer keeps: as asked for, or the best there are where that is out of reach."""
    if book.farm.confidence_pct <= AVERAGES_PCT:
        return ()
    asked = book.farm.confidence_pct
    attained = found.confidence.attained_pct / 100 if found.confidence else 1.0
    rows = chance_rows(formula.program, formula.sources, formula.candidates, formula.stage.energy, asked)
    return [
        row if _keeps(row, formula, found) else replace(row, probability=min(row.probability, attained)) for row in rows
    ]


def _keeps(row: ChanceRow, formula: Formula, found: Answer) -> bool:
    return achieved(formula.program, row, found.amounts) >= row.probability - UNSURE


def _closed(formula: Formula, found: Answer, book: Book, library: Library) -> Case:
    ration = describe(formula, found, book, library)
    amounts = np.array(found.amounts if found.amounts is not None else [0.0] * len(formula.candidates))
    return Case(formula, found, ration, None, amounts, float("nan"))


def in_mix(share: float) -> bool:
    """Whether a share is more than the solver's dust."""
    return share > IN_MIX
