"""The year without a lot of animals: one farrowing, one hatch, one delivery fewer."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TypeVar

from rationlp.book.reading.typed_dates import TwoDates, typed_date
from rationlp.errors import Problem, RequestError
from rationlp.farm import Farm
from rationlp.herd.moves import LineLot, fed_animals, lots_of
from rationlp.herd.season import season_of
from rationlp.year.program.demands import per_head_day

AnyFarm = TypeVar("AnyFarm", bound=Farm)


def fewer_lots(farm: AnyFarm, asked: Sequence[str]) -> AnyFarm:
    """The farm without a lot of each line asked for: `pigs`, or `pigs=2026-02-16` for the one that begins on a day.

    Raises RequestError, BookError.
    """
    for each in asked:
        line, _, day = each.partition("=")
        farm, _ = without_lot(farm, line.strip(), _day(farm, day) if day else None)
    return farm


def _day(farm: Farm, typed: str) -> date:
    try:
        return typed_date(typed, farm.settings.date_format)
    except (TwoDates, ValueError):
        do = "Write it as the book does."
        raise RequestError([Problem("error", "fewer", "", repr(typed), "a date", do)]) from None


def without_lot(farm: AnyFarm, line: str, on: date | None = None) -> tuple[AnyFarm, LineLot]:
    """The farm without the lot of a line that begins on a day, by default without the one that eats most in the year.

    Raises RequestError where there is none, BookError.
    """
    season = season_of(farm.book)
    lots = [lot for lot in lots_of(farm.book, season) if lot.line == line and on in (None, lot.on)]
    if not lots:
        raise _no_lot(farm, line, on)
    lot = min(lots, key=lambda each: (_eaten(_without(farm, each)), each.on))
    return _without(farm, lot), lot


def _without(farm: AnyFarm, lot: LineLot) -> AnyFarm:
    return farm.without_lots([(lot.line, lot.on)])


def _eaten(farm: Farm) -> float:
    """What all animals of the year eat, tonnes and Gcal alike: enough to tell lots of a line apart."""
    animals = fed_animals(farm.book, season_of(farm.book))
    return sum(fed.head_days * (per_head_day(fed, farm.stage(fed.stage), farm) or 0.0) for fed in animals)


def _no_lot(farm: Farm, line: str, on: date | None) -> RequestError:
    lots = lots_of(farm.book, season_of(farm.book))
    known = [farm.settings.day(lot.on) for lot in lots if lot.line == line] or sorted({lot.line for lot in lots})
    expected = f"one of {', '.join(known)}" if known else "a herd with lots that begin within the year"
    found = f"{line}={farm.settings.day(on)}" if on else line
    return RequestError([Problem("error", "fewer", "", found, expected, "Name a line of the sheet herd.")])
