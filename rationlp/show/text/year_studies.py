"""What was asked of a year beside the plan, for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.numbers import figure, money
from rationlp.reasons import Severity
from rationlp.show.first.screen import screen
from rationlp.show.terminal import Table, Terminal, table
from rationlp.show.text.verdict import MARKS
from rationlp.units import HA_PER_ACRE
from rationlp.year.model import WayKind, Year
from rationlp.year.studies.beside import YearStudies
from rationlp.year.studies.change import YearChange, year_change
from rationlp.year.studies.frontier import GrownShare
from rationlp.year.studies.seed_mix import CAUTION, SeedMix
from rationlp.year.studies.separate import LOST, PURITY, Separated

AS_IT_STANDS = "Against the book as it stands"


def shown(day: date | None, book: Book, none: str = "") -> str:
    """A day as the book writes days."""
    return book.farm.day(day, none)


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


def print_studies(out: Terminal, year: Year, more: YearStudies, book: Book, units: BookUnits) -> None:
    """The change against the book, the frontier, the worth of separating, next season's seed."""
    for line, on in sorted(book.left_out):
        out.print(f"Planned without the lot of {line} that would begin on {shown(on, book)}.", strong=True)
    if more.before is not None:
        for line in change_lines(year_change(more.before, year), book, units, AS_IT_STANDS):
            out.print(line, strong=True)
    if more.frontier:
        out.print(_frontier(more.frontier, units))
    if more.separated:
        out.print(_separated(more.separated, units))
        out.print(
            f"Worth after cleaning, of crops {100 * PURITY:g} % pure with {100 * LOST:g} % lost (common practice; ask "
            "your cleaner). What a crop would bring if sold by itself is not in it."
        )
    if more.seed_mix is not None:
        _print_seed_mix(out, more.seed_mix, units)


def print_rest(then: Year, now: Year, book: Book) -> None:
    """What a new sample does to the rest of the year, a few lines for the terminal."""
    out, units = screen(), units_of(book.farm)
    against = f"The rest of the feed year from {shown(now.season.first, book)}, against the plan by the old sample"
    for line in change_lines(year_change(then, now), book, units, against):
        out.print(line, strong=not line.startswith("-"))
    for line in unfed_lines(now, book):
        out.print(f"{MARKS[Severity.STOP]} {line}", strong=True, hang=2)
    out.print(f"`rationlp year --from {shown(now.season.first, book)}` prints the new plan.")


def _print_seed_mix(out: Terminal, found: SeedMix, units: BookUnits) -> None:
    area = ("acre", HA_PER_ACRE) if units.mass == "lb" else ("ha", 1.0)
    made = table(
        "Seed for next season",
        [
            ("Crop", "left"),
            ("Land, %", "right"),
            ("Today, %", "right"),
            (area[0], "right"),
            (f"Seed, {units.mass}", "right"),
            ("Seed, %", "right"),
            ("Harvest, %", "right"),
        ],
    )
    for row in found.crops:
        shares = (f"{100 * row.share:.1f}", f"{100 * row.today:.1f}", figure(row.hectares / area[1], 3))
        seed = (units.small(row.seed_kg, 4), f"{100 * row.seed_share:.1f}", f"{100 * row.harvest_share:.1f}")
        made.add_row(row.crop, *shares, *seed)
    out.print(made)
    gain = money(found.gain_per_hectare * area[1], units.currency)
    out.print(
        f"Gain over today's shares {gain} per {area[0]}; it gains in {100 * found.sure:.0f} % of {len(found.gains)} "
        f"draws of the yields. Land equivalent ratio {found.land_equivalent_ratio:.2f}.",
        strong=True,
    )
    for crop, times in found.comes_in:
        if times is None:
            out.print(f"- {crop} would not pay for more land at twice its yield.")
        else:
            out.print(f"- {crop} would pay for more land from about {times:g} times its yield on.")
    out.print(CAUTION, strong=True)


def _separated(found: Sequence[Separated], units: BookUnits) -> Table:
    made = table(
        "Crops taken out of a bin",
        [("Bin", "left"), ("Crops", "left"), (units.short, "right"), (f"Worth, {units.per_mass} cleaned", "right")],
    )
    for row in found:
        crops = "all crops apart" if len(row.crops) > 1 else row.crops[0]
        made.add_row(row.bin, crops, units.bulk(row.tonnes).split()[0], units.price(row.worth_per_tonne))
    return made


def change_lines(change: YearChange, book: Book, units: BookUnits, against: str) -> Iterator[str]:
    """What becomes of the year, `against` saying beside what."""
    more = "more" if change.cost >= 0 else "less"
    grown = round(100 * change.home_grown_share, 1) + 0.0  # no minus before a nought
    bought = f"{units.bulk(abs(change.bought_tonnes))} {'more' if change.bought_tonnes >= 0 else 'less'} bought"
    yield (f"{against}: {money(abs(change.cost), units.currency)} {more}, {bought}, home-grown {grown:+.1f} points.")
    for label, tonnes in change.bought[:3]:
        yield f"- {label}: {units.amount(abs(tonnes))} {'more' if tonnes > 0 else 'less'}"
    for row in change.dates:
        if row.before != row.after:
            now, then = (f"empty on {shown(day, book)}" if day else "lasts" for day in (row.after, row.before))
            yield f"- {row.bin}: {now} instead of {then}"


def _frontier(frontier: Sequence[GrownShare], units: BookUnits) -> Table:
    made = table(
        "Home-grown share of the year",
        [("Home-grown, %", "right"), (units.currency, "right"), ("More than today", "right")],
    )
    for point in frontier:
        made.add_row(f"{100 * point.reached:.1f}", money(point.cost), money(point.cost - frontier[0].cost))
    return made
