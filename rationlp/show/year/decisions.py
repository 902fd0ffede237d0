"""What a planned year asks of the farm in its first week."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta

from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.cautions import ASK_WHOM, NOT_SOLD
from rationlp.finder import listed
from rationlp.numbers import largest_first, money
from rationlp.show.year.lines import shown
from rationlp.year.days import by_day
from rationlp.year.model import Purchase, Sale, Year
from rationlp.year.program.kitchen import same_mix

WEEK = 7
MUCH = 0.05
"""Of what is eaten: grain left over from which on there is something to sell."""


def decisions(year: Year, book: Book) -> list[str]:
    """What is to be done in the first week: what to mix, what to order, and the grain or the next sample."""
    units = units_of(book.farm)
    found = [*_to_mix(year, units), *_to_order(year, book, units), *_grain(year, book, units)]
    return found[:3]


def _to_mix(year: Year, units: BookUnits) -> Iterator[str]:
    supplies = {s.name: s for s in year.search.supplies}
    names = {same_mix(mix.found.shares): mix.mix for mix in year.mixes}
    week: dict[str, float] = {}
    eaters: dict[str, dict[str, None]] = {}
    for each in by_day(year.portions, supplies, year.season):
        tonnes = float(each.tonnes[:WEEK].sum())
        if tonnes > 0:
            name = names[same_mix(each.portion.mix.shares)]
            week[name] = week.get(name, 0.0) + tonnes
            eaters.setdefault(name, {})[each.portion.demand.fed.group] = None
    if week:
        order = sorted(week.items(), key=lambda item: largest_first(item[1]))
        told = ", ".join(
            f"{units.amount(tonnes)} of {name} ({_eaters(tuple(eaters[name]))})" for name, tonnes in order[:3]
        )
        more = f" and {len(order) - 3} more in smaller amounts" if len(order) > 3 else ""
        yield f"Mix for the first week {told}{more}."


def _eaters(groups: Sequence[str]) -> str:
    """Whom a mix is for, shortly."""
    return f"{groups[0]} and {len(groups) - 1} more" if len(groups) > 2 else " and ".join(groups)


def _to_order(year: Year, book: Book, units: BookUnits) -> Iterator[str]:
    by = year.season.first + timedelta(days=WEEK)
    due: dict[str, list[Purchase]] = {}
    for row in year.purchases:
        if row.order_by <= by:
            due.setdefault(row.offer, []).append(row)
    if due:
        rows = sorted(due.values(), key=lambda held: -sum(row.cost for row in held))
        told = listed(f"{held[0].label} {_amount(held, units)}" for held in rows[:3])
        more = f" and {len(rows) - 3} more" if len(rows) > 3 else ""
        each = [row for held in rows for row in held]
        cost = money(sum(row.paid for row in each), units.currency)
        yield f"Order by {shown(min(row.order_by for row in each), book)} for the first weeks: {told}{more} ({cost})."


def _amount(rows: Sequence[Purchase], units: BookUnits) -> str:
    """How much of one offer, and in how many packages."""
    packages = sum(row.packages for row in rows)
    several = "s" if packages > 1 else ""
    told = units.amount(sum(row.tonnes for row in rows))
    return f"{told}{f' ({packages} package{several})' if packages else ''}"


def _grain(year: Year, book: Book, units: BookUnits) -> Iterator[str]:
    told = [] if year.unfed else list(_left_over(year, book, units))
    if told:
        yield " ".join(told)
    if year.next_sample:
        bin_, day = min(year.next_sample, key=lambda item: item[1])
        yield f"Sample {bin_} again by {shown(day, book)}, when a third of it is drawn."
    for sale in year.sales:
        if sale.from_price is not None and not sale.tonnes and not sale.harmful:
            price = units.price(sale.from_price, units.currency)
            yield f"Keep {sale.label}: selling it pays only above {price} per {units.word}."


def _left_over(year: Year, book: Book, units: BookUnits) -> Iterator[str]:
    """What becomes of the grain that nothing in the plan needs: first that which may harm, then what does not keep."""
    keeps = {row.bin: row.keeps_until for row in year.runs_out}
    over = [sale for sale in year.sales if sale.tonnes > MUCH * year.tonnes]
    over.sort(key=lambda sale: -sale.tonnes)
    if harmful := [sale for sale in over if sale.harmful]:
        yield f"Keep {_listed(harmful, units)} apart; {NOT_SOLD}: {ASK_WHOM}."
    over = [sale for sale in over if not sale.harmful]
    spoils = [sale for sale in over if (keeps.get(sale.bin) or year.season.last) < year.season.last]
    for sale in spoils:
        yield (
            f"Sell or dry {units.bulk(sale.tonnes)} of {sale.label}: it keeps to {shown(keeps[sale.bin], book)} and "
            "nothing in the plan needs it."
        )
    prices = year.search.master.prices_per_tonne
    rest = [sale for sale in over if sale not in spoils]
    if sold := [sale for sale in rest if prices.get(sale.bin)]:
        yield f"Sell up to {_listed(sold, units)}: nothing in the plan needs it."
    if kept := [sale for sale in rest if not prices.get(sale.bin)]:
        yield f"Left over: {_listed(kept, units)}. Nothing in the plan needs it."


def _listed(sales: Sequence[Sale], units: BookUnits) -> str:
    return " and ".join(f"{units.bulk(sale.tonnes)} of {sale.label}" for sale in sales)
