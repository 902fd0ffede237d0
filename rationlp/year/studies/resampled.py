"""The rest of the year after a new sample of a bin."""

from __future__ import annotations

from typing import TypeVar

from rationlp.book.records import Sample
from rationlp.errors import Problem, RequestError
from rationlp.farm import Farm
from rationlp.herd.season import season_of

AnyFarm = TypeVar("AnyFarm", bound=Farm)


def rest_of_year(farm: AnyFarm, old: Sample, new: Sample) -> tuple[AnyFarm, AnyFarm]:
    """The farm by the old and by the new sample, its year begun on the day the new one was taken.

    Raises RequestError where that is not within the year.
    """
    season = season_of(farm.book)
    first = max(new.taken_on or season.first, season.first)
    if first > season.last:
        expected = f"a sample of the feed year, until {farm.settings.day(season.last)}"
        raise RequestError(
            [Problem("error", "after", "", f"taken on {farm.settings.day(first)}", expected, "Take another sample.")]
        )
    rest = farm.with_setting("plan_from", f"{first:%Y-%m-%d}")
    return rest.with_sample(old.sample), rest.with_sample(new.sample)
