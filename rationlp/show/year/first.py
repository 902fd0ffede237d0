"""The first screen of `year`: money, tonnes, dates, this week's decisions and the mixes; `--full` prints the rest."""

from __future__ import annotations

from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.cautions import REVIEW
from rationlp.reasons import HEADLINES, Severity
from rationlp.show.first.screen import screen
from rationlp.show.terminal import Terminal
from rationlp.show.text.verdict import MARKS
from rationlp.show.year.asked import asked_of_year, mending, unfed_of
from rationlp.show.year.decisions import decisions
from rationlp.show.year.lines import draw_lines, few_lines, money_line, shown, way_lines
from rationlp.show.year.studies import print_studies
from rationlp.show.year.tables import bins_table, mixes_table
from rationlp.year.model import Year
from rationlp.year.studies.beside import YearStudies

MIXES_ON_SCREEN = 8
FEWEST_MIXES = 3
WAYS_ON_SCREEN = 3


def print_first(year: Year, book: Book, more: YearStudies | None = None) -> None:
    """Money, tonnes, dates and this week's decisions on one screen, and what was asked beside the plan."""
    out, units = screen(), units_of(book.farm)
    print_start(out, year, book, units)
    unfed = list(unfed_of(year, book))
    for line in unfed:
        out.print(f"{MARKS[Severity.STOP]} {line}", strong=True, hang=2)
    print_ways(out, year, units)
    bins = [bins_table(year, book, units)] if book.bins else []
    steps = [f"{n}. {text}" for n, text in enumerate(decisions(year, book), start=1)]
    room = max(MIXES_ON_SCREEN - len(what_to_ask(year)) - len(unfed), FEWEST_MIXES)
    mixes = [mixes_table(year.mixes[:room], units, book)] if year.mixes else []
    tables = sum(made.render(out.width).count("\n") + 3 for made in (*bins, *mixes))
    below = [*few_lines(year, units), *draw_lines(year, book, units)]
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
    print_below(out, year, book, units)
    if more is not None:
        print_studies(out, year, more, book, units)
    out.print("--full: by month, purchases, every mix, reasons. --format json has all.")
    out.print(REVIEW, strong=True)


def print_start(out: Terminal, year: Year, book: Book, units: BookUnits) -> None:
    """Which year, how it stands, and what it costs."""
    first, last = shown(year.season.first, book), shown(year.season.last, book)
    out.print(f"The feed year {first} to {last}: {HEADLINES[year.verdict.severity]}", strong=True)
    out.print(money_line(year, units))


def print_ways(out: Terminal, year: Year, units: BookUnits) -> None:
    """What would feed those that cannot be fed."""
    for line in list(way_lines(year, units, WAYS_ON_SCREEN)) or mending(year):
        out.print(f"- {line}")


def what_to_ask(year: Year) -> list[str]:
    """The reasons to stop or to ask, each once, without those of animals that cannot be fed, told by themselves."""
    missing = {each.verdict.reasons[0].text for each in year.unfed}
    graver = [reason for reason in year.verdict.reasons if reason.severity is not Severity.FEED]
    told = (f"{MARKS[reason.severity]} {reason.text}" for reason in graver if reason.text not in missing)
    return list(dict.fromkeys(told))


def print_below(out: Terminal, year: Year, book: Book, units: BookUnits) -> None:
    """What the number of mixes costs and what draws did to the plan, below the mixes."""
    for line in (*few_lines(year, units), *draw_lines(year, book, units)):
        out.print(line)
    if all(reason.severity is Severity.FEED for reason in year.verdict.reasons):
        out.print("Nothing to ask about the mixes.")
