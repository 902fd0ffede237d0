"""Where the year cannot be met: what would let everybody be fed, each way planned anew and told with its price.

Every way is the year of the book with one thing other than it is: feeds bought that nobody offers, more of an offer
that runs out, a lot of animals fewer, a bound of the farm's own lifted. It is planned with any number of mixes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rationlp.book.records import Offer, Place
from rationlp.errors import InputError, SolverError
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate
from rationlp.rations.program.formula import Formula, build
from rationlp.rations.solve.remedies import remedies
from rationlp.rations.studies.missing_offer import list_price
from rationlp.stages.model import AVERAGES_PCT
from rationlp.year.days import EMPTY
from rationlp.year.model import Unfed, WayKind, WayOut, Year
from rationlp.year.plan import YearRequest, plan_year
from rationlp.year.program.search import key_of
from rationlp.year.studies.fewer import without_lot

MOST = 3
"""So many animals, scarce offers and feeds to buy are looked at, the first and scarcest before others."""
UNPRICED = 3.0
"""Times the dearest offer that a feed without a list price counts: as little of it as can be is planned."""


@dataclass(frozen=True, slots=True)
class _Trial:
    """A farm with one thing other than it is; `offers` are what is bought for it. `same_rations` where its feeds and
    needs are today's, so that no ration has to be calculated anew."""

    kind: WayKind
    what: str
    farm: Farm
    offers: tuple[str, ...] = ()
    priced: bool = True
    same_rations: bool = False


def with_ways_out(farm: Farm, year: Year, request: YearRequest) -> Year:
    """The year with what would feed those that it cannot feed."""
    return replace(year, ways_out=ways_out(farm, year, request)) if year.unfed else year


def ways_out(farm: Farm, year: Year, request: YearRequest) -> tuple[WayOut, ...]:
    """What would feed those that cannot be fed, the ways that feed all first, the cheapest year first.

    A way that no plan can be made of is left out. Raises nothing that the plan of the year did not raise.
    """
    found = [way for trial in _trials(farm, year) if (way := _tried(trial, year, request)) is not None]
    short = sum(each.tonnes for each in year.unfed)
    helps = [way for way in found if way.short_tonnes < short * (1 - 1e-6)]
    return tuple(sorted(helps, key=lambda way: (way.short_tonnes > 0, way.short_tonnes, way.year_cost, way.what)))


def _tried(trial: _Trial, today: Year, request: YearRequest) -> WayOut | None:
    try:
        known = today.search if trial.same_rations else None
        year = plan_year(trial.farm, replace(request, draws=0, trial=True), known)
    except (InputError, SolverError):
        return None
    used = {name: sum(row.tonnes for row in today.purchases if row.offer == name) for name in trial.offers}
    bought = [row for row in year.purchases if row.offer in trial.offers]
    tonnes = sum(row.tonnes for row in bought) - sum(used.values())
    if trial.offers and tonnes <= EMPTY:
        return None  # what is bought for it lies on the farm already
    cost = year.cost_of(trial.offers) - today.cost_of(trial.offers)
    return WayOut(
        trial.kind,
        trial.what,
        tonnes if trial.offers else None,
        cost if trial.offers and trial.priced else None,
        sum(each.tonnes for each in year.unfed),
        year.cost,
    )


def _trials(farm: Farm, year: Year) -> Iterator[_Trial]:
    yield from _bought(farm, year)
    yield from _more_of(farm, year)
    lines = {each.group.split(": ")[0] for each in year.unfed if ": " in each.group}
    for line in sorted(lines):
        try:
            fewer, lot = without_lot(farm, line)
        except InputError:
            continue
        yield _Trial(
            WayKind.FEWER,
            f"{line} of {lot.on:{farm.settings.date_format}} ({lot.head:.0f} head)",
            fewer,
            same_rations=True,
        )
    yield from _lifted(farm)


