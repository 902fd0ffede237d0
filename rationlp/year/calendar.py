"""What the plan means month by month: uses, purchases, stocks, dates, sales."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta

import numpy as np

from rationlp.herd.season import Period
from rationlp.numbers import Floats
from rationlp.year.days import EMPTY, GRAM, DailyPortion, earliest_and_latest, runs_out_on, used_of
from rationlp.year.model import LeftOver, OnFarm, Purchase, RunsOut, Sale, Stock, Use
from rationlp.year.program.keeping import keeps_until
from rationlp.year.program.kitchen import KG_PER_TONNE, Shares, same_mix
from rationlp.year.program.search import Search
from rationlp.year.program.supplies import Supply, selling_cost_per_tonne, whole_packages

NOTHING = 1e-9  # tonnes
SAMPLE_EVERY = 1 / 3
"""So much of a bin's grain is drawn before it is sampled again: mixed grain separates (common practice)."""


def uses_of(days: Sequence[DailyPortion], names: Mapping[Shares, str], search: Search) -> Iterator[Use]:
    """A row for each month, group, mix and bin."""
    bins = [s.name for s in search.supplies if s.is_bin]
    for month, part in _months(search):
        eaten: dict[tuple[str, str], float] = {}
        shares: dict[str, Shares] = {}
        for each in days:
            tonnes = float(each.tonnes[part].sum())
            if tonnes > NOTHING:
                mix = names[same_mix(each.portion.mix.shares)]
                shares[mix] = each.portion.mix.shares
                key = (each.portion.demand.fed.group, mix)
                eaten[key] = eaten.get(key, 0.0) + tonnes
        for (group, mix), tonnes in eaten.items():
            drawn = [(name, share) for name, share in shares[mix] if name in bins]
            if not drawn:
                yield Use(month.label, None, group, mix, tonnes, tonnes)
            for name, share in drawn:
                yield Use(month.label, name, group, mix, share * tonnes, tonnes)


def purchases_of(days: Sequence[DailyPortion], search: Search) -> Iterator[Purchase]:
    """What is to be bought of each offer for each month, after what lies on the farm is fed; whole packages are bought
    so that there is always enough."""
    for supply in (s for s in search.supplies if s.offer is not None):
        used, needed, bought = _beside_what_lies_there(supply, days, search), 0.0, 0
        package = (supply.offer.package_kg or 0.0) / KG_PER_TONNE if supply.offer else 0.0
        lead = timedelta(days=supply.offer.lead_days if supply.offer else 0)
        for month, part in _months(search):
            tonnes = float(used[part].sum())
            if tonnes <= NOTHING:
                continue
            needed += tonnes
            packages = max(whole_packages(needed, package) - bought, 0) if package else 0
            bought += packages
            first = search.season.day(part.start + int(used[part].nonzero()[0][0]))
            price = search.master.prices_per_tonne[supply.name]
            paid = price * (packages * package if package else tonnes)
            yield Purchase(month.label, supply.name, supply.label, tonnes, packages, price * tonnes, first - lead, paid)


def on_farm_of(days: Sequence[DailyPortion], search: Search) -> Iterator[OnFarm]:
    """What lies on the farm of each offer, and what of it is fed."""
    for supply in (s for s in search.supplies if s.offer is not None and s.on_farm > GRAM):
        used = float(used_of(supply.name, days, search.season).sum())
        yield OnFarm(supply.name, supply.label, supply.on_farm, min(used, supply.on_farm))


def left_over_of(days: Sequence[DailyPortion], search: Search) -> Iterator[LeftOver]:
    """What is left over in the last package of each offer of which whole ones are paid."""
    for supply in (s for s in search.supplies if s.package):
        used = float(used_of(supply.name, days, search.season).sum())
        left = supply.left_over(used)
        if left > GRAM:
            cost = search.master.prices_per_tonne[supply.name] * left
            yield LeftOver(supply.name, supply.label, supply.packages(used), left, cost)


def _beside_what_lies_there(supply: Supply, days: Sequence[DailyPortion], search: Search) -> Floats:
    """Tonnes of an offer used on each day beyond what was on the farm when the plan began."""
    used = used_of(supply.name, days, search.season)
    if not supply.on_farm:
        return used
    beyond = np.diff(np.maximum(np.cumsum(used) - supply.on_farm, 0.0), prepend=0.0)
    return np.where(beyond > NOTHING * NOTHING, beyond, 0.0)


def stocks_of(days: Sequence[DailyPortion], search: Search) -> Iterator[Stock]:
    """What lies in each bin at the end of each month."""
    for supply in (s for s in search.supplies if s.is_bin):
        left = supply.mean_tonnes or 0.0
        used = used_of(supply.name, days, search.season)
        for month, part in _months(search):
            left -= float(used[part].sum())
            yield Stock(month.label, supply.name, left if left > EMPTY else 0.0, supply.sd)


def runs_out_of(days: Sequence[DailyPortion], search: Search) -> Iterator[RunsOut]:
    """The day each bin is empty."""
    filled = {row.bin: row.filled_on for row in search.farm.book.bins}
    for supply in (s for s in search.supplies if s.is_bin):
        used = used_of(supply.name, days, search.season)
        on = runs_out_on(used, supply.tonnes or 0.0, search.season)
        earliest, latest = earliest_and_latest(used, supply, search.season)
        keeps = keeps_until(search.farm.bin(supply.name), filled[supply.name], search.farm.library)
        yield RunsOut(supply.name, supply.label, on, earliest, latest, keeps)


def sales_of(days: Sequence[DailyPortion], search: Search, fed: bool) -> Iterator[Sale]:
    """What the plan leaves in each bin, and from what price on selling (more) beats feeding.

    Where not everybody is `fed`, no price is named: what a tonne is worth there is what missing one counts in the
    program.
    """
    selling = selling_cost_per_tonne(search.farm)
    for supply in (s for s in search.supplies if s.is_bin):
        left = (supply.mean_tonnes or 0.0) - float(used_of(supply.name, days, search.season).sum())
        scarce = search.worth_of(supply.name)
        price = search.master.prices_per_tonne[supply.name] + selling + scarce if scarce else selling
        harmful = search.farm.bin(supply.name).harmful
        yield Sale(supply.name, supply.label, left if left > EMPTY else 0.0, price if fed else None, harmful)


def next_samples(days: Sequence[DailyPortion], search: Search) -> Iterator[tuple[str, date]]:
    """For each bin the day on which a third of it is drawn since its last sample."""
    for supply in (s for s in search.supplies if s.is_bin):
        used = used_of(supply.name, days, search.season)
        day = runs_out_on(used, SAMPLE_EVERY * (supply.mean_tonnes or 0.0), search.season)
        if day is not None:
            yield supply.name, day


def _months(search: Search) -> Iterator[tuple[Period, slice]]:
    """The months with their days of the season."""
    for month in search.season.months:
        first = search.season.place(month.first)
        yield month, slice(first, first + month.days)
