"""All of a planned year for the terminal (`--full`): how it stands, what was asked beside it, everything by month."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.cautions import ASK_WHOM, NOT_SOLD, REVIEW
from rationlp.farm import Farm
from rationlp.numbers import money
from rationlp.reasons import Severity, Verdict
from rationlp.show.data.year import animal_rows
from rationlp.show.terminal import Table, Terminal, console, table
from rationlp.show.text.verdict import MARKS, print_reasons
from rationlp.show.year.decisions import decisions
from rationlp.show.year.first import print_below, print_start, print_ways, what_to_ask
from rationlp.show.year.lines import left_over_lines, on_farm_lines, shown, unfed_lines, way_lines
from rationlp.show.year.studies import print_studies
from rationlp.show.year.tables import bins_table, mixes_table
from rationlp.year.model import Purchase, Year
from rationlp.year.studies.beside import YearStudies


def print_full(year: Year, farm: Farm, more: YearStudies | None = None) -> None:
    """Money, tonnes, dates, every reason and mix, the months, and what was asked beside the plan."""
    book = farm.book
    out, units = console(), units_of(book.farm)
    print_start(out, year, book, units)
    for line in unfed_lines(year, book):
        out.print(f"{MARKS[Severity.STOP]} {line}", strong=True, hang=2)
    print_ways(out, year, units)
    for text in what_to_ask(year):
        out.print(text, strong=True, hang=2)
    if book.bins:
        out.print(bins_table(year, book, units))
    for n, text in enumerate(decisions(year, book), start=1):
        out.print(f"{n}. {text}", strong=True)
    out.print()
    print_below(out, year, book, units)
    if more is not None:
        print_studies(out, year, more, book, units)
    _print_by_month(out, year, farm, units)
    out.print(REVIEW, strong=True)


def _print_by_month(out: Terminal, year: Year, farm: Farm, units: BookUnits) -> None:
    book = farm.book
    out.rule("Animals and feed by month")
    out.print(animals_table(year, units))
    out.rule("Use by month")
    out.print(_uses(year, units))
    out.rule("Purchases")
    out.print(_purchases(year, book, units))
    out.rule("Every mix")
    out.print(mixes_table(year.mixes, units, book))
    out.rule("What is left")
    for sale in year.sales:
        if sale.harmful and sale.tonnes:
            out.print(f"- {sale.label}: {units.bulk(sale.tonnes)} left over; {NOT_SOLD}: {ASK_WHOM}.")
        elif sale.from_price is not None and sale.tonnes:
            price = units.price(sale.from_price, units.currency)
            out.print(
                f"- {sale.label}: {units.bulk(sale.tonnes)} left over; worth selling from {price} per {units.word} on."
            )
        elif sale.from_price is not None:
            price = units.price(sale.from_price, units.currency)
            out.print(f"- {sale.label}: all of it is fed; selling pays only above {price} per {units.word}.")
    for bin_, day in year.next_sample:
        out.print(f"- Sample {bin_} again by {shown(day, book)}, when a third of it is drawn.")
    for line in (*on_farm_lines(year, units), *left_over_lines(year, units)):
        out.print(f"- {line}")
    for note in year.notes:
        out.print(f"- {note}")
    for line in way_lines(year, units):
        out.print(f"- {line}")
    out.rule("Reasons")
    print_reasons(out, year.verdict, farm.library)
    for each in year.unfed:
        out.rule(f"{each.group}: what the nearest ration lacks")
        print_reasons(out, Verdict(each.verdict.reasons[1:]), farm.library)


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
