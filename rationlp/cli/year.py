"""rationlp year: the feed year."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from rationlp.cli.options import Number, bin_option, book_argument, format_option, library_option, opened
from rationlp.errors import Problem, RequestError

if TYPE_CHECKING:
    from rationlp.api import OpenFarm

NOT_ALL_FED = 3


@click.command(name="year")
@book_argument
@bin_option
@click.option("--most-mixes", type=click.IntRange(1), metavar="N", help="At most so many mixes. Default: the book's.")
@click.option("--home-grown", type=Number(0, 1), metavar="SHARE", help="Least home-grown share of the year, 0 to 1.")
@click.option(
    "--draws", type=click.IntRange(0, 10_000), default=0, metavar="N", help="Draw so many years of prices and losses."
)
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Which draws.")
@click.option("--frontier", is_flag=True, help="What each further part of home-grown feed would cost.")
@click.option("--separate", is_flag=True, help="What taking the crops of a bin apart would be worth.")
@click.option("--seed-mix", "next_seed", is_flag=True, help="A seed mix for next season, from the sheet crops.")
@click.option(
    "--price",
    "prices",
    multiple=True,
    metavar="OFFER=PRICE",
    help="What if an offer, or a bin's grain, had this price. May be repeated.",
)
@click.option(
    "--set",
    "settings",
    multiple=True,
    metavar="SETTING=VALUE",
    help="What if a setting of the sheet 'farm' were this. May be repeated.",
)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE.xlsx",
    help="Write the year as a workbook with calendar and plots.",
)
@click.option("--overwrite", is_flag=True, help="Write over a workbook that is there.")
@click.option("--full", is_flag=True, help="Print everything, not only the first screen.")
@format_option
@library_option
def command(
    book: Path,
    bins: tuple[str, ...],
    most_mixes: int | None,
    home_grown: float | None,
    draws: int,
    seed: int,
    frontier: bool,
    separate: bool,
    next_seed: bool,
    prices: tuple[str, ...],
    settings: tuple[str, ...],
    output: Path | None,
    overwrite: bool,
    full: bool,
    form: str,
    library_dir: Path | None,
) -> None:
    """The feed year: which bin feeds which group in which month, what to buy when, what runs out, what to sell.

    The animals come from the sheets herd and arrivals, or groups; the year ends before next_harvest_on of farm. Exit
    code 3 when somebody cannot be fed as they need; the plan that comes nearest is printed.

    Example: rationlp year farm.xlsx --most-mixes 6
    """
    if output is not None:
        from rationlp.pages.year_page import check_place

        check_place(output, book, overwrite)
    from rationlp.year.studies.beside import YearStudies

    today = opened(book, library_dir)
    farm = _asked(today, prices, settings)
    year = farm.year(bins, most_mixes=most_mixes, home_grown=home_grown, draws=draws, seed=seed)
    before = None if farm is today else today.year(bins, most_mixes=most_mixes, home_grown=home_grown)
    shares = farm.home_grown_frontier(year, bins, most_mixes=most_mixes) if frontier else ()
    apart = farm.separated(bins, home_grown=home_grown) if separate else ()
    more = YearStudies(before, shares, apart, farm.seed_mix(seed) if next_seed else None)
    if output is not None:
        from rationlp.pages.year_page import write_year

        write_year(year, farm.book, output)
        click.echo(f"Written: {output}", err=True)
    if form == "json":
        from rationlp.show.data.as_json import write_json
        from rationlp.show.data.year import year_document

        write_json(year_document(year, farm.book, more))
    elif form == "csv":
        from rationlp.show.data.frames import csv_of
        from rationlp.show.data.year import year_frame

        click.echo(csv_of(year_frame(year)), nl=False)
    else:
        from rationlp.show.text.year import print_year

        print_year(year, farm.book, full, more)
    if year.verdict.severity == "stop":
        sys.exit(NOT_ALL_FED)


def _asked(farm: OpenFarm, prices: Sequence[str], settings: Sequence[str]) -> OpenFarm:
    """The farm with these prices and settings; the same one where none are asked for. Raises RequestError."""
    for text in prices:
        offer, price = _pair(text, "price", "OFFER=PRICE")
        try:
            farm = farm.with_price(offer, float(price))
        except ValueError:
            raise RequestError([Problem("error", "price", "", repr(text), "a number after =", "Correct it.")]) from None
    for text in settings:
        farm = farm.with_setting(*_pair(text, "set", "SETTING=VALUE"))
    return farm


def _pair(text: str, option: str, expected: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not (name and equals and value):
        raise RequestError([Problem("error", option, "", repr(text), expected, "Write it like this.")])
    return name, value
