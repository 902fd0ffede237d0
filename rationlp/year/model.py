"""A planned year: mixes, uses, purchases, stocks, dates, worth. Tonnes are metric, money is in the book's currency."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from rationlp.herd.moves import Fed
from rationlp.herd.season import Season
from rationlp.rations.answer.model import Ration
from rationlp.reasons import Severity, Verdict
from rationlp.year.program.kitchen import FoundMix
from rationlp.year.program.master import Portion
from rationlp.year.program.search import Search


@dataclass(frozen=True, slots=True)
class Mix:
    """A mix of the plan, in the order in which it is first fed. `rations` are what it is for each of its stages."""

    mix: str
    found: FoundMix = field(repr=False)
    stages: tuple[str, ...]
    bins: tuple[str, ...]
    groups: tuple[str, ...]
    tonnes: float
    cost_per_tonne: float
    first_fed: date
    rations: tuple[Ration, ...] = field(repr=False)

    @property
    def verdict(self) -> Verdict:
        """The reasons of all its rations together."""
        first, *others = self.rations
        return first.verdict.plus(reason for other in others for reason in other.verdict.reasons)


@dataclass(frozen=True, slots=True)
class Use:
    """What a group eats of a mix in a month, by bin: `tonnes` of the bin's grain (of the mix where it has none)."""

    month: str
    bin: str | None
    group: str
    mix: str
    tonnes: float
    mix_tonnes: float


@dataclass(frozen=True, slots=True)
class Purchase:
    """What is to be bought of an offer for a month, beside what lies on the farm. `packages` are the whole ones to buy
    so that it is there; `cost` is that of what is eaten, `paid` that of what is bought: of the packages, if it comes in
    them."""

    month: str
    offer: str
    label: str
    tonnes: float
    packages: int
    cost: float
    order_by: date
    paid: float


@dataclass(frozen=True, slots=True)
class LeftOver:
    """What is left over of an offer in the last of the whole packages that are bought of it, and what was paid for it;
    `packages` are those of the whole plan."""

    offer: str
    label: str
    packages: int
    tonnes: float
    cost: float


@dataclass(frozen=True, slots=True)
class OnFarm:
    """What lies on the farm of an offer when the plan begins, and what of it the plan feeds before more is bought."""

    offer: str
    label: str
    tonnes: float
    used_tonnes: float


@dataclass(frozen=True, slots=True)
class Stock:
    """What lies in a bin at the end of a month, by the best estimate, and its standard deviation."""

    month: str
    bin: str
    tonnes: float
    sd: float


@dataclass(frozen=True, slots=True)
class RunsOut:
    """The day a bin is empty; None where it lasts to the harvest. Earliest and latest: nine times in ten between."""

    bin: str
    label: str
    on: date | None
    earliest: date | None
    latest: date | None
    keeps_until: date | None = None


@dataclass(frozen=True, slots=True)
class Worth:
    """What one more tonne of a bin (or offer) would save beyond what it brings, and what a tonne less would cost."""

    bin: str
    value: float


@dataclass(frozen=True, slots=True)
class Sale:
    """Grain of a bin that the plan leaves over; worth selling from `from_price` a tonne on (before hauling).

    `harmful`: a danger lies in the grain itself, and nobody is told to sell it.
    """

    bin: str
    label: str
    tonnes: float
    from_price: float | None
    harmful: bool = False


@dataclass(frozen=True, slots=True)
class Unfed:
    """Animals that cannot be fed as they need: from which day, how many tonnes are short, and why; `unverified` where
    that is only because no mix of theirs stood up to the check.

    The first reason of `verdict` says so; the others are those of the ration that comes nearest, which nobody is fed.
    """

    group: str
    stage: str
    on: date
    tonnes: float
    why: str
    ways_out: tuple[str, ...]
    verdict: Verdict
    unverified: bool = False


class WayKind(StrEnum):
    """What a way out of a year that cannot be met is."""

    BUY = "buy"
    FEWER = "fewer_animals"
    LIFT = "lift"


@dataclass(frozen=True, slots=True)
class WayOut:
    """Something that would let more animals be fed.

    `tonnes` are to be bought beside the plan, at `cost` where there is a price; None where nothing is bought.
    `short_tonnes` of feed are missing even then; `year_cost` is that of the feed of the year with it.
    """

    kind: WayKind
    what: str
    tonnes: float | None
    cost: float | None
    short_tonnes: float
    year_cost: float


@dataclass(frozen=True, slots=True)
class FewMixes:
    """What the number of mixes does to the cost of the year; None where it was not looked at or cannot be.

    `bound` is below any plan of at most `asked` mixes; `proved` whether the plan is the cheapest of its mixes.
    """

    asked: int | None
    used: int
    proved: bool
    bound: float
    cost_of_one_fewer: float | None = None
    cost_of_one_more: float | None = None
    cost_of_any: float | None = None


