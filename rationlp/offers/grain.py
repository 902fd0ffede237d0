"""Bin grain as feed against what it would bring if sold: sell, hold or feed.

A bin is calculated in rations at its sale price, so that a mix holds its grain only where it is worth more as feed. For
the farm one small program shares the grain of all bins between all groups: each group eats, for a part of its days, the
ration from a bin, or the ration made without own grain; no bin gives more than it holds; the feed bill is least. The
price of a bin's row is what one tonne more of it would save beyond its sale value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from rationlp.book.records import Bin, Book, Settings
from rationlp.book_units import units_of
from rationlp.cautions import NOT_SOLD
from rationlp.errors import given
from rationlp.offers.live_ration import LiveRation, in_mix
from rationlp.offers.model import GrainPlan, GrainWorth, OfferWorth, price_a, price_words
from rationlp.offers.worth import floors_of, worth_of
from rationlp.rations.answer.farm_totals import group_feed
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.rations.solve.checked import solve_checked

SETTLED_T = 1e-6
"""Tonnes below this are none."""
SOON_DAYS = 30
"""Groups that start within so many days of the first one are fed from now on; for later ones grain is held."""


def grain_worths(cases: Sequence[LiveRation], book: Book) -> list[GrainWorth]:
    """The grain of each bin in each ration that meets everything."""
    prices = {row.bin: row.sale_price_per_tonne for row in book.bins}
    found = []
    for case in cases:
        for index, candidate in enumerate(case.formula.candidates):
            if case.priced is not None and candidate.feed.startswith("bin:"):
                line = worth_of(case, index)
                price = prices[candidate.name]
                found.append(
                    GrainWorth(
                        candidate.name,
                        line.stage,
                        line.share,
                        price,
                        line.worth_used if line.in_mix else line.enters_below,
                        line.mix_stays_to if line.in_mix else line.enters_below,
                        line.enters_below,
                        line.indispensable,
                        _verdict(line, price, book.farm),
                    )
                )
    return found


def _verdict(line: OfferWorth, price: float | None, farm: Settings) -> str:
    if line.indispensable:
        return "feed: there is no ration of this stage without it"
    if not line.in_mix:
        if line.enters_below is None:
            return "sell: it cannot go into this ration"
        return f"sell: it would be fed only below {price_words(line.enters_below, farm)}"
    if not price:
        return "feed (the book gives no sale price)"
    more = given(line.worth_used, "the worth of grain in the mix") - price
    return f"feed: worth {price_a(more, farm)} more than sold"


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to feed one group: all its days with one ration."""

    group: str
    starts: date | None
    cost: float
    grain: dict[str, float]  # tonnes by bin


def grain_plans(
    cases: Sequence[LiveRation], choices: Sequence[Choice], worths: Sequence[GrainWorth], book: Book
) -> list[GrainPlan]:
    """What to do with each bin's grain over all groups; empty without bins or groups, or if the grain there is does not
    reach for rations that cannot be made without it. `choices` are those of `grain_choices`, `worths` those of
    `grain_worths`. Raises SolverError."""
    bins = [row for row in book.bins if any(row.bin in choice.grain for choice in choices)]
    groups = list(dict.fromkeys(choice.group for choice in choices))
    if not bins:
        return []
    tonnes = {estimate.bin: estimate.tonnes for case in cases for estimate in case.estimates}
    limited = {row.bin: held for row in bins if (held := tonnes[row.bin]) is not None}
    program = _sharing(choices, groups, list(limited.items()))
    solution = solve_checked(program)
    if solution.status != "optimal":
        return []
    saved = {name: max(-dual, 0.0) for name, dual in zip(limited, solution.row_duals[len(groups) :], strict=True)}
    harmful = {estimate.bin for case in cases for estimate in case.estimates if estimate.harmful}
    return [
        _plan(
            row, choices, solution.amounts, tonnes[row.bin], saved.get(row.bin), worths, book.farm, row.bin in harmful
        )
        for row in bins
    ]


