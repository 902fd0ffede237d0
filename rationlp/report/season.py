"""The feed year as a calendar: who is there when, what lies in the bins, what to buy and what it costs by month."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from rationlp.book_units import BookUnits, units_of
from rationlp.farm import Farm
from rationlp.herd.moves import Fed
from rationlp.numbers import Floats
from rationlp.report.cards import Eaters
from rationlp.report.plots import Plot, Stretch, calendar, columns, curve
from rationlp.show.year.lines import few_lines
from rationlp.units import KG_PER_TONNE, Z90
from rationlp.year.model import Purchase, Stock, Year

PRESENT = 0.5
"""Head from which animals are in the calendar: averages trail off."""
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MOST_ROWS = 24
"""Of the calendar: on a farm of more groups a row is a kind of animals, with a bar for every time they are there."""


@dataclass(frozen=True, slots=True)
class Month:
    """What a month buys: its rows, what they cost, and the first day by which something has to be ordered."""

    label: str
    purchases: tuple[Purchase, ...]
    cost: float
    order_by: date | None


@dataclass(frozen=True, slots=True)
class StockCurve:
    """What lies in a bin at the end of each month, with its picture."""

    bin: str
    label: str
    rows: tuple[Stock, ...]
    picture: Plot


@dataclass(frozen=True, slots=True)
class YearPart:
    """The plan of the year with its pictures; `few` says what the number of mixes does."""

    year: Year
    animals: Plot
    present: tuple[tuple[str, str, date, date], ...]
    stocks: tuple[StockCurve, ...]
    months: tuple[Month, ...]
    cash: Plot
    few: tuple[str, ...]


def year_part(farm: Farm, year: Year) -> YearPart:
    """What is said of a plan."""
    units = units_of(farm.settings)
    season = year.season
    months = [(season.place(month.first), _name(month.label)) for month in season.months]
    bought = tuple(_months(year))
    money = [month.cost for month in bought]
    return YearPart(
        year,
        _animals(year, months),
        tuple(_present(fed, year) for fed in year.animals),
        tuple(_curves(year, units, months)),
        bought,
        columns(
            "What is bought each month",
            f"Money for feed to buy, in {units.currency}: "
            + "; ".join(f"{month_words(month.label)} {month.cost:,.0f}" for month in bought),
            money,
            [_name(month.label) for month in bought],
            units.currency,
        ),
        tuple(few_lines(year, units)),
    )


def herd_eaters(farm: Farm, year: Year) -> dict[str, list[Eaters]]:
    """The steps of the herd by their stage, as the plan has them."""
    groups, found = {row.group for row in farm.book.groups}, dict[str, list[Eaters]]()
    for fed in year.animals:
        if fed.group not in groups:
            name, head, first, last = _present(fed, year)
            found.setdefault(fed.stage, []).append(Eaters(name, int(head), first, last, None, moving=True))
    return found


def month_words(label: str) -> str:
    """A month (`2026-03`) as people write it."""
    return f"{_name(label)} {label.partition('-')[0]}"


def _name(label: str) -> str:
    """A month in three letters."""
    return MONTHS[int(label.partition("-")[2]) - 1]


def _animals(year: Year, months: Sequence[tuple[int, str]]) -> Plot:
    """Who is there when: a row for each group, or for each stage on a farm of many groups."""
    there: dict[str, Floats] = {}
    by_stage = len(year.animals) > MOST_ROWS
    for fed in year.animals:
        name = fed.stage if by_stage else fed.group
        there[name] = there[name] + fed.head if name in there else fed.head
    return calendar(
        "Animals on the farm",
        f"A bar for each {'stage' if by_stage else 'group'} while it is fed; the days of groups stand in the table.",
        [Stretch(name, tuple(_stretches(head))) for name, head in there.items()],
        year.season.days,
        months,
    )


def _stretches(head: Floats) -> Iterator[tuple[int, int]]:
    """The stretches of days on which there are animals, from and to."""
    there = np.flatnonzero(head >= PRESENT)
    if not len(there):
        return
    cuts = np.flatnonzero(np.diff(there) > 1)
    starts = [there[0], *(there[cut + 1] for cut in cuts)]
    ends = [*(there[cut] for cut in cuts), there[-1]]
    for start, end in zip(starts, ends, strict=True):
        yield int(start), int(end)


def _present(fed: Fed, year: Year) -> tuple[str, str, date, date]:
    """A group, how many head at most, its first and last day."""
    days = np.flatnonzero(fed.head > 0)
    return fed.group, f"{float(fed.head.max()):.0f}", year.season.day(int(days[0])), year.season.day(int(days[-1]))


def _months(year: Year) -> Iterator[Month]:
    for month in year.season.months:
        rows = tuple(row for row in year.purchases if row.month == month.label)
        yield Month(month.label, rows, sum(row.cost for row in rows), min((row.order_by for row in rows), default=None))


def _curves(year: Year, units: BookUnits, months: Sequence[tuple[float, str]]) -> Iterator[StockCurve]:
    per = KG_PER_TONNE / units.price_kg
    supplies = {supply.name: supply for supply in year.search.supplies}
    for found in year.runs_out:
        rows = tuple(row for row in year.stocks if row.bin == found.bin)
        supply = supplies[found.bin]
        start = (0.0, (supply.mean_tonnes or 0.0) * per, Z90 * supply.sd * per)
        ends = {month.label: year.season.place(month.last) + 1 for month in year.season.months}
        later = ((ends[row.month], row.tonnes * per, Z90 * row.sd * per if row.tonnes else 0.0) for row in rows)
        points = [start, *later]
        words = "; ".join(f"{month_words(row.month)} {units.bulk(row.tonnes)}" for row in rows)
        yield StockCurve(
            found.bin,
            found.label,
            rows,
            curve(
                f"What lies in {found.label}",
                f"At the end of each month, with the band that holds 9 times in 10: {words}.",
                points,
                months,
                units.short,
                float(year.season.days),
            ),
        )
