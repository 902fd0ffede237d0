"""Mix sheets of some days of the plan: its mixes from its bins, as much of each as is eaten then."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from rationlp.book_units import BookUnits, units_of
from rationlp.errors import Problem, RequestError, given
from rationlp.farm import Farm
from rationlp.numbers import largest_first
from rationlp.rations.formulate import SolvedRation, solved_mix
from rationlp.sheets.model import Pack
from rationlp.sheets.pack import pack_of
from rationlp.sheets.request import SheetRequest
from rationlp.units import KG_PER_TONNE
from rationlp.year.days import DailyPortion, by_day
from rationlp.year.model import Mix, Year
from rationlp.year.program.kitchen import joint_formula, of_at_most, restricted, same_mix

WEEK = 7


@dataclass(frozen=True, slots=True)
class WeekMix:
    """A mix of the plan on some of its days: kilograms by group, and the stages these are fed as, who eats most first.

    `portions` are those of the whole year, by which it is known what the mix is for each stage.
    """

    mix: Mix
    kg_by_group: tuple[tuple[str, float], ...]
    stages: tuple[str, ...]
    portions: tuple[DailyPortion, ...]

    @property
    def kg(self) -> float:
        """Kilograms eaten on these days."""
        return sum(kg for _, kg in self.kg_by_group)


def mixes_of(year: Year, first: date, days: int = WEEK) -> list[WeekMix]:
    """What is eaten on the days from `first` on, in the order of the plan. Raises RequestError for days outside it."""
    start, day = year.season.place(first), year.search.farm.settings.day
    if not 0 <= start < year.season.days:
        expected = f"a day of the plan, {day(year.season.first)} to {day(year.season.last)}"
        raise RequestError([Problem("error", "week", "", day(first), expected, "Take a day of the plan.")])
    daily = by_day(year.portions, year.search.master.supplies, year.season)
    found = []
    for mix in year.mixes:
        key = same_mix(mix.found.shares)
        own = tuple(each for each in daily if same_mix(each.portion.mix.shares) == key)
        eaten = [
            (each.portion.demand.fed, float(each.tonnes[start : start + days].sum()) * KG_PER_TONNE) for each in own
        ]
        groups: dict[str, float] = {}
        stages: dict[str, float] = {}
        for fed, kg in eaten:
            if kg > 0:
                groups[fed.group] = groups.get(fed.group, 0.0) + kg
                stages[fed.stage] = stages.get(fed.stage, 0.0) + kg
        if groups:
            most_first = sorted(groups.items(), key=lambda item: largest_first(item[1]))
            found.append(WeekMix(mix, tuple(most_first), tuple(sorted(stages, key=lambda s: -stages[s])), own))
    return found


def week_sheets(farm: Farm, year: Year, request: SheetRequest, days: int = WEEK) -> Pack:
    """A sheet for each mix of so many days from `request.on` on; `request` has the batch and the mixer, too.

    Raises RequestError, SolverError.
    """
    units, first = units_of(farm.settings), given(request.on, "the first day of the week")
    prices, fed = worth_in_plan(year), mixes_of(year, first, days)
    if not fed:
        found = f"nothing to mix from {farm.settings.day(first)} on"
        expected = "days on which animals of the plan are fed"
        raise RequestError([Problem("error", "week", "", found, expected, "Take other days.")])
    asked = []
    for each in fed:
        at_most = _its_part(each, year, request.batch_kg or farm.settings.batch_kg)
        asked.append((_recipe(farm, each, prices, at_most), _request(each, year, request, (first, days), units)))
    return pack_of(farm, asked)


def worth_in_plan(year: Year) -> Mapping[str, float]:
    """What a tonne of each supply costs in the plan, with what it saves elsewhere: weights are rounded at these prices,
    so that they stay the plan's. The plain prices where somebody cannot be fed."""
    master = year.search.master
    return master.prices_per_tonne if year.unfed else master.prices().of_supply


def _its_part(week: WeekMix, year: Year, batch_kg: float) -> Mapping[str, float]:
    """The most that the weights may hold of each bin and offer there is an end to: its share in the plan's mix, and a
    division of the scale. What is cheap here would be short later in the year."""
    division = year.search.farm.settings.scale_step_kg / min(batch_kg, week.kg)
    limited = set(year.search.master.limited)
    return {name: share + division for name, share in week.mix.found.shares if name in limited}


def _recipe(farm: Farm, week: WeekMix, prices: Mapping[str, float], at_most: Mapping[str, float]) -> SolvedRation:
    """The mix, of the bins and offers the plan makes it of, as the ration of every stage that eats it these days."""
    found = {each.portion.demand.stage: each.portion.mix for each in week.portions}
    used = week.mix.found.names
    formulas = [restricted(found[stage].answers[stage][0], used) for stage in week.stages]
    joint = given(joint_formula(formulas, prices), f"a formula of {week.mix.mix}")
    own = [restricted(formula, used, joint.program.columns) for formula in formulas]
    return solved_mix(farm, own, of_at_most(joint, at_most), dict(week.mix.found.shares))


def _request(
    week: WeekMix, year: Year, request: SheetRequest, span: tuple[date, int], units: BookUnits
) -> SheetRequest:
    heads = {fed.group: fed.head for fed in year.animals}
    first, days = span
    start = year.season.place(first)
    lines = tuple(
        f"{group}: {heads[group][start : start + days].max():.0f} head, {units.weight(kg, 3)} in all"
        for group, kg in week.kg_by_group
    )
    return replace(
        request,
        on=first,
        feed_kg=week.kg,
        mix=week.mix.mix,
        eaters=lines,
        eaten_by=tuple(group for group, _ in week.kg_by_group),
        also_for=week.stages[1:],
    )
