"""The rations of a book, each with the program in the solver to ask it what prices do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rationlp.bins import BinEstimate
from rationlp.errors import SolverError, given
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate
from rationlp.numbers import Floats
from rationlp.offers.priced_program import PricedProgram
from rationlp.rations.answer.mix import IN_MIX
from rationlp.rations.answer.model import Ration
from rationlp.rations.formulate import SolvedRation, solve_rations
from rationlp.rations.program.formula import Formula
from rationlp.rations.solve.all_at_once import risk_split
from rationlp.rations.solve.chance import ChanceRow, achieved, chance_rows
from rationlp.rations.solve.model import Answer
from rationlp.stages.model import ALL, AVERAGES_PCT

UNSURE = 1e-4
"""A probability may be this much below what was asked for: the rounding of a quantile."""
SAME_MIX = 1e-7
"""Two answers whose shares differ by no more are one mix; a solver's numbers are no better."""
SAME_COST = 1e-4
"""Mixes that cost the same within this fraction count as equally cheap; 0.01 %, two cents in a ration of 200."""


@dataclass(frozen=True, slots=True)
class LiveRation:
    """One ration with its program kept in the solver, to be asked what prices do.

    `priced` is None where there is no mix that meets everything (or no choice at all), and where an answer about its
    prices did not stand up to verification: then `failure` says so. `held` are the amounts of today's mix, at one unit
    of the objective, and `value` their cost (per tonne or per Gcal).
    """

    solved: SolvedRation
    priced: PricedProgram | None
    held: Floats
    value: float
    failure: str = ""

    @property
    def formula(self) -> Formula:
        """The program with what its rows stand for."""
        return self.solved.formula

    @property
    def answer(self) -> Answer:
        """The answer of the ration itself."""
        return self.solved.answer

    @property
    def ration(self) -> Ration:
        """The ration of today."""
        return self.solved.ration

    @property
    def bins(self) -> tuple[str, ...]:
        """The bins it is made from."""
        return self.solved.bins

    @property
    def estimates(self) -> tuple[BinEstimate, ...]:
        """What is in these bins."""
        return self.solved.estimates

    @property
    def shares(self) -> Floats:
        """Share of each candidate in today's mix."""
        return shares_of(self.held)

    @property
    def live(self) -> PricedProgram:
        """The program in the solver of a ration that has one (`priced` is not None)."""
        return given(self.priced, f"the program of {self.formula.stage.stage} in the solver")

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
        return SAME_COST * abs(self.value) if self.priced is not None and self.priced.chances else 0.0

    def index(self, offer: str) -> int | None:
        """The column of an offer or bin, None if it is left out of this ration."""
        return self.formula.program.columns.index(offer) if offer in self.formula.program.columns else None

    def candidate(self, index: int) -> Candidate:
        """The candidate of a column."""
        return self.formula.candidates[index]

    def cost_per_tonne(self, amounts: Floats) -> float:
        """What a tonne of some other mix costs."""
        return float(np.array(self.formula.program.costs) @ amounts) / float(amounts.sum())


def shares_of(amounts: Floats) -> Floats:
    """Amounts as shares of their sum."""
    return amounts / float(amounts.sum())


def live_rations(
    farm: Farm, stages: Iterable[str] = (), bins: Iterable[str] = (), together: bool = False
) -> list[LiveRation]:
    """The rations of `rationlp ration`, in its order. Raises what `solve_rations` raises."""
    return [live_ration(solved) for solved in solve_rations(farm, stages, bins, together)]


def live_ration(solved: SolvedRation) -> LiveRation:
    """A ration with its program in the solver, or without one where that cannot be."""
    found = solved.answer
    amounts = np.array(found.amounts if found.amounts is not None else [0.0] * len(solved.formula.candidates))
    if found.solution is None or solved.ration.status == "failed":
        return LiveRation(solved, None, amounts, float("nan"))
    try:
        priced = PricedProgram(solved.formula.program, kept_chances(solved))
        held = _polished(amounts, priced)
    except SolverError as error:
        return LiveRation(solved, None, amounts, float("nan"), str(error))
    return LiveRation(solved, priced, held, float(priced.costs @ held))


def _polished(amounts: Floats, priced: PricedProgram) -> Floats:
    """The answer's amounts to the last digit, worked out from the basis, where this is the same mix."""
    corner = priced.best(priced.costs)
    return corner.amounts if np.abs(corner.amounts - amounts).max() <= SAME_MIX * amounts.sum() else amounts


def kept_chances(solved: SolvedRation, wider: Formula | None = None) -> Sequence[ChanceRow]:
    """The chances that the answer keeps: as asked for, or the best there are where that is out of reach.

    With `wider`, the same ration with more candidates behind its own, the chances are those of its rows.
    """
    asked = solved.farm.settings.confidence_pct
    if solved.farm.settings.confidence_of == ALL:
        return risk_split(wider or solved.formula, solved.answer.amounts or ())
    if asked <= AVERAGES_PCT:
        return ()
    formula = wider or solved.formula
    rows = chance_rows(formula.program, formula.sources, formula.candidates, formula.stage.energy, asked)
    confidence = solved.answer.confidence
    attained = confidence.attained_pct / 100 if confidence else 1.0
    own = solved.answer.amounts or ()
    amounts = (*own, *(0.0,) * (len(formula.candidates) - len(own)))

    def keeps(row: ChanceRow) -> bool:
        return achieved(formula.program, row, amounts) >= row.probability - UNSURE

    return [row if keeps(row) else replace(row, probability=min(row.probability, attained)) for row in rows]


def in_mix(share: float) -> bool:
    """Whether a share is more than the solver's dust."""
    return share > IN_MIX
