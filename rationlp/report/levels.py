"""What more certainty and more home-grown feed cost: each ration made anew at a few levels of both, verdict and all.

At a confidence above plain averages a mix moves with every step, so that between two levels nothing is said: what the
page shows of a level is `rationlp ration --set confidence_pct=90` or `rationlp ration --home-grown 0.9` to the digit.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import ceil

from rationlp.farm import Farm
from rationlp.rations.answer.ids import ration_id
from rationlp.rations.answer.model import Ration
from rationlp.rations.formulate import solve_rations
from rationlp.report.cards import StageCard

CONFIDENCES_PCT = (50.0, 60.0, 70.0, 80.0, 90.0, 95.0)
SHARE_STEP_PCT = 1
"""Home-grown shares that are asked for are whole multiples of this, from today's share on."""


class Asks(StrEnum):
    """What is asked for at several levels, in the words of the page."""

    CONFIDENCE = "Confidence, %"
    HOME_GROWN = "Home-grown at least, %"


@dataclass(frozen=True, slots=True)
class Level:
    """A ration at one level, in percent. `today` is the book's own; `id` as on a mix sheet of it."""

    pct: float
    id: str
    ration: Ration
    today: bool

    @property
    def shares(self) -> dict[str, float]:
        """What is in it, by offer or bin, 0 to 1."""
        return {line.offer: line.share for line in self.ration.mix if line.share > 0}


@dataclass(frozen=True, slots=True)
class Levels:
    """Every level at which there is a mix that meets all, in rising order; `none_at_pct` is the first without."""

    asks: Asks
    levels: tuple[Level, ...]
    none_at_pct: float | None


def levels_of(farm: Farm, card: StageCard) -> tuple[Levels, ...]:
    """The levels of the ration of a card that is fed first; empty where it has no mix that meets everything.

    Raises SolverError.
    """
    if card.first.ration.status != "optimal":
        return ()
    return (_confidences(farm, card), _shares(farm, card))


def _confidences(farm: Farm, card: StageCard) -> Levels:
    own = farm.settings.confidence_pct
    asked = sorted({*CONFIDENCES_PCT, own})
    made = (_made(farm.with_setting("confidence_pct", pct), card, pct, today=pct == own) for pct in asked)
    return _levels(Asks.CONFIDENCE, asked, made)


def _shares(farm: Farm, card: StageCard) -> Levels:
    """From no share asked for, which is today's ration."""
    least = ceil(100 * (card.first.ration.home_grown_share or 0.0) / SHARE_STEP_PCT) * SHARE_STEP_PCT
    asked = [0.0, *(float(pct) for pct in range(max(least, SHARE_STEP_PCT), 101, SHARE_STEP_PCT))]
    made = (_made(farm, card, pct, pct / 100, today=not pct) for pct in asked)
    return _levels(Asks.HOME_GROWN, asked, made)


def _made(farm: Farm, card: StageCard, pct: float, home_grown: float = 0.0, *, today: bool) -> Level | None:
    first = card.first.ration
    (made,) = solve_rations(farm, [first.stage], first.bins, len(first.bins) > 1, home_grown)
    if made.ration.status != "optimal":
        return None
    return Level(pct, ration_id(made.ration, farm.book), made.ration, today)


def _levels(asks: Asks, asked: Iterable[float], made: Iterable[Level | None]) -> Levels:
    """As far as there is a mix: what has none at a level has none at a higher one."""
    found: list[Level] = []
    for pct, level in zip(asked, made, strict=True):
        if level is None:
            return Levels(asks, tuple(found), pct)
        found.append(level)
    return Levels(asks, tuple(found), None)


def all_levels(farm: Farm, cards: Sequence[StageCard]) -> dict[str, tuple[Levels, ...]]:
    """The levels of every card, by the id of its first ration."""
    return {card.first.id: levels_of(farm, card) for card in cards}
