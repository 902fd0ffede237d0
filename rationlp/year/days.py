"""The plan day by day: within a window the mixes of a group follow each other, the grain that keeps least first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from rationlp.herd.season import Season
from rationlp.numbers import Floats
from rationlp.units import Z90
from rationlp.year.program.kitchen import FoundMix
from rationlp.year.program.master import Demand, Portion
from rationlp.year.program.supplies import Supply

GRAM = 1e-6
EMPTY = 1e-3
"""Tonnes that are nothing: a kilogram, as near as the plan balances."""


@dataclass(frozen=True, slots=True)
class DailyPortion:
    """A portion of the plan with the tonnes of its mix on each day of the season."""

    portion: Portion
    tonnes: Floats = field(repr=False)


def by_day(portions: Sequence[Portion], supplies: Mapping[str, Supply], season: Season) -> list[DailyPortion]:
    """Every portion with its days: each group eats one mix after the other."""
    found = []
    by_demand: dict[int, list[Portion]] = {}
    for portion in portions:
        by_demand.setdefault(id(portion.demand), []).append(portion)
    for held in by_demand.values():
        demand, fed = held[0].demand, 0.0
        for portion in sorted(held, key=lambda p: _keeps(p.mix, supplies)):
            found.append(DailyPortion(portion, portion_days(demand, fed, fed + portion.part, season) * _whole(portion)))
            fed += portion.part
    return found


def _whole(portion: Portion) -> float:
    return portion.demand.tonnes(portion.mix)


def _keeps(mix: FoundMix, supplies: Mapping[str, Supply]) -> tuple[int, int]:
    """The last day that everything in the mix keeps, and the first from which it is there."""
    rows = [supplies[name] for name in mix.names]
    return min(row.last for row in rows), min(row.first for row in rows)


def portion_days(demand: Demand, start: float, end: float, season: Season) -> Floats:
    """Parts of a demand that fall on each day, for the stretch from `start` to `end` (0 to 1) of its head-days."""
    days = np.zeros(season.days)
    head = demand.fed.head[demand.window[0] : demand.window[-1] + 1]
    passed = np.concatenate([[0.0], np.cumsum(head)]) / head.sum()
    cut = np.clip(passed, start, end)
    days[demand.window[0] : demand.window[-1] + 1] = np.diff(cut)
    return days


def used_of(name: str, days: Sequence[DailyPortion], season: Season) -> Floats:
    """Tonnes of a bin or offer used on each day."""
    total = np.zeros(season.days)
    for each in days:
        share = dict(each.portion.mix.shares).get(name, 0.0)
        if share:
            total += share * each.tonnes
    return total


def runs_out_on(used: Floats, tonnes: float, season: Season) -> date | None:
    """The first day on which `tonnes` are used up; None where they are not, or never were."""
    passed = np.flatnonzero(np.cumsum(used) >= tonnes - EMPTY)
    return season.day(int(passed[0])) if len(passed) and tonnes > EMPTY else None


def earliest_and_latest(used: Floats, supply: Supply, season: Season) -> tuple[date | None, date | None]:
    """The day a bin is empty if it holds less, or more, than was thought: nine times in ten it is between the two.

    The herd eats on at the plan's pace; more grain than planned goes on being fed at that of the last month it is fed.
    """
    mean = supply.mean_tonnes or 0.0
    least, most = max(mean - Z90 * supply.sd, 0.0), mean + Z90 * supply.sd
    on = runs_out_on(used, mean, season)
    earliest = runs_out_on(used, least, season)
    if on is None or most <= mean:
        return earliest, runs_out_on(used, most, season)
    last = season.place(on)
    recent = used[max(last - 29, 0) : last + 1]
    more = int(np.ceil((most - mean) / max(float(recent.mean()), GRAM)))
    return earliest, season.day(last + more) if last + more < season.days else None