@dataclass(frozen=True, slots=True)
class DrawnBin:
    """When a bin was empty in the draws: a tenth of them before, a tenth after; None where it lasted."""

    bin: str
    earliest: date | None
    middle: date | None
    latest: date | None


@dataclass(frozen=True, slots=True)
class SurerPlan:
    """A plan that counts on less grain in the bins: the part (0 to 1) of the draws it survives, and what it costs more
    where everything comes as it was thought. `counted` is how likely each bin is to hold what the plan counts on."""

    counted: float
    mixes: int
    survived: float
    extra_cost: float


@dataclass(frozen=True, slots=True)
class Draws:
    """Ranges over the draws. `survived` is the part of them in which everybody can be fed: with the plan's mixes where
    few were asked for, else with any mix that was found for it and may be fed.

    Costs are of the draws that were survived; four in five lie between low and high. `surer` is a plan that survives
    more of them, where there is one.
    """

    count: int
    seed: int
    survived: float
    cost_low: float | None
    cost_middle: float | None
    cost_high: float | None
    bins: tuple[DrawnBin, ...]
    surer: SurerPlan | None = None


@dataclass(frozen=True, slots=True, repr=False)
class Year:
    """The plan of a year, verified. `bound` is a cost below which no plan can go.

    Where the farm asks for whole packages, `cost` is what is paid, with what is left over in them (`left_over`).
    """

    season: Season
    animals: tuple[Fed, ...]
    cost: float
    bound: float
    home_grown_share: float
    mixes: tuple[Mix, ...]
    uses: tuple[Use, ...]
    purchases: tuple[Purchase, ...]
    stocks: tuple[Stock, ...]
    runs_out: tuple[RunsOut, ...]
    worth: tuple[Worth, ...]
    sales: tuple[Sale, ...]
    unfed: tuple[Unfed, ...]
    verdict: Verdict
    few: FewMixes
    notes: tuple[str, ...]
    next_sample: tuple[tuple[str, date], ...] = ()
    draws: Draws | None = None
    ways_out: tuple[WayOut, ...] = ()
    on_farm: tuple[OnFarm, ...] = ()
    left_over: tuple[LeftOver, ...] = ()
    search: Search = field(default=None, compare=False)  # type: ignore[assignment]
    portions: Sequence[Portion] = field(default=(), compare=False)

    def __repr__(self) -> str:
        days = f"{self.season.first} to {self.season.last}"
        return f"<Year {days}: {self.verdict.severity}, {self.cost:.2f} for {self.tonnes:.2f} t of feed>"

    @property
    def stopped(self) -> bool:
        """Whether a mix of the plan must not be fed, or somebody cannot be fed whose mixes were checked."""
        short = any(not each.unverified for each in self.unfed)
        return short or any(mix.verdict.severity is Severity.STOP for mix in self.mixes)

    @property
    def failed(self) -> bool:
        """Whether mixes of somebody's did not stand up to the check, so that they are not fed."""
        return any(each.unverified for each in self.unfed)

    @property
    def tonnes(self) -> float:
        """Feed eaten over the year."""
        return sum(mix.tonnes for mix in self.mixes)

    @property
    def in_whole_packages(self) -> bool:
        """Whether the farm asks for the plan of what whole packages cost."""
        return self.search.farm.settings.whole_packages == "yes"

    @property
    def bought_tonnes(self) -> float:
        """What is bought over the year, with what is left over of whole packages."""
        return sum(row.tonnes for row in self.purchases) + self._left_tonnes

    @property
    def bought_cost(self) -> float:
        """Money for it."""
        return self.cost_of(row.offer for row in self.purchases)

    def cost_of(self, offers: Iterable[str]) -> float:
        """Money for what is bought of these offers."""
        asked = {*offers}
        eaten = sum(row.cost for row in self.purchases if row.offer in asked)
        return eaten + sum(row.cost for row in self.left_over if row.offer in asked)

    @property
    def left_in_packages(self) -> float:
        """Money for what is left over in the last packages, where the plan counts what is eaten of them alone."""
        return max(sum(row.paid for row in self.purchases) - self.bought_cost, 0.0)

    @property
    def tonnes_left_in_packages(self) -> float:
        """Tonnes of it: what is paid beyond what is eaten, at the price of each offer."""
        paid = sum(row.tonnes * row.paid / row.cost for row in self.purchases if row.cost)
        return max(paid - sum(row.tonnes for row in self.purchases if row.cost) - self._left_tonnes, 0.0)

    @property
    def _left_tonnes(self) -> float:
        return sum(row.tonnes for row in self.left_over)
