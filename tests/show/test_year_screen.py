"""What the first screen of a year says of animals that cannot be fed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import cast

import pytest

from rationlp.book.records import Book, Settings
from rationlp.reasons import Kind, Reason, Severity, Verdict
from rationlp.show.year.asked import asked_of_year, mending, unfed_of
from rationlp.year.model import Unfed, Year


@dataclass(frozen=True)
class Planned:
    """What of a year these sentences are made of."""

    unfed: tuple[Unfed, ...]
    ways_out: tuple[str, ...] = ()
    mixes: tuple[str, ...] = ()


def _year(*unfed: Unfed) -> Year:
    return cast(Year, Planned(unfed))


def _unfed(group: str, day: int, why: str, *reasons: Reason) -> Unfed:
    told = Reason(Kind.REQUIREMENT, Severity.STOP, f"{group} cannot be fed as they need from then on: {why}")
    ways = ("Quote bran: it helps in part.", f"Quote peas of {group}: it helps in part.")
    return Unfed(group, "sw_boar", date(2026, 1, day), 1.0, why, ways, Verdict((told, *reasons)))


SHORT = Reason(Kind.REQUIREMENT, Severity.STOP, "Calcium is 1 %; these animals need at least 2.")


@pytest.fixture
def book() -> Book:
    return Book(Path("farm"), Settings())


def test_of_many_groups_each_stands_once_from_its_first_day_with_what_helps_most(book):
    """Fourteen groups took 215 lines, each three times with the same words."""
    days = (("boar", 2), ("sows", 2), ("hens", 3), ("chicks", 4), ("boar", 5))
    year = _year(*(_unfed(group, day, SHORT.text, SHORT) for group, day in days))
    (line,), (ways,) = list(unfed_of(year, book)), list(mending(year))
    assert all(line.count(group) == 1 for group in ("boar", "sows", "hens", "chicks"))
    assert line.index("2026-01-02") < line.index("2026-01-04") and "2026-01-05" not in line
    assert "Quote bran (5); Quote peas of boar (2)" in ways


def test_a_few_groups_are_told_with_why_and_what_would_mend_it(book):
    year = _year(_unfed("boar", 2, SHORT.text, SHORT))
    assert SHORT.text in next(unfed_of(year, book))
    assert list(mending(year)) == ["Quote bran: it helps in part. Quote peas of boar: it helps in part."]


def test_why_somebody_of_many_is_not_fed_is_told_once_and_never_lost():
    many = [_unfed(group, 2, SHORT.text, SHORT) for group in ("boar", "hens", "chicks")]
    told = asked_of_year(_year(*many, _unfed("sows", 3, "north is used up."))).lines
    assert [line.reason.text for line in told] == [
        SHORT.text,
        "sows cannot be fed as they need from then on: north is used up.",
    ]


def test_what_is_mended_as_its_reason_says_has_no_empty_line(book):
    alone = replace(_unfed("boar", 2, SHORT.text, SHORT), ways_out=())
    assert list(mending(_year(alone))) == []
