"""Everything that can be said of the offers of a book, put together as it was asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from rationlp.book.records import Book
from rationlp.errors import InputError, SolverError
from rationlp.farm import Farm
from rationlp.ledger.made_mix import MadeMix
from rationlp.ledger.weighed import last_mixes
from rationlp.numbers import Floats
from rationlp.offers.grain import Choice, grain_choices, grain_plans, grain_worths
from rationlp.offers.live_ration import LiveRation, live_rations
from rationlp.offers.model import (
    Comparison,
    EqualMixes,
    FarmRisk,
    GrainPlan,
    GrainWorth,
    OfferWorth,
    PriceRisk,
    Purchase,
    Sweep,
    WhatIf,
)
from rationlp.offers.price_risk import Drawn, farm_risks, price_draws, price_risk
from rationlp.offers.purchases import purchases
from rationlp.offers.quotes import comparisons
from rationlp.offers.sweep import Ask, sweeps
from rationlp.offers.ties import equal_mixes
from rationlp.offers.worth import offer_worths, what_if
from rationlp.reasons import Severity


@dataclass(frozen=True, slots=True)
class OfferRequest:
    """What is asked beyond the worth of each offer.

    `asked` are one or two sweeps, `feeds` feeds that nobody quotes, `compared` offers to put side by side, `draws` how
    many draws of uncertain prices, `together` their correlation (0 to 1), `seed` where the draws begin. With
    `only_sweep` nothing but the sweeps is calculated; `equals` says whether mixes that cost the same are sought.
    """

    asked: tuple[Ask, ...] = ()
    feeds: tuple[str, ...] = ()
    compared: tuple[str, ...] = ()
    draws: int = 0
    together: float = 0.0
    seed: int = 1
    only_sweep: bool = False
    equals: bool = True


@dataclass(frozen=True, slots=True, repr=False)
class Study:
    """The answers; lists are empty where nothing was asked or nothing is to be said.

    `whole` says whether the rations are those of every group and every bin of the book.
    """

    rations: tuple[LiveRation, ...]
    worths: tuple[tuple[OfferWorth, ...], ...] = ()
    purchases: tuple[Purchase, ...] = ()
    comparisons: tuple[Comparison, ...] = ()
    what_ifs: tuple[WhatIf, ...] = ()
    grain: tuple[GrainWorth, ...] = ()
    plans: tuple[GrainPlan, ...] = ()
    equals: tuple[EqualMixes, ...] = ()
    sweeps: tuple[Sweep, ...] = ()
    risks: tuple[PriceRisk, ...] = ()
    farm_risks: tuple[FarmRisk, ...] = ()
    whole: bool = False

    def __repr__(self) -> str:
        return "\n".join([f"<Offers in {len(self.rations)} rations>", *(repr(live.solved) for live in self.rations)])

    @property
    def complete(self) -> bool:
        """Whether everything asked for could be said, of rations that may be fed or asked about."""
        return not self.unmet

    @property
    def stopped(self) -> bool:
        """Whether a ration that was calculated must not be fed."""
        return any(c.ration.verdict.severity is Severity.STOP for c in self.rations if not c.ration.failure)

    @property
    def failed(self) -> bool:
        """Whether an answer, of a ration or of its prices, did not stand up to verification."""
        return any(case.failure or case.ration.failure for case in self.rations)

    @property
    def unmet(self) -> tuple[LiveRation, ...]:
        """The rations that must not be fed, and those of whose offers nothing can be said."""
        return tuple(
            case for case in self.rations if case.priced is None or case.ration.verdict.severity is Severity.STOP
        )


def study(
    farm: Farm,
    request: OfferRequest,
    stages: Sequence[str] = (),
    bins: Sequence[str] = (),
    together: bool = False,
    begin: Callable[[int], Callable[[], None]] = lambda steps: lambda: None,
) -> Study:
    """The offers of a book, ration by ration and over the farm.

    `begin` is told how many steps the work has and gives back what is called after each. A ration of whose prices an
    answer does not stand up to verification says so (`failure`). Raises InputError.
    """
    asked = live_rations(farm, stages, bins, together)
    rows = request.asked[1].steps if len(request.asked) > 1 else 1
    drawn = price_draws(farm.book, request.draws, request.seed, request.together) if request.draws else {}
    done = begin(len(asked) * ((0 if request.only_sweep else 1) + (rows if request.asked else 0) + (1 if drawn else 0)))
    last = _last(farm) if request.equals and not request.only_sweep else {}
    told = [_told(case, request, farm, drawn, last, done) for case in asked]
    made = tuple(each.case for each in told)
    swept = tuple(line for each in told for line in each.sweeps)
    if request.only_sweep:
        return Study(made, sweeps=swept)
    worths = [each.worths for each in told]
    grain = [line for each in told for line in each.grain]
    choices = [choice for each in told for choice in each.choices]
    risks = [each.risk for each in told if each.risk]
    whole = _whole(made, farm.book)
    return Study(
        rations=made,
        worths=tuple(worths),
        purchases=tuple(purchases(made, worths, farm.book)),
        comparisons=tuple(comparisons(made, worths, farm, request.compared)),
        what_ifs=tuple(line for each in told for line in each.what_ifs),
        grain=tuple(grain),
        plans=tuple(grain_plans(made, choices, grain, farm.book)) if whole else (),
        equals=tuple(each.equal for each in told if each.equal),
        sweeps=swept,
        risks=tuple(risk.risk for risk in risks),
        farm_risks=tuple(farm_risks(risks, farm.book)),
        whole=whole,
    )


@dataclass(frozen=True, slots=True)
class _Told:
    """What is said of the offers in one ration; nothing, and `case.failure`, where an answer did not stand up."""

    case: LiveRation
    sweeps: tuple[Sweep, ...] = ()
    worths: tuple[OfferWorth, ...] = ()
    grain: tuple[GrainWorth, ...] = ()
    choices: tuple[Choice, ...] = ()
    what_ifs: tuple[WhatIf, ...] = ()
    equal: EqualMixes | None = None
    risk: Drawn | None = None


def _told(
    case: LiveRation,
    request: OfferRequest,
    farm: Farm,
    drawn: Mapping[str, Floats],
    last: Mapping[tuple[str, tuple[str, ...]], MadeMix],
    done: Callable[[], None],
) -> _Told:
    """The study of one ration: one that fails leaves the others as they are."""
    try:
        swept = tuple(sweeps([case], request.asked, done)) if request.asked else ()
        if request.only_sweep:
            return _Told(case, swept)
        worths = tuple(offer_worths(case))
        done()
        risk = price_risk(case, farm.book, drawn) if drawn and case.priced is not None else None
        if drawn:
            done()
        return _Told(
            case,
            swept,
            worths,
            tuple(grain_worths([case], farm.book)),
            tuple(grain_choices(case, farm.book)),
            tuple(line for feed in request.feeds for line in what_if(feed, [case], farm)),
            _equal(case, last) if request.equals else None,
            risk,
        )
    except SolverError as error:
        return _Told(replace(case, priced=None, failure=str(error)))


def _whole(made: Sequence[LiveRation], book: Book) -> bool:
    """Whether every stage of the book's groups and every bin is among the rations, and every ration can be made."""
    stages = {case.formula.stage.stage for case in made if case.priced is not None}
    bins = {estimate.bin for case in made for estimate in case.estimates}
    return {group.stage for group in book.groups} <= stages and {row.bin for row in book.bins} <= bins


def _last(farm: Farm) -> Mapping[tuple[str, tuple[str, ...]], MadeMix]:
    """The mixes made last: they choose among equally cheap ones. A record that cannot be read is told with the book."""
    try:
        return last_mixes(farm)
    except InputError:
        return {}


def _equal(case: LiveRation, last: Mapping[tuple[str, tuple[str, ...]], MadeMix]) -> EqualMixes | None:
    mix = last.get((case.formula.stage.stage, case.bins))
    return equal_mixes(case, mix.shares, mix.named(case.solved.farm.settings)) if mix else equal_mixes(case)
