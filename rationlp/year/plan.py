"""From a farm to the verified plan of its year."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil, fsum, inf

from rationlp.book_units import units_of
from rationlp.errors import Problem, RequestError
from rationlp.farm import Farm
from rationlp.finder import listed
from rationlp.herd.moves import fed_animals
from rationlp.herd.season import season_of
from rationlp.reasons import Reason, Verdict, in_order
from rationlp.units import KG_PER_TONNE
from rationlp.year.calendar import (
    left_over_of,
    next_samples,
    on_farm_of,
    purchases_of,
    runs_out_of,
    sales_of,
    stocks_of,
    uses_of,
)
from rationlp.year.days import DailyPortion, by_day
from rationlp.year.draws import draw_years
from rationlp.year.model import FewMixes, Mix, Worth, Year
from rationlp.year.program.choice import GAP, Choice
from rationlp.year.program.drawn import drawn_before
from rationlp.year.program.few import (
    add_merged,
    add_shared_mixes,
    choose,
    choose_enough,
    in_whole_packages,
    keep,
    worth_with,
)
from rationlp.year.program.kitchen import Shares, same_mix
from rationlp.year.program.search import Search, search_of
from rationlp.year.program.supplies import supplies_of
from rationlp.year.program.turns import in_turn
from rationlp.year.program.verify import verify_plan
from rationlp.year.unfed import unfed_of

TRIES = 12
"""So often a mix whose verdict is stop is barred and the year planned anew."""


@dataclass(frozen=True, slots=True)
class YearRequest:
    """What is asked of a year besides what the book says; `most_mixes` None takes the book's.

    Of a `trial` money and tonnes are asked alone: any number of mixes may be made, and nothing says why somebody is not
    fed.
    """

    bins: tuple[str, ...] = ()
    home_grown: float = 0.0
    most_mixes: int | None = None
    draws: int = 0
    seed: int = 1
    trial: bool = False

    def check(self) -> None:
        """Raises RequestError with every value that cannot be."""
        problems = []
        if not 0 <= self.home_grown <= 1:
            found, do = f"{self.home_grown:g}", "Write 0.9 for 90 percent."
            problems.append(Problem("error", "home_grown", "", found, "a share of 0 to 1", do))
        if self.most_mixes is not None and self.most_mixes < 1:
            problems.append(Problem("error", "most_mixes", "", f"{self.most_mixes}", "1 or more", "Correct it."))
        if problems:
            raise RequestError(problems)


def plan_year(farm: Farm, request: YearRequest | None = None, known: Search | None = None) -> Year:
    """The cheapest year to the next harvest, verified. Raises BookError, RequestError, SolverError.

    `known` is a year of the same feeds, needs and prices that was planned before: its rations and mixes are kept.
    """
    request = request or YearRequest()
    request.check()
    season = season_of(farm.book)
    animals = fed_animals(farm.book, season)
    if not animals:
        raise _nobody(f"{season.first:{farm.settings.date_format}}")
    supplies, bound = supplies_of(farm, season, request.bins), inf
    if farm.settings.bins_in_turn == "yes":
        supplies, bound = in_turn(farm, season, animals, supplies, request.home_grown)
    search = search_of(farm, season, animals, supplies, request.home_grown)
    search.bound_of_all_open = bound
    if known is not None:
        search.take_over(known)
    return planned(search, request)


def planned(search: Search, request: YearRequest) -> Year:
    """The plan of a year that was put to the solver; mixes that must not be fed are left out and it is planned anew."""
    settings = search.farm.settings
    asked = _Asked(request.most_mixes or settings.most_mixes, settings.mix_change_cost or 0.0)
    if request.trial:
        asked = _Asked(None, 0.0)
    found = _few(search, asked, first=True)
    for _ in range(TRIES):
        if not search.bar_stopped():
            break
        found = _few(search, asked)
    few, choices = _beside(search, asked, *found)
    if search.master.packed and not request.trial:
        few = _in_whole_packages(search, asked, few, choices)
    verify_plan(search.master, search.master.portions())
    year = _year(search, few, why=not request.trial)
    return replace(year, draws=draw_years(year, request.draws, request.seed)) if request.draws else year


@dataclass(frozen=True, slots=True)
class _Asked:
    """How many mixes at most, and what each costs in work."""

    most: int | None
    change_cost: float

    @property
    def any_number(self) -> bool:
        """Whether mixes cost nothing, so that as many are made as pay."""
        return self.most is None and not self.change_cost


def _few(search: Search, asked: _Asked, first: bool = False) -> tuple[float, Choice | None]:
    """Find the mixes and choose among them, as was asked; what any number of them costs, and the choice if any."""
    search.allow()
    search.converge()
    if asked.any_number:
        return search.master.answer.cost, None
    for _ in range(TRIES):  # what any number of mixes costs is told beside the plan: none of them may be a stop
        if not search.bar_stopped():
            break
        search.allow()
        search.converge()
    cost = search.master.answer.cost
    if search.master.packed:
        bought = _bought(search, None)
        cost = cost if bought is None else bought.cost
        search.allow()
        search.master.run()
    if first:
        add_shared_mixes(search, asked.most)
    return cost, choose_enough(search, asked.most, asked.change_cost)


Choices = tuple[Choice | None, Choice | None, Choice | None]
"""The plan (None: of any number of mixes), one with a mix fewer and one with a mix more, where there is one."""


def _beside(search: Search, asked: _Asked, any_cost: float, chosen: Choice | None) -> tuple[FewMixes, Choices]:
    """The plan beside one with a mix fewer and one with a mix more."""
    if chosen is None:
        return FewMixes(None, _used(search), True, search.least_cost), (None, None, None)
    add_merged(search, chosen)
    barred = dict(search.barred)  # a mix that is none for those that eat it there may be one for those of the plan
    fewer = _fed_with(search, chosen.used - 1) if chosen.used > 1 else None
    more = _fed_with(search, chosen.used + 1, known=chosen)
    if more is not None:
        add_merged(search, more)
    chosen = _with_these(search, asked, chosen)
    search.barred = barred
    keep(search, chosen)
    search.worth = worth_with(search, chosen) if chosen.feeds_all else {}
    few = FewMixes(
        asked.most,
        chosen.used,
        chosen.proved,
        search.least_cost,
        _cost_of(fewer),
        _cost_of(more),
        any_cost,
    )
    return few, (chosen, fewer, more)


def _used(search: Search) -> int:
    """How many mixes the plan as it stands has."""
    return len({same_mix(portion.mix.shares) for portion in search.master.portions()})


def _in_whole_packages(search: Search, asked: _Asked, few: FewMixes, choices: Choices) -> FewMixes:
    """The plan and those beside it bought in whole packages, which are paid; the master is left with the plan. What the
    last tonne of a bin is worth stays as it is with parts of packages."""
    chosen = choices[0]
    if chosen is None:
        search.worth = {s.name: search.master.scarcity(s.name) for s in search.supplies}
    fewer, more = (None if each is None else _bought(search, each) for each in choices[1:])
    plan = _bought(search, chosen)
    cost = inf if plan is None else plan.cost
    if chosen is not None and fewer is not None and fewer.feeds_all >= chosen.feeds_all and fewer.cost < cost:
        search.allow()  # the mix more is not worth the packages it takes
        return _in_whole_packages(search, asked, *_beside(search, asked, few.cost_of_any or 0.0, choices[1]))
    return replace(
        few,
        used=_used(search),
        proved=plan is not None and plan.proved,
        cost_of_one_fewer=_cost_of(fewer),
        cost_of_one_more=_cost_of(more),
        cost_of_any=None if few.cost_of_any is None else min(few.cost_of_any, cost),
    )


def _bought(search: Search, choice: Choice | None) -> Choice | None:
    """A choice in whole packages; the master is left with it. None, and the choice as it was, where it is not found
    without mixes that must not be fed."""
    for _ in range(TRIES):
        found = in_whole_packages(search, choice)
        if not search.bar_stopped():
            return found
    if choice is not None:
        keep(search, choice)
    return None


def _fed_with(search: Search, most: int, known: Choice | None = None) -> Choice | None:
    """The cheapest plan found of at most so many mixes, none of which must not be fed; None without one."""
    for _ in range(TRIES):
        found = choose(search, most, thorough=False, known=known)
        if not search.bar_stopped():
            return found
        search.allow()
    return None


def _with_these(search: Search, asked: _Asked, chosen: Choice) -> Choice:
    """The plan once more, with the mixes that came in for a plan of a mix fewer or more; as it was if that is no
    cheaper, or some mix of it must not be fed."""
    most = None if asked.most is None else max(asked.most, chosen.used)
    again = choose(search, most, asked.change_cost, thorough=False, known=chosen)
    cheaper = again.cost < chosen.cost - GAP * abs(chosen.cost) and again.feeds_all >= chosen.feeds_all
    return again if cheaper and not search.bar_stopped() else chosen


def _cost_of(choice: Choice | None) -> float | None:
    """The cost of feed of a choice that feeds everybody."""
    return choice.cost if choice is not None and choice.feeds_all else None


def _year(search: Search, few: FewMixes, why: bool) -> Year:
    portions, season = search.master.portions(), search.season
    supplies = search.master.supplies
    days = by_day(portions, supplies, season)
    names = _mix_names(days)
    mixes = tuple(_mixes(search, days, names))
    left_over = tuple(left_over_of(days, search))
    cost = fsum(p.tonnes * search.master.cost_per_tonne(p.mix) for p in portions) + fsum(r.cost for r in left_over)
    tonnes = fsum(p.tonnes for p in portions)
    grown = fsum(p.tonnes * search.master.grown_share(p.mix) for p in portions)
    unfed = tuple(unfed_of(search, why))
    bins = [s for s in supplies.values() if s.is_bin]
    return Year(
        season=season,
        animals=tuple(dict.fromkeys(d.fed for d in search.demands)),
        cost=cost,
        bound=min(few.bound, cost),
        home_grown_share=grown / tonnes if tonnes else 0.0,
        mixes=mixes,
        uses=tuple(uses_of(days, names, search)),
        purchases=tuple(purchases_of(days, search)),
        stocks=tuple(stocks_of(days, search)),
        runs_out=tuple(runs_out_of(days, search)),
        worth=() if unfed else tuple(Worth(s.name, search.worth_of(s.name)) for s in bins),
        sales=tuple(sales_of(days, search, fed=not unfed)),
        unfed=unfed,
        verdict=_verdict(mixes, [each.verdict.reasons[0] for each in unfed]),
        few=few,
        notes=(*season.notes, *_notes(search)),
        next_sample=tuple(next_samples(days, search)),
        on_farm=tuple(on_farm_of(days, search)),
        left_over=left_over,
        search=search,
        portions=portions,
    )


def _mix_names(days: Sequence[DailyPortion]) -> dict[Shares, str]:
    """A name for each mix, `mix 1` the one fed first; of those fed on one day the one of which more is eaten."""
    first: dict[Shares, int] = {}
    eaten: dict[Shares, float] = {}
    for each in days:
        key = same_mix(each.portion.mix.shares)
        fed = each.tonnes.nonzero()[0]
        day = int(fed[0]) if len(fed) else each.portion.demand.window[0]
        first[key] = min(first.get(key, day), day)
        eaten[key] = eaten.get(key, 0.0) + each.portion.tonnes
    order = sorted(first, key=lambda key: (first[key], -eaten[key], key))
    return {key: f"mix {place}" for place, key in enumerate(order, start=1)}


def _mixes(search: Search, days: Sequence[DailyPortion], names: dict[Shares, str]) -> Iterator[Mix]:
    for key, name in names.items():
        fed = [each for each in days if same_mix(each.portion.mix.shares) == key]
        mix = fed[0].portion.mix
        by_stage = {each.portion.demand.stage: each.portion.mix for each in fed}
        yield Mix(
            mix=name,
            found=mix,
            stages=tuple(by_stage),
            bins=tuple(n for n, _ in mix.shares if search.master.supplies[n].is_bin),
            groups=tuple(dict.fromkeys(each.portion.demand.fed.group for each in fed)),
            tonnes=fsum(each.portion.tonnes for each in fed),
            cost_per_tonne=search.master.cost_per_tonne(mix),
            first_fed=search.season.day(min(_first_day(each) for each in fed)),
            rations=tuple(search.ration(held, stage) for stage, held in by_stage.items()),
        )


def _first_day(each: DailyPortion) -> int:
    fed = each.tonnes.nonzero()[0]
    return int(fed[0]) if len(fed) else each.portion.demand.window[0]


def _verdict(mixes: Sequence[Mix], more: Sequence[Reason]) -> Verdict:
    """Every reason of every mix, with the names of the mixes in front, and those of animals that cannot be fed."""
    named: dict[str, list[str]] = {}
    reasons: dict[str, Reason] = {}
    for mix in mixes:
        for reason in mix.verdict.reasons:
            named.setdefault(reason.text, []).append(mix.mix)
            held = reasons.get(reason.text)
            if held is None or reason.severity.rank > held.severity.rank:
                reasons[reason.text] = reason
    told = [replace(reason, text=f"{', '.join(named[text])}: {reason.text}") for text, reason in reasons.items()]
    return Verdict(in_order((*more, *told)))


def _notes(search: Search) -> Iterator[str]:
    for line, on in sorted(search.farm.book.left_out):
        yield f"Planned without the lot of {line} that would begin on {search.farm.settings.day(on)}."
    if search.season.reserve:
        yield (
            f"Sows in milk and weaners have feed in reserve for {search.season.reserve} days past the harvest, to "
            f"{search.farm.settings.day(search.season.last)}; all others are planned to the harvest."
        )
    drawn = drawn_before(search.farm, search.season.first)
    if drawn.batches:
        units = units_of(search.farm.settings)
        mixed = {name: stock.mixed_kg / KG_PER_TONNE for name, stock in drawn.stocks.items()}
        told = [(s.label, mixed.get(s.name, 0.0)) for s in search.supplies if s.is_bin]
        taken = listed(f"{units.bulk(tonnes)} of {label}" for label, tonnes in told if tonnes)
        yield f"{_batches(drawn.batches)} before the plan begins took {taken or 'no grain'}; the rest is planned."
    if drawn.later:
        yield f"{_batches(drawn.later)} since the plan begins: `--from` a day after them plans on from what is left."
    in_turn = search.farm.settings.bins_in_turn == "yes"
    if in_turn:
        yield f"The bins are opened one after another: {_turns(search)}."
    fed = {name for portion in search.master.portions() for name in portion.mix.names}
    for supply in search.supplies:
        if supply.is_bin and supply.last < search.season.days - 1 and not in_turn:
            day = search.farm.settings.day(search.season.day(supply.last))
            if supply.name in fed:
                yield f"{supply.label} is planned to be fed by {day}: its grain is not known to keep longer."
            else:
                yield f"{supply.label} is not in the plan; its grain is known to keep to {day}, no longer."
    for stage in sorted(search.unverified):
        name = search.farm.stage(stage).label
        yield f"A mix of {name} did not stand up to the check and is not in the plan; a cheaper plan may exist."
    if search.master.grown_missing > 1e-6:
        yield "The home-grown share asked for cannot be reached; the plan comes as near as it can."
    counted = [s for s in search.supplies if s.is_bin and s.tonnes is not None and s.mean_tonnes]
    less = [s for s in counted if (s.tonnes or 0.0) < (s.mean_tonnes or 0.0) * (1 - 1e-9)]
    if less:
        confidence = search.farm.settings.confidence_pct
        short = ceil(100 * max(1 - (s.tonnes or 0.0) / (s.mean_tonnes or 1.0) for s in less))
        yield f"At confidence_pct {confidence:g} the plan counts on up to {short} % less grain than was measured."


def _turns(search: Search) -> str:
    opened = sorted((s for s in search.supplies if s.is_bin and s.first <= s.last), key=lambda s: s.first)
    day = search.farm.settings.day
    return ", then ".join(f"{s.label} to {day(search.season.day(s.last))}" for s in opened)


def _batches(count: int) -> str:
    return f"{count} batch{'es' if count > 1 else ''} of the record"


def _nobody(first: str) -> RequestError:
    found, do = f"no animals to feed from {first} on", "Fill in groups, or herd and arrivals; check their dates."
    return RequestError([Problem("error", "groups", "", found, "animals in the feed year", do)])
