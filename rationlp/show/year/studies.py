"""What was asked of a year beside the plan, for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.numbers import figure, money
from rationlp.reasons import Severity
from rationlp.show.first.screen import screen
from rationlp.show.terminal import Table, Terminal, table
from rationlp.show.text.verdict import MARKS
from rationlp.show.year.lines import change_lines, shown, unfed_lines
from rationlp.units import HA_PER_ACRE
from rationlp.year.model import Year
from rationlp.year.studies.beside import YearStudies
from rationlp.year.studies.change import year_change
from rationlp.year.studies.frontier import GrownShare
from rationlp.year.studies.seed_mix import CAUTION, SeedMix
from rationlp.year.studies.separate import LOST, PURITY, Separated

AS_IT_STANDS = "Against the book as it stands"
IN_VAIN = (
    "What home-grown feed costs, what separating is worth and what to sow are told once everybody can be fed: mend "
    "that first."
)
IN_PARTS = (
    "What separating and other seed are worth is told as if packages were sold in parts; the plan above pays for whole "
    "ones."
)
LITTLE = 0.001
"""Of the home-grown feed: so much more of it is none."""
DENSER = "No more home-grown feed is fed: its share rises because richer feed is bought, of which less is eaten."


def print_studies(out: Terminal, year: Year, more: YearStudies, book: Book, units: BookUnits) -> None:
    """The change against the book, the frontier, the worth of separating, next season's seed."""
    for line, on in sorted(book.left_out):
        out.print(f"Planned without the lot of {line} that would begin on {shown(on, book)}.", strong=True)
    if more.before is not None:
        for line in change_lines(year_change(more.before, year), book, units, AS_IT_STANDS):
            out.print(line, strong=True)
    if more.in_vain:
        out.print(IN_VAIN, strong=True)
    if more.frontier:
        out.print(_frontier(more.frontier, units))
        if more.frontier[-1].grown_tonnes <= more.frontier[0].grown_tonnes * (1 + LITTLE):
            out.print(DENSER)
    if more.separated:
        out.print(_separated(more.separated, units))
        out.print(
            f"Worth after cleaning, of crops {100 * PURITY:g} % pure with {100 * LOST:g} % lost (common practice; ask "
            "your cleaner); what is lost is missed at what the grain brings. What a crop would bring if sold by itself "
            "is not in it."
        )
    if more.seed_mix is not None:
        _print_seed_mix(out, more.seed_mix, book, units)
    if year.in_whole_packages and (more.separated or more.seed_mix is not None):
        out.print(IN_PARTS)


def print_rest(then: Year, now: Year, book: Book) -> None:
    """What a new sample does to the rest of the year, a few lines for the terminal."""
    out, units = screen(), units_of(book.farm)
    against = f"The rest of the feed year from {shown(now.season.first, book)}, against the plan by the old sample"
    for line in change_lines(year_change(then, now), book, units, against):
        out.print(line, strong=not line.startswith("-"))
    for line in unfed_lines(now, book):
        out.print(f"{MARKS[Severity.STOP]} {line}", strong=True, hang=2)
    out.print(f"`rationlp year --from {shown(now.season.first, book)}` prints the new plan.")


def _print_seed_mix(out: Terminal, found: SeedMix, book: Book, units: BookUnits) -> None:
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
    if found.unfed:
        out.print(
            f"! {', '.join(found.unfed)} cannot be fed from it or from today's shares: no gain is told.", strong=True
        )
    else:
        out.print(
            f"Gain over today's shares {gain} per {area[0]}; it gains in {100 * found.sure:.0f} % of "
            f"{len(found.gains)} draws of the yields. Land equivalent ratio {found.land_equivalent_ratio:.2f}.",
            strong=True,
        )
    out.print(
        f"It yields {units.bulk(found.harvest_tonnes)}: what is fed is worth what it spares, what is left over "
        f"({units.amount(found.left_tonnes)}) counts {units.price(found.price_per_tonne, units.currency)} per "
        f"{units.word}, whatever its crops: what today's bins bring on the farm (sale_price less selling_cost)."
    )
    yields = {row.crop: row.yield_kg_per_ha for row in book.crops}
    for crop, times in found.comes_in:
        if times is None:
            out.print(f"- {crop} would not pay for more land at twice its yield.")
        else:
            much = f"{units.small(times * yields[crop] * area[1])} {units.mass} per {area[0]}"
            out.print(f"- {crop} would pay for more land from about {much} on, {times:.2f} times its yield.")
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


def _frontier(frontier: Sequence[GrownShare], units: BookUnits) -> Table:
    made = table(
        "Home-grown share of the year",
        [
            ("Home-grown, %", "right"),
            (f"Home-grown, {units.short}", "right"),
            (units.currency, "right"),
            ("More than today", "right"),
        ],
    )
    for point in frontier:
        share, grown = f"{100 * point.reached:.1f}", units.bulk(point.grown_tonnes).split()[0]
        made.add_row(share, grown, money(point.cost), money(point.cost - frontier[0].cost))
    return made
