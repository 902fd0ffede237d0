"""A planned year for the terminal: one screen first, then by month."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.cautions import REVIEW
from rationlp.numbers import figure, largest_first, money
from rationlp.reasons import HEADLINES, Severity, Verdict
from rationlp.show.data.year import animal_rows
from rationlp.show.first.decisions import decisions
from rationlp.show.first.screen import screen
from rationlp.show.first.year import asked_of_year, mending, unfed_of
from rationlp.show.terminal import Table, Terminal, console, table
from rationlp.show.text.verdict import MARKS, print_reasons
from rationlp.show.text.year_studies import on_farm_lines, print_studies, shown, unfed_lines, way_lines
from rationlp.year.model import Mix, Purchase, Year
from rationlp.year.studies.beside import YearStudies

MIXES_ON_SCREEN = 8
FEWEST_MIXES = 3
PARTS = 3
"""So many parts of a mix are named on the first screen, the largest first."""
CENT = 0.005
"""Less money than this is none."""
WAYS_ON_SCREEN = 3
LEFT_TOLD = 0.01
"""Of the cost of the year: so much left over in packages is told on the first screen."""
LINE = 38
"""Letters of what a mix is made of."""
SHORT = 26
"""Letters of a list in a cell."""


def print_year(year: Year, book: Book, full: bool = False, more: YearStudies | None = None) -> None:
    """Money, tonnes, dates and this week's decisions on one screen, what was asked beside the plan; with `full`
    everything by month behind it."""
    out, units = console() if full else screen(), units_of(book.farm)
    _print_start(out, year, book, units, full)
    if more is not None:
        print_studies(out, year, more, book, units)
    if full:
        _print_all(out, year, book, units)
    else:
        out.print("--full: by month, purchases, every mix, reasons. --format json has all.")
    out.print(REVIEW, strong=True)


def _print_start(out: Terminal, year: Year, book: Book, units: BookUnits, full: bool) -> None:
    first, last = shown(year.season.first, book), shown(year.season.last, book)
    out.print(f"The feed year {first} to {last}: {HEADLINES[year.verdict.severity]}", strong=True)
    out.print(money_line(year, units))
    graver = [reason for reason in year.verdict.reasons if reason.severity is not Severity.FEED]
    bins = [_bins(year, book, units)] if book.bins else []
    steps = [f"{n}. {text}" for n, text in enumerate(decisions(year, book), start=1)]
    below = [*few_lines(year, units), *draw_lines(year, book, units)]
    short = list(unfed_lines(year, book) if full else unfed_of(year, book))
    for line in short:
        out.print(f"{MARKS[Severity.STOP]} {line}", strong=True, hang=2)
    ways = list(way_lines(year, units, WAYS_ON_SCREEN)) or list(mending(year))
    for line in ways:
        out.print(f"- {line}")
    missing = {each.verdict.reasons[0].text for each in year.unfed}
    asked = dict.fromkeys(f"{MARKS[reason.severity]} {reason.text}" for reason in graver if reason.text not in missing)
    room = max(MIXES_ON_SCREEN - len(asked) - len(short), FEWEST_MIXES)
    mixes = [_mixes(year.mixes[:room], units, book)] if year.mixes or full else []
    if full:
        for text in asked:
            out.print(text, strong=True, hang=2)
    else:
        tables = sum(made.render(out.width).count("\n") + 3 for made in (*bins, *mixes))
        others = tables + sum(map(out.height, [*steps, *below])) + 2
        asked_of_year(year).fitting(out, others, named=True).print(out, named=True)
    for made in bins:
        out.print(made)
    for text in steps:
        out.print(text, strong=True)
    out.print()
    for made in mixes:
        out.print(made)
    if len(year.mixes) > room:
        out.print(f"And {len(year.mixes) - room} more mix{'es' if len(year.mixes) > room + 1 else ''}: --full has all.")
    for line in below:
        out.print(line)
    if not graver:
        out.print("Nothing to ask about the mixes.")


def money_line(year: Year, units: BookUnits) -> str:
    """What the year costs, what is bought and how much is home-grown."""
    rest = year.cost - year.bought_cost
    there = "what lies on the farm (grain at what it would bring, the rest at its price)" if year.on_farm else ""
    own = f", {money(rest)} for {there or 'own grain at what it would bring'} and for mixing"
    return (
        f"{money(year.cost, units.currency)} for {units.bulk(year.tonnes)} of feed: {money(year.bought_cost)} for "
        f"{units.bulk(year.bought_tonnes)} bought{own if abs(rest) >= CENT else ''}. "
        f"{100 * year.home_grown_share:.1f} % is home-grown.{packages_line(year)}"
    )


def packages_line(year: Year) -> str:
    """What is left over in the last packages, where that is something to a farm of this size."""
    left = year.left_in_packages
    return (
        f" Whole packages cost {money(left)} more: that is left over in the last of them."
        if left > (LEFT_TOLD * year.cost)
        else ""
    )


def _bins(year: Year, book: Book, units: BookUnits) -> Table:
    made = table(
        "The bins",
        [
            ("Bin", "left"),
            ("There", "right"),
            ("Fed", "right"),
            ("Left over", "right"),
            ("Empty on", "left"),
            ("Earliest", "left"),
            ("Latest", "left"),
            ("Keeps to", "left"),
            (f"Last {units.short}\nworth", "right"),
        ],
    )
    supplies = {s.name: s for s in year.search.supplies}
    left = {sale.bin: sale.tonnes for sale in year.sales}
    worth = {row.bin: row.value for row in year.worth}
    for row in year.runs_out:
        there = supplies[row.bin].mean_tonnes or 0.0
        made.add_row(
            row.bin,
            units.bulk(there),
            units.bulk(there - left[row.bin]),
            units.bulk(left[row.bin]),
            shown(row.on, book, "lasts"),
            shown(row.earliest, book, "lasts"),
            shown(row.latest, book, "lasts"),
            shown(row.keeps_until, book, "long"),
            f"+{units.price(worth[row.bin])}" if worth[row.bin] else "0",
        )
    return made


def _mixes(mixes: Sequence[Mix], units: BookUnits, book: Book) -> Table:
    made = table(
        "The mixes, in the order in which they are first fed",
        [
            ("Mix", "left"),
            ("For", "left"),
            ("From", "left"),
            (units.short, "right"),
            (units.per_mass, "right"),
            ("Made of, %", "left"),
            ("", "left"),
        ],
    )
    for mix in mixes:
        parts = sorted(mix.found.shares, key=lambda part: largest_first(part[1]))[:PARTS]
        made.add_row(
            mix.mix,
            _short(mix.groups),
            shown(mix.first_fed, book),
            units.bulk(mix.tonnes).split()[0],
            units.price(mix.cost_per_tonne),
            _made_of(parts),
            mix.verdict.severity,
        )
    return made


def _made_of(parts: Sequence[tuple[str, float]]) -> str:
    """As many of the parts as fit into a line, the largest first."""
    told = ""
    for name, share in parts:
        more = f"{', ' if told else ''}{name} {figure(100 * share, 3)}"
        if told and len(told) + len(more) > LINE:
            break
        told += more
    return told


def _short(names: Sequence[str]) -> str:
    """As many of the names as fit into a cell."""
    held = names[0][:SHORT]
    for place, name in enumerate(names[1:], start=1):
        if len(held) + len(name) + 2 > SHORT:
            return f"{held} +{len(names) - place}"
        held = f"{held}, {name}"
    return held


def few_lines(year: Year, units: BookUnits) -> Iterator[str]:
    """What the number of mixes costs, and how sure it is that no plan is cheaper."""
    few = year.few
    if not few.used:
        return
    if few.cost_of_any is None:
        gap = year.cost - year.bound
        if not year.unfed and gap <= 1e-5 * abs(year.cost):
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
        yield f"! {few.asked} mixes were asked for: no {few.asked} of those looked at feed everybody."
    if year.unfed:
        return
    sure = "proved the cheapest choice" if few.proved else "the cheapest choice found"
    yield f"It is {sure} of {len(year.search.master.mixes)} mixes looked at; no plan at all costs less than " + (
        f"{money(few.bound, units.currency)}."
    )


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


def _print_all(out: Terminal, year: Year, book: Book, units: BookUnits) -> None:
    out.rule("Animals and feed by month")
    out.print(animals_table(year, units))
    out.rule("Use by month")
    out.print(_uses(year, units))
    out.rule("Purchases")
    out.print(_purchases(year, book, units))
    out.rule("Every mix")
    out.print(_mixes(year.mixes, units, book))
    out.rule("What is left")
    for sale in year.sales:
        if sale.from_price is not None and sale.tonnes:
            price = units.price(sale.from_price, units.currency)
            out.print(
                f"- {sale.label}: {units.bulk(sale.tonnes)} left over; worth selling from {price} per {units.word} on."
            )
        elif sale.from_price is not None:
            price = units.price(sale.from_price, units.currency)
            out.print(f"- {sale.label}: all of it is fed; selling pays only above {price} per {units.word}.")
    for bin_, day in year.next_sample:
        out.print(f"- Sample {bin_} again by {shown(day, book)}, when a third of it is drawn.")
    for line in on_farm_lines(year, units):
        out.print(f"- {line}")
    for note in year.notes:
        out.print(f"- {note}")
    for line in way_lines(year, units):
        out.print(f"- {line}")
    out.rule("Reasons")
    print_reasons(out, year.verdict)
    for each in year.unfed:
        out.rule(f"{each.group}: what the nearest ration lacks")
        print_reasons(out, Verdict(each.verdict.reasons[1:]))


def animals_table(year: Year, units: BookUnits) -> Table:
    """Head on average and feed, a row a group and a column a month."""
    months = [month.label for month in year.season.months]
    made = table(
        f"Head on average / feed in {units.short}",
        [("Group", "left"), *((month, "right") for month in months)],
    )
    cells: dict[str, dict[str, str]] = {}
    for row in animal_rows(year):
        feed = units.bulk(row["tonnes"]).split()[0]
        cells.setdefault(row["group"], {})[row["month"]] = f"{row['head']:.0f} / {feed}"
    for group, held in cells.items():
        made.add_row(group, *(held.get(month, "") for month in months))
    return made


def _uses(year: Year, units: BookUnits) -> Table:
    made = table(
        f"Grain drawn, in {units.short}",
        [("Month", "left"), ("Bin", "left"), ("Group", "left"), ("Mix", "left"), ("Grain", "right"), ("Mix", "right")],
    )
    for use in year.uses:
        cells = (units.bulk(tonnes).split()[0] for tonnes in (use.tonnes, use.mix_tonnes))
        made.add_row(use.month, use.bin or "(none)", use.group, use.mix, *cells)
    return made


def _purchases(year: Year, book: Book, units: BookUnits) -> Table:
    made = table(
        "What to buy: what is eaten of it costs, and what is paid for whole packages",
        [
            ("Month", "left"),
            ("Offer", "left"),
            ("Order by", "left"),
            ("How much", "right"),
            ("Packages", "right"),
            (units.currency, "right"),
            ("Paid", "right"),
        ],
    )
    for month in year.season.months:
        rows = [row for row in year.purchases if row.month == month.label]
        for row in rows:
            packages = str(row.packages or "")
            much = units.amount(row.tonnes)
            made.add_row(
                row.month, row.label, shown(row.order_by, book), much, packages, money(row.cost), money(row.paid)
            )
        made.add_row(month.label, "together", "", "", "", *_sums(rows))
    return made


def _sums(rows: Sequence[Purchase]) -> tuple[str, str]:
    """What is eaten of a month's purchases costs, and what is paid for them."""
    return money(sum(row.cost for row in rows)), money(sum(row.paid for row in rows))
