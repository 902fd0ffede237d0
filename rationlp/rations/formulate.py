"""The one procedure from a stage and its bins to a verified ration.

Whatever shows a ration (`ration`, `sheets`, `offers`, `resample`, `actual`) takes it from here, as a `SolvedRation`:
the ration with the program behind it, so that its prices can be asked, its weights moved and judged again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from rationlp.bins import BinEstimate
from rationlp.errors import Problem, RequestError, SolverError
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate
from rationlp.rations.answer.describe import describe
from rationlp.rations.answer.ids import ration_id
from rationlp.rations.answer.model import Ration
from rationlp.rations.answer.stock import with_stock
from rationlp.rations.answer.verdict import EXACT, Leeway
from rationlp.rations.dear_practice import practice_warnings
from rationlp.rations.nearest_ration import nearest_ration
from rationlp.rations.program.formula import Formula, build
from rationlp.rations.program.only_here import bare
from rationlp.rations.program.program import Program
from rationlp.rations.solve.all_at_once import risk_split
from rationlp.rations.solve.chance import ChanceRow, chance_rows
from rationlp.rations.solve.model import Answer, failed_answer
from rationlp.rations.solve.optimum import margin_cost
from rationlp.rations.solve.remedies import remedies
from rationlp.rations.solve.settle import settle
from rationlp.rations.stated_feed import stated_feed_warnings, too_little_feed
from rationlp.reasons import Verdict
from rationlp.stages.model import ALL, AVERAGES_PCT
from rationlp.stages.stage import StageNeeds


@dataclass(frozen=True, slots=True, repr=False)
class SolvedRation:
    """A verified ration of one stage, and everything needed to ask more of it.

    `answer` has the amounts in the scale of the program; nothing outside rations/ and offers/ reads these. `chances`
    are the rows that hold with a probability, where the book asks for more than averages. `judged_as` are the formulas
    of every stage that eats the mix, over the same candidates, where `formula` has the rows of several.
    """

    farm: Farm = field(compare=False)
    id: str
    formula: Formula
    answer: Answer
    ration: Ration
    chances: tuple[ChanceRow, ...] = ()
    judged_as: tuple[Formula, ...] = ()

    def __repr__(self) -> str:
        ration = self.ration
        cost = "" if ration.cost_per_tonne is None else f", {ration.cost_per_tonne:.2f} per tonne"
        return f"<{self.id}: {ration.stage} from {ration.bin or 'offers alone'}: {ration.verdict.severity}{cost}>"

    @property
    def stage(self) -> StageNeeds:
        """What the animals need."""
        return self.formula.stage

    @property
    def bins(self) -> tuple[str, ...]:
        """The bins the ration is made from; empty where the book has none."""
        return self.formula.bins

    @property
    def estimates(self) -> tuple[BinEstimate, ...]:
        """What is in these bins."""
        return tuple(self.farm.bin(name) for name in self.bins)

    @property
    def column_shares(self) -> tuple[float, ...]:
        """Share of each candidate of the formula in the mix, 0 to 1; empty where there is no mix."""
        amounts = self.answer.amounts or ()
        return tuple(amount / sum(amounts) for amount in amounts)

    @property
    def shares(self) -> Mapping[str, float]:
        """Share of the mix by offer or bin, 0 to 1; empty where there is no mix."""
        return dict(zip(self.formula.program.columns, self.column_shares, strict=False))

    @property
    def program(self) -> Program:
        """The rows the mix keeps, with the cuts of a confidence if the book asks for one."""
        return self.answer.program or self.formula.program

    @property
    def verdict(self) -> Verdict:
        """Whether it may be fed, and why."""
        return self.ration.verdict

    def judged(self, amounts: Sequence[float], leeway: Leeway = EXACT) -> Ration:
        """The ration that other amounts of the same candidates make, every requirement calculated again."""
        mix = Answer(tuple(amounts))
        first, *others = (describe(formula, mix, self.farm, leeway) for formula in self.judged_as or (self.formula,))
        return replace(first, verdict=first.verdict.plus(each for other in others for each in other.verdict.reasons))


def solved_mix(farm: Farm, formulas: Sequence[Formula], joint: Formula, shares: Mapping[str, float]) -> SolvedRation:
    """A mix that is known already, as the ration of all the stages of `formulas`; `joint` has the rows of all of them
    over the same candidates."""
    found = Answer(tuple(shares.get(name, 0.0) for name in joint.program.columns))
    made = SolvedRation(farm, "", joint, found, describe(formulas[0], found, farm), judged_as=tuple(formulas))
    ration = made.judged(found.amounts or ())
    return replace(made, id=ration_id(ration, farm.book), ration=ration, chances=_chances(joint, found, farm))


def solve_rations(
    farm: Farm,
    stages: Iterable[str] = (),
    bins: Iterable[str] = (),
    together: bool = False,
    home_grown: float = 0.0,
) -> list[SolvedRation]:
    """A ration for each stage from each bin (or from all the bins named, `together`).

    `home_grown` is the least share of home-grown feed in every mix, 0 to 1. A farm without bins is fed from the offers
    alone. Raises RequestError for unknown stages, bins or unusable rows. A ration whose answer does not stand up to
    verification has the status failed and says why in `failure`.
    """
    made = list(_one_by_one(farm, stages, bins, together, home_grown))
    told = with_stock(farm, [one.ration for one in made])
    return [replace(one, ration=ration) for one, ration in zip(made, told, strict=True)]


def formulate(
    farm: Farm,
    stages: Iterable[str] = (),
    bins: Iterable[str] = (),
    together: bool = False,
    home_grown: float = 0.0,
) -> list[Ration]:
    """The rations of `solve_rations`; the program behind each is gone when the next is made."""
    return with_stock(farm, [made.ration for made in _one_by_one(farm, stages, bins, together, home_grown)])


def _one_by_one(
    farm: Farm, stages: Iterable[str], bins: Iterable[str], together: bool, home_grown: float
) -> Iterator[SolvedRation]:
    """The rations as they are made, before any is held against what there is for all of them."""
    for stage, group in ration_tasks(farm, stages, bins, together):
        yield solve_ration(farm, stage, group, home_grown)


def ration_tasks(
    farm: Farm, stages: Iterable[str] = (), bins: Iterable[str] = (), together: bool = False
) -> list[tuple[StageNeeds, tuple[str, ...]]]:
    """Which rations are asked for: each stage with each group of bins. Raises InputError with every problem."""
    groups = farm.bin_groups(bins, together)
    needs = farm.stages(stages)
    farm.bins(name for group in groups for name in group)
    return [(stage, group) for stage in needs for group in groups]


def solve_ration(farm: Farm, stage: StageNeeds, bins: tuple[str, ...], home_grown: float = 0.0) -> SolvedRation:
    """The least-cost ration of one stage from these bins and every offer, verified; else the nearest mix.

    Raises RequestError for a home-grown share outside 0 to 1, BookError if nothing can be fed, SolverError.
    """
    if not 0 <= home_grown <= 1:
        raise RequestError(
            [Problem("error", "home_grown", "", f"{home_grown:g}", "a share of 0 to 1", "Write 0.9 for 90 percent.")]
        )
    return solved(farm, formula_of(farm, stage, bins, home_grown))


def formula_of(
    farm: Farm,
    stage: StageNeeds,
    bins: tuple[str, ...],
    home_grown: float = 0.0,
    more: Sequence[Candidate] = (),
) -> Formula:
    """The program of one ration from the given bins and every offer, and `more` candidates behind them."""
    candidates = [*(farm.bin_candidate(name) for name in bins), *farm.candidates, *more]
    return build(stage, bins, candidates, farm, home_grown)


def solved(farm: Farm, formula: Formula) -> SolvedRation:
    """The answer to a formula, with what its margin costs, what would mend it, and everything said of the mix.

    Where no answer stands up to the check the ration says so itself (`failure`), and no other suffers.
    """
    try:
        found = answer_to(formula, farm)
        formula = found.formula or formula
        ration = describe(formula, found, farm)
    except SolverError as error:
        found = failed_answer(error)
        ration = describe(formula, found, farm)
    more = [*practice_warnings(formula, found, ration, farm), *too_little_feed(formula.stage, ration, farm)]
    if found.solution and not farm.settings.objective:
        more += stated_feed_warnings(formula, ration, farm)
    ration = replace(ration, warnings=(*ration.warnings, *more))
    return SolvedRation(farm, ration_id(ration, farm.book), formula, found, ration, _chances(formula, found, farm))


def answer_to(formula: Formula, farm: Farm) -> Answer:
    """The verified optimum at the book's confidence, as a farm feeds it (rationlp.rations.solve.settle).

    A mix that the book fixes is its own answer. Else the nearest mix, the rows that conflict and the remedies. Raises
    SolverError if the solver fails.
    """
    if all(candidate.is_fixed for candidate in formula.candidates):
        return Answer(tuple(candidate.min_share or 0.0 for candidate in formula.candidates))
    confidence_pct, of = farm.settings.confidence_pct, farm.settings.confidence_of
    settled = settle(formula, confidence_pct, of)
    solution, formula = settled.solution, settled.formula
    if solution.status == "optimal":
        margin = margin_cost(
            formula, solution.objective, lambda plain: settle(bare(plain), confidence_pct, of).solution
        )
        return Answer(solution.amounts, solution, settled.program, settled.confidence, margin=margin, formula=formula)
    if solution.status == "infeasible":
        amounts, rows = nearest_ration(formula, farm.library)
        mends = remedies(formula, formula.offered, farm) if rows else []
        return Answer(amounts, conflict=rows, remedies=tuple(mends), formula=formula, nearest=True)
    raise SolverError(f"The solver could not finish the ration of {formula.stage.stage} (it says: {solution.status}).")


def _chances(formula: Formula, found: Answer, farm: Farm) -> tuple[ChanceRow, ...]:
    confidence = farm.settings.confidence_pct
    if farm.settings.confidence_of == ALL:
        return tuple(risk_split(formula, found.amounts or ()))
    if confidence <= AVERAGES_PCT:
        return ()
    return tuple(chance_rows(formula.program, formula.sources, formula.candidates, formula.stage.energy, confidence))