def _bought(farm: Farm, year: Year) -> Iterator[_Trial]:
    """Feeds that nobody offers, for the first animals whose ration has none that meets everything, or no grain left."""
    seen: set[tuple[str, ...]] = set()
    for each in list({row.stage: row for row in reversed(year.unfed)}.values())[::-1][:MOST]:
        feeds = tuple(c.feed for c in _mending(farm, year, each))
        if not feeds or feeds in seen:
            continue
        seen.add(feeds)
        offers, priced = zip(*(_offer(farm, feed) for feed in feeds), strict=True)
        labels = " and ".join(offer.label for offer in offers)
        wider = farm.with_offers([*farm.book.supplements, *offers])
        yield _Trial(WayKind.BUY, labels, wider, tuple(offer.offer for offer in offers), all(priced))


def _offer(farm: Farm, feed: str) -> tuple[Offer, bool]:
    """A feed of the library as an offer at its list price, and whether it has one."""
    candidate = farm.as_if_offered(feed)
    listed = list_price(feed, farm)
    dearest = max((row.price_per_tonne for row in farm.book.supplements), default=1000.0)
    price = listed[0] if listed else UNPRICED * dearest
    return Offer(Place(), candidate.name, feed, candidate.label, price, organic=True), listed is not None


def _mending(farm: Farm, year: Year, each: Unfed) -> Sequence[Candidate]:
    """The fewest feeds that make a ration possible for these animals without what is used up; empty if none would."""
    search = year.search
    demand = next(d for d, _ in search.master.unfed() if d.stage == each.stage)
    scarce = {name for name in search.master.limited if search.master.scarcity(name) > 0}
    had = [s for s in search.supplies if s.name in demand.names - scarce]
    bins = tuple(s.name for s in had if s.is_bin)
    offered = [s.candidate for s in had]
    bought: list[Candidate] = []
    for _ in range(MOST):
        formula = _formula(farm, key_of(demand)[0], bins, [*offered, *bought])
        found = remedies(formula, [*offered, *bought], farm) if formula is not None else []
        if not found:
            return ()
        best = min(found, key=lambda r: (r.share is None, r.share or 0.0, r.shortfall_after))
        bought.append(farm.as_if_offered(best.feed))
        if best.share is not None:
            return bought
    return ()


def _formula(farm: Farm, stage: str, bins: tuple[str, ...], candidates: Sequence[Candidate]) -> Formula | None:
    try:
        return build(farm.stage(stage), bins, candidates, farm)
    except InputError:
        return None


def _more_of(farm: Farm, year: Year) -> Iterator[_Trial]:
    """More of each offer that is used up."""
    master = year.search.master
    scarce = sorted((n for n in master.limited if master.scarcity(n) > 0), key=lambda n: -master.scarcity(n))
    rows = {row.offer: row for row in farm.book.supplements}
    for name in [name for name in scarce if name in rows][:MOST]:
        wider = farm.with_offers(replace(row, stock_kg=None) if row.offer == name else row for row in rows.values())
        yield _Trial(WayKind.BUY, f"more {rows[name].label or name}", wider, (name,), same_rations=True)


def _lifted(farm: Farm) -> Iterator[_Trial]:
    """Bounds of the farm's own, each lifted by itself: never a safety or legal limit, which the library keeps."""
    if farm.settings.confidence_pct > AVERAGES_PCT:
        yield _Trial(WayKind.LIFT, "confidence_pct at 50", farm.with_setting("confidence_pct", AVERAGES_PCT))
    if farm.settings.requirement_margin_pct:
        yield _Trial(WayKind.LIFT, "requirement_margin_pct at 0", farm.with_setting("requirement_margin_pct", 0))
    capped = [row for row in farm.book.supplements if row.max_share is not None or row.min_share]
    if capped:
        free = farm.with_offers(replace(row, max_share=None, min_share=None) for row in farm.book.supplements)
        yield _Trial(WayKind.LIFT, "min_pct and max_pct of the offers", free)
    for limit in farm.book.own_limits[:MOST]:
        rest = tuple(row for row in farm.book.own_limits if row is not limit)
        wider = type(farm)(replace(farm.book, own_limits=rest), farm.library, farm.warnings)
        yield _Trial(WayKind.LIFT, f"your own limit of {limit.feed} for {limit.stage}", wider)
