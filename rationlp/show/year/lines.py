"""Sentences of a planned year, for screens, workbook and page."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from rationlp.book.records import Book
from rationlp.book_units import BookUnits
from rationlp.numbers import money
from rationlp.year.model import WayKind, Year
from rationlp.year.studies.change import YearChange

CENT = 0.005
"""Less money than this is none."""
LEFT_TOLD = 0.01
"""Of the cost of the year: so much left over in packages is told."""


def shown(day: date | None, book: Book, none: str = "") -> str:
    """A day as the book writes days."""
    return book.farm.day(day, none)


def money_line(year: Year, units: BookUnits) -> str:
    """What the year costs, what is bought and how much is home-grown."""
    whole = " in whole packages" if year.in_whole_packages else ""
    rest = year.cost - year.bought_cost
    there = "what lies on the farm (grain at what it would bring, the rest at its price)" if year.on_farm else ""
    own = f", {money(rest)} for {there or 'own grain at what it would bring'} and for mixing"
    return (
        f"{money(year.cost, units.currency)} for {units.bulk(year.tonnes)} of feed: {money(year.bought_cost)} for "
        f"{units.bulk(year.bought_tonnes)} bought{whole}{own if abs(rest) >= CENT else ''}. "
        f"{100 * year.home_grown_share:.1f} % is home-grown.{packages_line(year)}"
    )


def left_over_lines(year: Year, units: BookUnits) -> Iterator[str]:
    """What is left over of each offer in the last of its packages."""
    for row in sorted(year.left_over, key=lambda row: -row.cost):
        several = "s" if row.packages > 1 else ""
        yield (
            f"{row.label}: {units.amount(row.tonnes)} is left over of {row.packages} package{several} "
            f"({money(row.cost, units.currency)})."
        )


def packages_line(year: Year) -> str:
    """What is left over in the last packages, where that is something to a farm of this size or the farm asked."""
    if year.left_over:
        left = sum(row.cost for row in year.left_over)
        return f" {money(left)} of what is paid is left over in the last packages."
    left = year.left_in_packages
    return (
        f" Whole packages cost {money(left)} more: that is left over in the last of them."
        if left > (LEFT_TOLD * year.cost)
        else ""
    )


def unfed_lines(year: Year, book: Book) -> Iterator[str]:
    """Who cannot be fed, from when and why; those that are short of one thing in one line."""
    by_why: dict[str, list[str]] = {}
    for each in year.unfed:
        by_why.setdefault(each.why, []).append(f"{each.group} from {shown(each.on, book)} on")
    for why, groups in by_why.items():
        yield f"{', '.join(groups)} cannot be fed as they need: {why}"


def on_farm_lines(year: Year, units: BookUnits) -> Iterator[str]:
    """What lies on the farm of what is bought, and what of it the plan feeds."""
    for row in year.on_farm:
        yield (
            f"{row.label}: {units.amount(row.tonnes)} on the farm when the plan begins, of which "
            f"{units.amount(row.used_tonnes)} is fed before more is bought."
        )


def way_lines(year: Year, units: BookUnits, most: int | None = None) -> Iterator[str]:
    """What would feed those that cannot be fed, with what it costs; those that feed all first."""
    verbs = {WayKind.BUY: "Buy", WayKind.FEWER: "Keep fewer animals: leave out", WayKind.LIFT: "Lift a bound:"}
    for way in year.ways_out[:most]:
        told = f"{verbs[way.kind]} {way.what}"
        if way.tonnes is not None:
            price = money(way.cost, units.currency) if way.cost is not None else "no list price is known"
            told += f", {units.amount(way.tonnes)} ({price})"
        if way.short_tonnes:
            yield f"{told}: {units.amount(way.short_tonnes)} of feed are short even then."
        elif way.tonnes is not None and way.cost is None:
            yield f"{told}: then all are fed."
        else:
            yield f"{told}: then all are fed, the year for {money(way.year_cost, units.currency)}."


def few_lines(year: Year, units: BookUnits) -> Iterator[str]:
    """What the number of mixes costs, and how sure it is that no plan is cheaper."""
    few = year.few
    if not few.used:
        return
    if few.cost_of_any is None:
        gap = year.cost - year.bound
        if year.in_whole_packages and not year.unfed:
            yield f"{few.used} mixes. {_how_sure(year, units)}"
        elif not year.unfed and gap <= 1e-5 * abs(year.cost):
            yield f"{few.used} mixes; no plan costs less."
        elif not year.unfed:
            yield f"{few.used} mixes; no plan costs less than {money(year.bound, units.currency)}."
        return
    told = [f"{few.used} mixes"]
    if year.unfed:
        told.append("what they cost counts only for those that are fed")
    elif few.cost_of_one_fewer is not None:
        told.append(f"one fewer costs {money(few.cost_of_one_fewer - year.cost, units.currency)} more")
    else:
        told.append("no plan with one fewer was found that feeds everybody")
    if few.cost_of_one_more is not None and not year.unfed:
        told.append(f"one more saves {money(max(year.cost - few.cost_of_one_more, 0.0), units.currency)}")
    if not year.unfed:
        told.append(f"with any number {money(few.cost_of_any, units.currency)}")
    yield "; ".join(told) + "."
    if few.asked is not None and few.used > few.asked:
        yield f"! At most {few.asked} asked for: no plan of so few mixes that was looked at feeds everybody."
    if year.unfed:
        return
    yield _how_sure(year, units)


def _how_sure(year: Year, units: BookUnits) -> str:
    """Whether the plan is proved the cheapest of the mixes looked at, and what no plan goes below."""
    sure = "proved the cheapest choice" if year.few.proved else "the cheapest choice found"
    bound = money(year.few.bound, units.currency)
    if year.in_whole_packages:
        bound = f"{bound}, its cost were packages sold in parts (so the last {units.word} of a bin is valued, too)"
    return f"It is {sure} of {len(year.search.master.mixes)} mixes looked at; no plan at all costs less than {bound}."


def draw_lines(year: Year, book: Book, units: BookUnits) -> Iterator[str]:
    """What the draws of prices, bins and losses did to cost and dates."""
    found = year.draws
    if found is None:
        return
    survived = f"In {100 * found.survived:.0f} % of {found.count} draws of prices, harvest, bins and losses all are fed"
    if found.cost_low is None:
        yield f"{survived}."
    else:
        cost = f"{money(found.cost_low)} to {money(found.cost_high, units.currency)}"
        yield f"{survived}; four in five of them cost {cost}."
        for row in found.bins:
            days = [shown(day, book, "after the harvest") for day in (row.earliest, row.latest)]
            yield f"- {row.bin} is empty between {days[0]} and {days[1]}." if row.earliest else f"- {row.bin} lasts."
    if found.surer is not None:
        extra = found.surer.extra_cost
        yield (
            f"A surer plan of {found.surer.mixes} mixes (it counts on what a bin holds {100 * found.surer.counted:.0f} "
            f"times in 100 and keeps a tenth of each stock) feeds all in {100 * found.surer.survived:.0f} % of them, "
            f"for {money(abs(extra), units.currency)} {'more' if extra >= 0 else 'less'}."
        )


def change_lines(change: YearChange, book: Book, units: BookUnits, against: str) -> Iterator[str]:
    """What becomes of the year, `against` saying beside what."""
    more = "more" if change.cost >= 0 else "less"
    grown = round(100 * change.home_grown_share, 1) + 0.0  # no minus before a nought
    bought = f"{units.bulk(abs(change.bought_tonnes))} {'more' if change.bought_tonnes >= 0 else 'less'} bought"
    whole = ", both in whole packages" if change.whole_packages else ""
    cost = money(abs(change.cost), units.currency)
    yield f"{against}{whole}: {cost} {more}, {bought}, home-grown {grown:+.1f} points."
    for label, tonnes in change.bought[:3]:
        yield f"- {label}: {units.amount(abs(tonnes))} {'more' if tonnes > 0 else 'less'}"
    for row in change.dates:
        if row.before != row.after:
            now, then = (f"empty on {shown(day, book)}" if day else "lasts" for day in (row.after, row.before))
            yield f"- {row.bin}: {now} instead of {then}"
