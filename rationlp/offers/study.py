"""Everything that can be said of the offers of a book, put together as it was asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from rationlp.book.records import Book
from rationlp.farm import Farm
from rationlp.ledger.made_mix import MadeMix
from rationlp.ledger.weighed import last_mixes
from rationlp.offers.grain import grain_plans, grain_worths
from rationlp.offers.live_ration import LiveRation, live_rations
from rationlp.offers.model import (
    Comparison,
    EqualMixes,
    FarmRisk,
    GrainPlan,
    GrainWorth,
    OfferWorth,
    PriceRisk,
    Stake,
    Sweep,
    WhatIf,
)
from rationlp.offers.price_risk import price_draws, price_risks
from rationlp.offers.purchases import stakes
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
    `only_sweep` nothing but the sweeps is calculated.
    """

    asked: tuple[Ask, ...] = ()
    feeds: tuple[str, ...] = ()
    compared: tuple[str, ...] = ()
    draws: int = 0
    together: float = 0.0
    seed: int = 1
    only_sweep: bool = False


@dataclass(frozen=True, slots=True)
class Study:
    """The answers; lists are empty where nothing was asked or nothing is to be said.

    `whole` says whether the rations are those of every group and every bin of the book.
    """

    rations: tuple[LiveRation, ...]
    worths: tuple[tuple[OfferWorth, ...], ...] = ()
    stakes: tuple[Stake, ...] = ()
    comparisons: tuple[Comparison, ...] = ()
    what_ifs: tuple[WhatIf, ...] = ()
    grain: tuple[GrainWorth, ...] = ()
    plans: tuple[GrainPlan, ...] = ()
    equals: tuple[EqualMixes, ...] = ()
    sweeps: tuple[Sweep, ...] = ()
    risks: tuple[PriceRisk, ...] = ()
    farm_risks: tuple[FarmRisk, ...] = ()
    unmet: tuple[LiveRation, ...] = ()
    whole: bool = False

    @property
    def complete(self) -> bool:
        """Whether no ration asked for must not be fed."""
        return not self.unmet


def study(
    farm: Farm,
    wish: OfferRequest,
    stages: Sequence[str] = (),
    bins: Sequence[str] = (),
    together: bool = False,
    begin: Callable[[int], Callable[[], None]] = lambda steps: lambda: None,
) -> Study:
    """The offers of a book, ration by ration and over the farm.

    `begin` is told how many steps the work has and gives back what is called after each. Raises InputError and
    SolverError.
    """
    made = tuple(live_rations(farm, stages, bins, together))
    unmet = tuple(case for case in made if case.priced is None or case.ration.verdict.severity is Severity.STOP)
    rows = wish.asked[1].steps if len(wish.asked) > 1 else 1
    drawn = price_draws(farm.book, wish.draws, wish.seed, wish.together) if wish.draws else {}
    done = begin(len(made) * ((0 if wish.only_sweep else 1) + (rows if wish.asked else 0) + (1 if drawn else 0)))
    swept = tuple(sweeps(made, wish.asked, done)) if wish.asked else ()
    if wish.only_sweep:
        return Study(made, sweeps=swept, unmet=unmet)
    worths = []
    for case in made:
        worths.append(tuple(offer_worths(case)))
        done()
    risks, farm_risks = price_risks(made, farm.book, drawn, done) if drawn else ([], [])
    grain = grain_worths(made, farm.book)
    whole = _whole(made, farm.book)
    return Study(
        rations=made,
        worths=tuple(worths),
        stakes=tuple(stakes(made, worths, farm.book)),
        comparisons=tuple(comparisons(made, worths, farm, wish.compared)),
        what_ifs=tuple(line for feed in wish.feeds for line in what_if(feed, made, farm)),
        grain=tuple(grain),
        plans=tuple(grain_plans(made, grain, farm.book)) if whole else (),
        equals=tuple(_equals(made, last_mixes(farm))),
        sweeps=swept,
        risks=tuple(risks),
        farm_risks=tuple(farm_risks),
        unmet=unmet,
        whole=whole,
    )


def _whole(made: Sequence[LiveRation], book: Book) -> bool:
    """Whether every stage of the book's groups and every bin is among the rations, and every ration can be made."""
    stages = {case.formula.stage.stage for case in made if case.priced is not None}
    bins = {estimate.bin for case in made for estimate in case.estimates}
    return {group.stage for group in book.groups} <= stages and {row.bin for row in book.bins} <= bins


def _equals(made: Sequence[LiveRation], last: Mapping[tuple[str, tuple[str, ...]], MadeMix]) -> list[EqualMixes]:
    found = []
    for case in made:
        mix = last.get((case.formula.stage.stage, case.bins))
        equal = equal_mixes(case, mix.shares, mix.name) if mix else equal_mixes(case)
        if equal is not None:
            found.append(equal)
    return found
