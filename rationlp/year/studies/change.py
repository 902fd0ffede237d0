"""What another price, setting, sample or herd would do to the year: in money, tonnes and dates."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from rationlp.year.model import Year


@dataclass(frozen=True, slots=True)
class MovedDate:
    """The day a bin is empty, before and after; None where it lasts."""

    bin: str
    before: date | None
    after: date | None


@dataclass(frozen=True, slots=True)
class YearChange:
    """After less before: money, tonnes of feed and of what is bought, home-grown share, number of mixes.

    `whole_packages`: what whole packages cost and hold counts in both years, because one of them is planned so.
    """

    cost: float
    tonnes: float
    bought_tonnes: float
    bought_cost: float
    home_grown_share: float
    mixes: int
    bought: tuple[tuple[str, float], ...]  # tonnes more, by offer, the largest first
    dates: tuple[MovedDate, ...]
    whole_packages: bool = False


def year_change(before: Year, after: Year) -> YearChange:
    """What became of the year."""
    bought: dict[str, float] = {}
    for sign, year in ((-1.0, before), (1.0, after)):
        for row in year.purchases:
            bought[row.label] = bought.get(row.label, 0.0) + sign * row.tonnes
    moved = sorted(((label, tonnes) for label, tonnes in bought.items()), key=lambda item: -abs(item[1]))
    was = {row.bin: row.on for row in before.runs_out}
    whole = before.in_whole_packages or after.in_whole_packages
    left = after.left_in_packages - before.left_in_packages if whole else 0.0
    left_tonnes = after.tonnes_left_in_packages - before.tonnes_left_in_packages if whole else 0.0
    return YearChange(
        cost=after.cost - before.cost + left,
        tonnes=after.tonnes - before.tonnes,
        bought_tonnes=after.bought_tonnes - before.bought_tonnes + left_tonnes,
        bought_cost=after.bought_cost - before.bought_cost + left,
        home_grown_share=after.home_grown_share - before.home_grown_share,
        mixes=len(after.mixes) - len(before.mixes),
        bought=tuple((label, tonnes) for label, tonnes in moved if abs(tonnes) > 1e-6),
        dates=tuple(MovedDate(row.bin, was.get(row.bin), row.on) for row in after.runs_out),
        whole_packages=whole,
    )
