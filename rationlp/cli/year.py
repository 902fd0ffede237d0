"""rationlp year: the feed year."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from rationlp.cli.options import Number, bin_option, book_argument, format_option, library_option, opened

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
    full: bool,
    form: str,
    library_dir: Path | None,
) -> None:
    """The feed year: which bin feeds which group in which month, what to buy when, what runs out, what to sell.

    The animals come from the sheets herd and arrivals, or groups; the year ends before next_harvest_on of farm. Exit
    code 3 when somebody cannot be fed as they need; the plan that comes nearest is printed.

    Example: rationlp year farm.xlsx --most-mixes 6
    """
    farm = opened(book, library_dir)
    year = farm.year(bins, most_mixes=most_mixes, home_grown=home_grown, draws=draws, seed=seed)
    if form == "json":
        from rationlp.show.data.as_json import write_json
        from rationlp.show.data.year import year_document

        write_json(year_document(year, farm.book))
    elif form == "csv":
        from rationlp.show.data.frames import csv_of
        from rationlp.show.data.year import year_frame

        click.echo(csv_of(year_frame(year)), nl=False)
    else:
        from rationlp.show.text.year import print_year

        print_year(year, farm.book, full)
    if year.verdict.severity == "stop":
        sys.exit(NOT_ALL_FED)
