"""What if a price moves: for each ration and offer the pieces of the price, so that the page answers by itself.

Between two breakpoints one mix is the cheapest, so that its cost is a straight line: shares and prices are all that the
page needs to say what `rationlp ration --price` would say, at any price of the range.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from rationlp.book.records import Book
from rationlp.book_units import units_of
from rationlp.errors import SolverError
from rationlp.farm import Farm
from rationlp.offers.live_ration import LiveRation
from rationlp.offers.price_pieces import PricedRation, PricePiece
from rationlp.rations.answer.describe import feed_per_day
from rationlp.report.cards import StageCard
from rationlp.report.levels import Levels
from rationlp.units import KG_PER_TONNE

DOWN, UP = 0.7, 1.3
"""Times today's price: how far each slider goes, and at least as far as the book's own low and high price."""
DIGITS = 11
"""Of a share: far below what is shown."""
SAME = 8
"""Two mixes whose shares agree to so many decimals are one."""


@dataclass(frozen=True, slots=True)
class Step:
    """One piece of a price in the words of a table; prices and cost per tonne, at both ends of the piece."""

    price_from: float
    price_to: float
    cost_from: float
    cost_to: float
    home_grown_share: float
    share: float
    today: bool


@dataclass(frozen=True, slots=True)
class Question:
    """What one price does to a ration."""

    offer: str
    label: str
    price: float
    low: float
    high: float
    pieces: tuple[PricePiece, ...]
    steps: tuple[Step, ...]

    @property
    def moves(self) -> bool:
        """Whether the mix changes anywhere in the range, or the price counts in it."""
        return len(self.steps) > 1 or self.steps[0].share > 0


@dataclass(frozen=True, slots=True)
class RationQuestions:
    """The questions of one ration; `why_none` says why there are none."""

    card: StageCard
    questions: tuple[Question, ...]
    why_none: str = ""


def questions_of(farm: Farm, cards: Sequence[StageCard]) -> tuple[RationQuestions, ...]:
    """The questions of the rations that are fed first."""
    return tuple(_questions(farm, card) for card in cards)


def _questions(farm: Farm, card: StageCard) -> RationQuestions:
    case = card.first.case
    if case.priced is None:
        return RationQuestions(card, (), "There is no mix that meets everything, so prices change nothing.")
    if not PricedRation.can_ask(case):
        words = (
            "The book asks for more than plain averages: the mix then moves a little with every price, so that no "
            "table holds it. Ask with rationlp ration --price OFFER=PRICE."
        )
        return RationQuestions(card, (), words)
    try:
        return RationQuestions(card, tuple(_asked(PricedRation(case), case, farm.book)))
    except SolverError as error:
        return RationQuestions(card, (), str(error))


def _asked(priced: PricedRation, case: LiveRation, book: Book) -> Iterator[Question]:
    ranges = {row.offer: (row.price_low_per_tonne, row.price_high_per_tonne) for row in book.supplements}
    prices = {c.name: c.price_per_tonne for c in case.formula.candidates}
    grown = {c.name for c in case.formula.candidates if c.home_grown}
    for candidate in case.formula.candidates:
        name, today = candidate.name, candidate.price_per_tonne
        if not today:
            continue
        low, high = ranges.get(name, (None, None))
        low, high = min(DOWN * today, low or today), max(UP * today, high or today)
        pieces = priced.pieces(name, low, high)
        steps = tuple(_step(piece, name, prices, grown, today) for piece in pieces)
        yield Question(name, candidate.label, today, low, high, pieces, steps)


def _step(piece: PricePiece, offer: str, prices: Mapping[str, float], grown: set[str], today: float) -> Step:
    share = piece.mix.get(offer, 0.0)
    rest = sum(part * prices[name] for name, part in piece.mix.items() if name != offer)
    return Step(
        piece.price_from,
        piece.price_to,
        rest + share * piece.price_from,
        rest + share * piece.price_to,
        sum(part for name, part in piece.mix.items() if name in grown),
        share,
        piece.price_from <= today <= piece.price_to,
    )


def as_data(
    farm: Farm, found: Sequence[RationQuestions], levels: Mapping[str, Sequence[Levels]] = MappingProxyType({})
) -> dict[str, Any]:
    """What the script of the page reads: each name and each mix once, prices per tonne, shares 0 to 1."""
    units = units_of(farm.settings)
    names: dict[str, int] = {}
    feeds: list[dict[str, Any]] = []

    def place(name: str, case: LiveRation) -> int:
        if name not in names:
            names[name] = len(names)
            candidate = next(c for c in case.formula.candidates if c.name == name)
            feeds.append(
                {
                    "id": name,
                    "label": candidate.label,
                    "price": candidate.price_per_tonne,
                    "grown": candidate.home_grown,
                }
            )
        return names[name]

    return {
        "currency": units.currency,
        "perMass": units.per_mass,
        "perTonne": units.price_kg / KG_PER_TONNE,
        "mass": units.mass,
        "massKg": units.mass_kg,
        "batchKg": farm.settings.batch_kg,
        "rations": [
            _ration_data(each, place, levels.get(each.card.first.id, ()))
            for each in found
            if each.questions or levels.get(each.card.first.id)
        ],
        "feeds": feeds,
    }


def _ration_data(
    each: RationQuestions, place: Callable[[str, LiveRation], int], levels: Sequence[Levels]
) -> dict[str, Any]:
    case = each.card.first.case
    mixes: dict[tuple[tuple[str, float], ...], int] = {}
    told: list[dict[str, Any]] = []

    def mix_place(mix: Mapping[str, float], per_day: float | None = None) -> int:
        key = tuple(sorted((name, round(share, SAME)) for name, share in mix.items()))
        if key not in mixes:
            mixes[key] = len(mixes)
            parts = [[place(name, case), round(share, DIGITS)] for name, share in mix.items()]
            told.append({"feed": _per_day(case, mix) if per_day is None else per_day, "parts": parts})
        return mixes[key]

    questions = [
        {
            "offer": place(question.offer, case),
            "ends": [question.low, *(piece.price_to for piece in question.pieces)],
            "mixes": [mix_place(piece.mix) for piece in question.pieces],
        }
        for question in each.questions
        if question.moves
    ]
    today = {name: share for name, share in case.solved.shares.items() if share > 0}
    return {
        "id": each.card.first.id,
        "today": mix_place(today),
        "questions": questions,
        "levels": [
            {
                "asks": kind.asks,
                "today": next((n for n, level in enumerate(kind.levels) if level.today), 0),
                "stops": [
                    {
                        "pct": level.pct,
                        "id": level.id,
                        "verdict": level.ration.verdict.headline,
                        "mix": mix_place(level.shares, level.ration.feed_kg_per_head_per_day),
                    }
                    for level in kind.levels
                ],
            }
            for kind in levels
            if len(kind.levels) > 1
        ],
        "mixes": told,
    }


def _per_day(case: LiveRation, mix: Mapping[str, float]) -> float | None:
    """kg of a mix per head and day."""
    stage = case.formula.stage
    values = {c.name: c.values.get(stage.energy or "", 0.0) for c in case.formula.candidates}
    return feed_per_day(stage, sum(share * values[name] for name, share in mix.items()) if stage.energy else None)
