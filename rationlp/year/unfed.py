"""Where the year cannot be met: who is short first, of what, and the ways out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from math import fsum

from rationlp.book_units import units_of
from rationlp.rations.formulate import solved
from rationlp.reasons import Kind, Reason, Severity, Verdict
from rationlp.year.days import portion_days
from rationlp.year.model import Unfed
from rationlp.year.program.master import Demand
from rationlp.year.program.search import Search, key_of

UNVERIFIED = "no mix of it that was calculated stood up to the check."
WAYS = 3
"""So many ways out are named."""


def unfed_of(search: Search, why: bool = True) -> Iterator[Unfed]:
    """Who is not fed as they need, the first day first; a group that is short of one thing all the time once.

    Without `why` only who and how much.
    """
    found: dict[tuple[str, str], list[_Short]] = {}
    for demand, part in search.master.unfed():
        short = _short(search, demand, part, why)
        found.setdefault((demand.fed.group, short.why), []).append(short)
    yield from sorted((_told(search, each) for each in found.values()), key=lambda each: (each.on, each.group))


@dataclass(frozen=True, slots=True)
class _Short:
    """Animals short of feed in a window: from which day, how many tonnes, why and the ways out."""

    demand: Demand
    on: date
    tonnes: float
    why: str
    ways: tuple[str, ...]
    reasons: tuple[Reason, ...]


def _short(search: Search, demand: Demand, part: float, why: bool) -> _Short:
    short = portion_days(demand, 1 - part, 1.0, search.season).nonzero()[0]
    on = search.season.day(int(short[0]) if len(short) else demand.window[0])
    told = _why(search, demand) if why else ("", (), ())
    return _Short(demand, on, part * _tonnes(search, demand), *told)


def _told(search: Search, short: Sequence[_Short]) -> Unfed:
    """The animals of one group that are short of one thing: from the first day on, all tonnes together."""
    first = min(short, key=lambda each: each.on)
    group, tonnes = first.demand.fed.group, fsum(each.tonnes for each in short)
    told = Reason(
        Kind.REQUIREMENT,
        Severity.STOP,
        f"{group} cannot be fed as they need from {first.on:{search.farm.settings.date_format}} on: {first.why}",
        feed=None,
        unit="t",
        value=tonnes,
        limit=0.0,
    )
    verdict = Verdict((told, *first.reasons))
    unverified = all(each.why == UNVERIFIED for each in short)
    return Unfed(group, first.demand.stage, first.on, tonnes, first.why, first.ways, verdict, unverified)


def _tonnes(search: Search, demand: Demand) -> float:
    """About what the animals eat over the demand: of a known mix of theirs, else of feed as the table has it."""
    known = [mix for mix in search.master.mixes if demand.stage in mix.answers]
    if known:
        return demand.tonnes(known[0])
    reference = search.farm.stage(demand.stage).reference_energy
    return demand.units if demand.by_weight or not reference else demand.units * 1000 / reference


def _why(search: Search, demand: Demand) -> tuple[str, tuple[str, ...], tuple[Reason, ...]]:
    """What stands in the way, the ways out, and the reasons of the nearest ration."""
    kitchen = search.kitchen(key_of(demand))
    if kitchen is None:
        return search.no_ration[key_of(demand)], ("Quote the feeds that are missing.",), ()
    plain = {name: price + search.master.mixing for name, price in search.master.prices_per_tonne.items()}
    asked = kitchen.mix_at(plain)
    if asked.unverified:
        return UNVERIFIED, ("Leave out an offer or change a price a little, and plan again.",), ()
    barred = [why for (_, stage), why in search.barred.items() if stage == demand.stage]
    if asked.mix is not None and not barred:
        return _scarce(search, demand)
    ration = solved(search.farm, kitchen.formula).ration
    missed = [r for r in ration.verdict.of(Kind.REQUIREMENT) if r.severity is not Severity.FEED]
    weighing = list(ration.verdict.weighing(Severity.STOP)) or missed
    why = weighing[0].text if weighing else next(iter(barred), "no mix keeps every bound.")
    mends = sorted(ration.remedies, key=lambda remedy: remedy.share is None)[:WAYS]
    ways = [f"Quote {mend.label.lower()}{_share_words(mend.share)}." for mend in mends]
    if not ways and not (weighing and weighing[0].kind is not Kind.REQUIREMENT):  # any other says what to do itself
        ways = ["Ask a nutritionist which feed would mend it."]
    return why, tuple(ways), tuple(weighing)


def _share_words(share: float | None) -> str:
    return f": from {100 * share:.1f} % of the mix on everything is met" if share is not None else ": it helps in part"


def _scarce(search: Search, demand: Demand) -> tuple[str, tuple[str, ...], tuple[Reason, ...]]:
    """Everything is there, but not enough of it: what is used up, and the cheapest to have more of."""
    units = units_of(search.farm.settings)
    scarce = [name for name in search.master.limited if search.master.scarcity(name) > 1e-6 and name in demand.names]
    scarce.sort(key=lambda name: -search.master.scarcity(name))
    labels = [search.master.supplies[name].label for name in scarce]
    why = f"{', '.join(labels[:WAYS]) or 'what is on offer'} is used up before."
    there = [search.master.supplies[name].tonnes or 0.0 for name in scarce]
    ways = [
        f"Find more {label}: there is {units.amount(tonnes)}."
        for label, tonnes in zip(labels[:WAYS], there, strict=False)
    ]
    return why, tuple(ways or ["Quote another feed of the same kind."]), ()
