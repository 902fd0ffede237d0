"""Which feeds, not on offer, would mend a ration that nothing on offer can make.

The duals of the elastic program (nearest.py) price every feed of the library: its worth is by how much the total
shortfall falls with its first percent. Only feeds with a worth can help (duality), and each of these is then put on
offer by itself, under its own caps, to see what really becomes of the ration.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rationlp.errors import SolverError
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate
from rationlp.rations.program.formula import Formula, build
from rationlp.rations.program.vitamins import serves
from rationlp.rations.solve.checked import run_settled
from rationlp.rations.solve.model import Remedy
from rationlp.rations.solve.nearest import elastic_of
from rationlp.rations.solve.solver import LiveProgram
from rationlp.stages.certification import PROHIBITED, status_of

ENOUGH = 1e-6  # total relative shortfall that counts as none
WORTH_TELLING = 0.02  # a feed that takes less than this part of the shortfall away is not named
NO_WORTH = 1e-9


def remedies(formula: Formula, candidates: Sequence[Candidate], farm: Farm) -> list[Remedy]:
    """Feeds of the library that would mend the ration: those that make it whole first, each kind by worth.

    A remedy's `share` is the least share that meets everything, or None where a part of the shortfall stays: of those
    the one that leaves least comes first, whatever its first bit does.
    """
    if any(need.nutrient not in farm.library.nutrients for need in formula.stage.needs):
        return []  # no feed of the library has a figure of the farm's own nutrient
    extras = feeds_not_on_offer(formula, candidates, farm)
    wide = build(formula.stage, formula.bins, [*candidates, *extras], farm, formula.home_grown)
    try:
        trial = _Trial(wide, {candidate.name for candidate in formula.candidates})
    except SolverError:  # nothing is proposed that was not worked out
        return []
    found = [remedy for column in trial.extras if (remedy := _remedy(trial, column))]
    return sorted(found, key=_order)


def _order(remedy: Remedy) -> tuple[bool, float, float]:
    if remedy.share is None:
        return True, remedy.shortfall_after, 0.0
    return False, -(remedy.worth or 0.0), remedy.share


def _remedy(trial: _Trial, column: int) -> Remedy | None:
    """What the feed in `column` would mend, or nothing if it is no use."""
    worth = trial.worths.get(column)
    if worth is not None and worth < NO_WORTH:
        return None
    try:
        after = trial.shortfall_with(column)
        share = trial.least_share(column) if after is not None and after < ENOUGH else None
    except SolverError:
        return None
    if after is None or (trial.before is not None and after > trial.before * (1 - WORTH_TELLING)):
        return None
    candidate = trial.formula.candidates[column]
    return Remedy(
        candidate.feed,
        candidate.label,
        candidate.group,
        share,
        trial.before,
        after,
        None if worth is None else worth / 100,
    )


class _Trial:
    """The nearest ration with every feed of the library as a column, those not on offer held at zero but for one.

    `before` is the least total shortfall today, `worths` by how much it falls per share of each extra column.
    """

    def __init__(self, formula: Formula, on_offer: set[str]):
        self.formula = formula
        self.extras = [j for j, c in enumerate(formula.candidates) if c.name not in on_offer]
        self._live = LiveProgram(elastic_of(formula.program).program)
        self._live.leave_out(columns=self.extras)
        today = run_settled(self._live)
        self.before = today.objective if today.status == "optimal" else None
        self.worths = {j: -today.reduced_costs[j] for j in self.extras} if today.status == "optimal" else {}
        ones = (1.0,) * len(formula.candidates)
        self._whole = LiveProgram(replace(formula.program, costs=(0.0,) * len(ones), normalizer=ones))

    def shortfall_with(self, column: int) -> float | None:
        """The least total shortfall with the feed in `column` on offer, None where the laws of the mix cannot hold."""
        self._live.leave_out(columns=[j for j in self.extras if j != column])
        solution = run_settled(self._live)
        return solution.objective if solution.status == "optimal" else None

    def least_share(self, column: int) -> float | None:
        """The least share of `column` in a mix that meets every row."""
        self._whole.leave_out(columns=[j for j in self.extras if j != column])
        self._whole.set_costs([float(j == column) for j in range(len(self.formula.candidates))])
        solution = run_settled(self._whole)
        return solution.amounts[column] if solution.status == "optimal" else None


def feeds_not_on_offer(formula: Formula, candidates: Sequence[Candidate], farm: Farm) -> list[Candidate]:
    """Every feed of `names_not_on_offer`, as if it were on offer.

    Without single vitamins of which nothing is a row today: the row would come with them, and no grain is bought
    for it.
    """
    found = [farm.as_if_offered(feed) for feed in names_not_on_offer(formula, candidates, farm)]
    checked = [need for need in formula.stage.premix_needs if need.minimum]
    return [one for one in found if one.premix_covers or not any(serves(need, [one], farm.library) for need in checked)]


def names_not_on_offer(formula: Formula, candidates: Sequence[Candidate], farm: Farm) -> list[str]:
    """Every feed of the library that nobody offers and that a certificate lets in.

    Premixes of what the ration has no dose of today are left out: a dose of vitamins mends no row.
    """
    offered = {candidate.feed for candidate in candidates}
    dosed = {part for candidate in formula.candidates for part in candidate.premix_covers}
    return [
        feed.feed
        for feed in farm.library.feeds.values()
        if feed.feed not in offered
        and set(feed.premix_covers) <= dosed
        and status_of(feed, farm.book.farm.certification)[0] != PROHIBITED
    ]
