"""A card for each stage: the ration that is fed first, in full, and those from the other bins behind it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from rationlp.farm import Farm
from rationlp.ledger.shape import Signature
from rationlp.ledger.signatures import signature_words
from rationlp.numbers import figure, largest_first
from rationlp.offers.live_ration import LiveRation
from rationlp.offers.model import OfferWorth
from rationlp.offers.worth import offer_worths
from rationlp.rations.answer.farm_totals import group_feed
from rationlp.rations.answer.model import RatioLine, Ration, RequirementLine
from rationlp.rations.studies.weak_bounds import cost_of_a_tenth
from rationlp.show.first.asked import Asked
from rationlp.units import KG_PER_TONNE

MOST_HOLDS = 4
"""What holds the cost up is named for so many bounds, the dearest first."""


@dataclass(frozen=True, slots=True)
class MixPart:
    """A feed of the mix; `kg` in a batch of the book."""

    label: str
    offer: str
    share: float
    kg: float


@dataclass(frozen=True, slots=True)
class Hold:
    """A bound that holds the cost up, and what a tenth of it costs in money per tonne, at today's prices."""

    words: str
    per_tonne: float


@dataclass(frozen=True, slots=True)
class Card:
    """One ration. `mark` is its verdict with the letters of its reasons on the first page."""

    case: LiveRation
    mark: str
    mix: tuple[MixPart, ...]
    per_head_kg: float | None
    per_head_cost: float | None
    holds: tuple[Hold, ...]
    signed: str
    worths: tuple[OfferWorth, ...] = ()

    @property
    def lettered(self) -> bool:
        """Whether its reasons to ask are told by letters, so that on paper the words of the first page do."""
        return " " in self.mark

    @property
    def id(self) -> str:
        """The id of the ration, as on its mix sheet."""
        return self.case.solved.id

    @property
    def ration(self) -> Ration:
        """The ration itself."""
        return self.case.ration

    @property
    def place(self) -> str:
        """What links point to."""
        return f"ration-{self.id}"


@dataclass(frozen=True, slots=True)
class Eaters:
    """A group of the book, and the tonnes it eats of the ration over its days; or a step of the herd (`moving`), with
    the most head there are at once."""

    group: str
    head: int
    from_date: date | None
    to_date: date | None
    tonnes: float | None
    moving: bool = False


@dataclass(frozen=True, slots=True)
class StageCard:
    """A stage: `first` is the ration to feed, the gravest verdicts last and then the cheapest; `others` come after."""

    stage: str
    label: str
    groups: tuple[Eaters, ...]
    first: Card
    others: tuple[Card, ...]


def first_cases(cases: Sequence[LiveRation]) -> list[LiveRation]:
    """For each stage the ration that is fed first: of the lightest verdict, and of these the cheapest."""
    by_stage: dict[str, list[LiveRation]] = {}
    for case in cases:
        by_stage.setdefault(case.ration.stage, []).append(case)
    return [min(found, key=_order) for found in by_stage.values()]


def _order(case: LiveRation) -> tuple[int, float]:
    ration = case.ration
    cost = ration.cost_per_gcal if ration.objective == "per_energy" else ration.cost_per_tonne
    return ration.verdict.severity.rank, float("inf") if cost is None else cost


def cards_of(
    farm: Farm,
    cases: Sequence[LiveRation],
    asked: Asked,
    signed: Sequence[Signature],
    on: date,
    herd: Mapping[str, Sequence[Eaters]],
) -> tuple[StageCard, ...]:
    """A card for each stage, in the order of the rations; `herd` are the steps of the herd in each stage."""
    found = []
    for first in first_cases(cases):
        stage = first.ration.stage
        others = sorted((case for case in cases if case.ration.stage == stage and case is not first), key=_order)
        found.append(
            StageCard(
                stage,
                first.ration.stage_label,
                (*_groups(farm, first.ration), *herd.get(stage, ())),
                _card(farm, first, asked, signed, on, tuple(offer_worths(first))),
                tuple(_card(farm, case, asked, signed, on) for case in others),
            )
        )
    return tuple(found)


def _groups(farm: Farm, ration: Ration) -> Iterator[Eaters]:
    """The groups of the book that eat a ration."""
    for group in farm.book.groups:
        if group.stage == ration.stage:
            yield Eaters(group.group, group.head, group.from_date, group.to_date, group_feed(group, ration).tonnes)


def _card(
    farm: Farm,
    case: LiveRation,
    asked: Asked,
    signed: Sequence[Signature],
    on: date,
    worths: tuple[OfferWorth, ...] = (),
) -> Card:
    ration, batch = case.ration, farm.settings.batch_kg
    parts = [MixPart(line.label, line.offer, line.share, line.share * batch) for line in ration.mix if line.share]
    per_head = ration.feed_kg_per_head_per_day
    cost = ration.cost_per_tonne
    return Card(
        case,
        asked.mark(ration.verdict),
        tuple(sorted(parts, key=lambda part: largest_first(part.share))),
        per_head,
        per_head * cost / KG_PER_TONNE if per_head is not None and cost is not None else None,
        tuple(_holds(ration)),
        signature_words(case.solved.id, on, signed, farm.settings.date_format),
        worths,
    )


def _holds(ration: Ration) -> list[Hold]:
    """The bounds that hold the cost up, the dearest first."""
    found = []
    lines: list[RequirementLine | RatioLine] = [*ration.requirements, *ration.ratios]
    for line in lines:
        if line.binding and line.shadow_price:
            bound = line.minimum if line.binding == "minimum" else line.maximum
            words = f"{line.label}, {line.binding} {figure(bound)} {line.unit}"
            found.append(Hold(words, cost_of_a_tenth(line, bound, ration)))
    for cap in ration.limits:
        if cap.binding and cap.shadow_price:
            kind = "at most" if cap.max_pct is not None else "at least"
            words = f"{cap.label}, {kind} {figure(cap.gives_pct, 3)} %"
            found.append(Hold(words, cost_of_a_tenth(cap, cap.gives_pct, ration)))
    return sorted(found, key=lambda hold: -hold.per_tonne)[:MOST_HOLDS]
