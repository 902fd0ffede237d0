"""What was asked for on the command line, read into SI units; every fault of it at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from rationlp.book.asked import read_asked_day
from rationlp.book.lookup import groups_named
from rationlp.book.records import Book
from rationlp.errors import Problem, RequestError
from rationlp.units import BOOK_MASS_UNIT, BOOK_VOLUME_UNIT, MASS_KG, VOLUME_M3, parse_quantity, unclear_mass

MIXER = "mixer"
"""The word for a batch as large as the mixer holds."""


@dataclass(frozen=True, slots=True)
class SheetRequest:
    """What was asked for. Masses in kg, volume in m3; `days` of feed for `groups` (all groups of a stage if empty).

    Of a mix of the feed year it is known how much is made (`feed_kg`), what the plan calls it (`mix`), who eats it
    (`eaters`, a line each; `eaten_by` by name) and for which other stages it is (`also_for`).
    """

    batch_kg: float | None = None
    full_mixer: bool = False
    mixer_m3: float | None = None
    count: int = 1
    days: int | None = None
    groups: tuple[str, ...] = ()
    on: date | None = None
    feed_kg: float | None = None
    mix: str = ""
    eaters: tuple[str, ...] = ()
    eaten_by: tuple[str, ...] = ()
    also_for: tuple[str, ...] = ()


def read_request(
    book: Book,
    batch: str | None = None,
    mixer_volume: str | None = None,
    count: int = 1,
    groups: Sequence[str] = (),
    days: int | None = None,
    on: str | None = None,
) -> SheetRequest:
    """The request behind the words of the command line. Raises RequestError with everything that cannot be read."""
    problems: list[Problem] = []
    system = book.farm.units
    full_mixer = batch is not None and batch.strip().casefold() == MIXER
    mass = None
    if batch is not None and not full_mixer:
        mass = _quantity(
            "batch", batch, MASS_KG, system, f"a mass such as 500, '1 t' or '1000 lb', or {MIXER}", problems
        )
    volume = None
    if mixer_volume is not None:
        volume = _quantity(
            "mixer_volume", mixer_volume, VOLUME_M3, system, "a volume such as '1.2 m3' or '40 ft3'", problems
        )
    try:
        groups = groups_named(groups, book)
    except RequestError as error:
        problems += error.problems
    if groups and days is None:
        days = 1
    day = None
    try:
        day = None if on is None else read_asked_day("on", on, book.farm)
    except RequestError as error:
        problems += error.problems
    if problems:
        raise RequestError(problems)
    return SheetRequest(mass, full_mixer, volume, count, days, tuple(groups), day)


def _quantity(
    option: str, text: str, table: dict[str, float], system: str, expected: str, problems: list[Problem]
) -> float | None:
    unit = (BOOK_MASS_UNIT if table is MASS_KG else BOOK_VOLUME_UNIT)[system]
    try:
        value = parse_quantity(text, table, unit)
        if table is MASS_KG and (which := unclear_mass(text, system)):
            problems.append(Problem("error", option, "", repr(text), *which))
            return None
    except ValueError as error:
        problems.append(Problem("error", option, "", str(error), expected, "Correct it."))
        return None
    if value <= 0:
        problems.append(Problem("error", option, "", repr(text), f"{expected}, above 0", "Correct it."))
        return None
    return value
