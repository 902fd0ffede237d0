"""The offers over all rations that are fed first: what is bought, over which prices the mixes stay, what comes in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rationlp.book.records import Book
from rationlp.rations.answer.farm_totals import group_feed
from rationlp.report.cards import StageCard
from rationlp.report.plots import Plot, Span, spans

LOW, HIGH = 70.0, 130.0
"""Percent of today's price that the picture shows."""


@dataclass(frozen=True, slots=True)
class OfferLine:
    """An offer in the rations that are fed first.

    `tonnes` are what the groups eat of it over their days. Of several rations the narrowest prices between which all
    their mixes stay; `enters_below` is the highest price at which it comes into one, and `enters_in` that one;
    `needed_by` are the stages without a ration but for it, `at_stake` what the others cost more a tonne at most.
    """

    offer: str
    label: str
    price: float
    tonnes: float
    used_in: int
    stays_from: float | None
    stays_to: float | None
    enters_below: float | None
    enters_in: str
    needed_by: tuple[str, ...]
    worth_low: float | None
    worth_high: float | None


@dataclass(frozen=True, slots=True)
class OfferPart:
    """Every offer, those that are bought first, and the picture of the prices over which today's mixes stay."""

    bought: tuple[OfferLine, ...]
    idle: tuple[OfferLine, ...]
    picture: Plot | None


def offer_part(book: Book, cards: Sequence[StageCard]) -> OfferPart:
    """The offers of the book in the first rations of the cards."""
    lines = [_line(book, offer.offer, cards) for offer in book.supplements]
    known = [line for line in lines if line is not None]
    bought = sorted((line for line in known if line.used_in), key=lambda line: -line.tonnes * line.price)
    idle = sorted((line for line in known if not line.used_in), key=_distance)
    return OfferPart(tuple(bought), tuple(idle), _picture(bought) if bought else None)


def _line(book: Book, offer: str, cards: Sequence[StageCard]) -> OfferLine | None:
    found = [(card, line) for card in cards for line in card.first.worths if line.offer == offer]
    if not found:
        return None
    used = [line for _, line in found if line.in_mix]
    idle = [line for _, line in found if not line.in_mix and (line.enters_below or 0.0) > 0]
    first = max(idle, key=lambda line: line.enters_below or 0.0, default=None)
    starts = [line.mix_stays_from for _, line in found if line.mix_stays_from is not None]
    ends = [line.mix_stays_to for _, line in found if line.mix_stays_to is not None]
    worths = [line.worth_used for line in used if line.worth_used is not None]
    return OfferLine(
        offer,
        found[0][1].label,
        found[0][1].price,
        sum(_tonnes(book, card) * line.share for card, line in found if line.in_mix),
        len(used),
        max(starts, default=None),
        min(ends, default=None),
        first.enters_below if first and not used else None,
        first.stage if first and not used else "",
        tuple(line.stage for line in used if line.indispensable),
        min(worths, default=None),
        max(worths, default=None),
    )


def _tonnes(book: Book, card: StageCard) -> float:
    """Feed of a card's first ration that the groups of the book eat."""
    return sum(group_feed(g, card.first.ration).tonnes or 0.0 for g in book.groups if g.stage == card.stage)


def _distance(line: OfferLine) -> float:
    """How many times the price at which it comes in an offer costs."""
    return line.price / line.enters_below if line.enters_below else float("inf")


def _picture(lines: Sequence[OfferLine]) -> Plot:
    rows = [
        Span(
            line.offer,
            None if line.stays_from is None or not line.price else 100 * line.stays_from / line.price,
            None if line.stays_to is None or not line.price else 100 * line.stays_to / line.price,
        )
        for line in lines
    ]
    told = (
        "For each offer a bar from the lowest to the highest price, in percent of today's, over which every mix stays "
        "as it is; an arrow where it stays beyond the picture. The prices stand in the table."
    )
    return spans("Over which prices today's mixes stay", told, rows, LOW, HIGH)