def grain_choices(case: LiveRation, book: Book) -> list[Choice]:
    """Each group of the stage with this ration, and with the one made without own grain (as much as feeds alike)."""
    if case.priced is None:
        return []
    stage, candidates = case.formula.stage.stage, case.formula.candidates
    own = [i for i, candidate in enumerate(candidates) if candidate.feed.startswith("bin:")]
    lifted = [place for i in own for place in floors_of(case, i)]
    without = case.live.solve(case.live.costs, out=own, lifted=lifted) if own else None
    found = []
    for group in book.groups:
        fed = group_feed(group, case.ration).tonnes if group.stage == stage else None
        if not fed:
            continue
        grain = {candidates[i].name: fed * float(case.shares[i]) for i in own if in_mix(case.shares[i])}
        found.append(Choice(group.group, group.from_date, fed * case.value * case.per_tonne, grain))
        if without is not None:
            found.append(
                Choice(group.group, group.from_date, fed * without.value(case.live.costs) * case.per_tonne, {})
            )
    return found


def _sharing(choices: Sequence[Choice], groups: Sequence[str], bins: Sequence[tuple[str, float]]) -> Program:
    """Parts of the groups' days by choice, at the least feed bill; a last column, always 1, carries the constants."""
    rows = [
        ProgramRow(f"days of {group}", (*(float(choice.group == group) for choice in choices), -1.0), "=")
        for group in groups
    ]
    rows += [
        ProgramRow(f"grain of {name}", (*(choice.grain.get(name, 0.0) for choice in choices), -tonnes), "<=")
        for name, tonnes in bins
    ]
    columns = (*(f"{choice.group} {place}" for place, choice in enumerate(choices)), "one")
    costs = (*(choice.cost for choice in choices), 0.0)
    return Program(columns, costs, tuple(rows), (*(0.0,) * len(choices), 1.0))


def _plan(
    row: Bin,
    choices: Sequence[Choice],
    parts: Sequence[float],
    tonnes: float | None,
    saved: float | None,
    worths: Sequence[GrainWorth],
    farm: Settings,
    harmful: bool,
) -> GrainPlan:
    first = min((choice.starts for choice in choices if choice.starts), default=None)
    feed = hold = 0.0
    for choice, part in zip(choices, parts, strict=False):
        later = choice.starts is not None and first is not None and (choice.starts - first).days > SOON_DAYS
        used = part * choice.grain.get(row.bin, 0.0)
        feed, hold = (feed, hold + used) if later else (feed + used, hold)
    left = None if tonnes is None else max(tonnes - feed - hold, 0.0)
    price = row.sale_price_per_tonne
    last = None if saved is None else (price or 0.0) + saved
    fed = [worth.worth for worth in worths if worth.bin == row.bin and worth.share and worth.worth is not None]
    return GrainPlan(
        row.bin, tonnes, feed, hold, left, price, last, _advice(feed, hold, left, price, last, fed, farm, harmful)
    )


def _advice(
    feed: float,
    hold: float,
    left: float | None,
    price: float | None,
    last: float | None,
    fed: Sequence[float],
    farm: Settings,
    harmful: bool,
) -> str:
    """In a sentence. Grain that is left over may be held against its sale price, for what it is worth as feed; what has
    a danger in it (`harmful`) is not to be sold."""
    units, parts = units_of(farm), []
    if feed > SETTLED_T:
        parts.append(f"feed {units.amount(feed)}")
    if hold > SETTLED_T:
        parts.append(f"hold {units.amount(hold)} for groups that come later")
    if left is not None and left > SETTLED_T:
        amount = units.amount(left)
        if harmful:
            parts.append(f"{amount} are left over: {NOT_SOLD}")
        else:
            parts.append(f"sell {amount}" if price else f"{amount} are left over (the book gives no sale price)")
    told = ", ".join(parts) or "nothing to do"
    if left is not None and left <= SETTLED_T and last is not None:
        told += f"; it does not reach for all: more of it would be worth {price_a(last, farm)}"
    elif price and left and fed and not harmful:
        worth = dict.fromkeys(price_words(each, farm) for each in (min(fed), max(fed)))
        told += (
            f"; held for another season it would have to be worth {price_a(price, farm)} and its storage then "
            f"(as feed today {' to '.join(worth)})"
        )
    return told + "."
