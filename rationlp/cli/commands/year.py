"""rationlp year: the feed year."""

from __future__ import annotations

from pathlib import Path

import click

from rationlp.cli.options import (
    Share,
    bin_option,
    book_argument,
    format_option,
    full_option,
    library_option,
    opened,
    paged,
    price_option,
    set_option,
)
from rationlp.cli.output import check_folder, check_output, is_folder, leave, overwrite_option, write_answer

ENDING = ".xlsx"


@click.command(name="year")
@book_argument
@bin_option
@click.option(
    "--most-mixes", type=click.IntRange(1), metavar="N", help="At most this number of mixes. Default: the book's."
)
@click.option("--home-grown", type=Share(), metavar="SHARE", help="Minimum home-grown share of the year: 0.9 or 90%.")
@click.option(
    "--draws",
    type=click.IntRange(0, 10_000),
    default=0,
    metavar="N",
    help="Years of prices, harvest, bins, losses to draw.",
)
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Which draws.")
@click.option(
    "--from",
    "start",
    metavar="DATE",
    help="Plan from this day on; what the farm's record says was mixed before it is out of the bins.",
)
@click.option("--frontier", is_flag=True, help="What each further part of home-grown feed would cost.")
@click.option("--separate", is_flag=True, help="What taking the crops of a bin apart would be worth.")
@click.option("--seed-mix", "next_seed", is_flag=True, help="A seed mix for next season, from the sheet crops.")
@click.option(
    "--fewer",
    multiple=True,
    metavar="LINE[=DATE]",
    help="Leave out a lot of a line of herd: the one that eats most, or that which begins on a day. Repeatable.",
)
@price_option
@set_option
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="FILE.xlsx",
    help="Write the year as a workbook with calendar and plots; with --format csv, DIR: a folder of tidy tables.",
)
@overwrite_option
@full_option
@format_option
@library_option
def command(
    book: Path,
    bins: tuple[str, ...],
    most_mixes: int | None,
    home_grown: float | None,
    draws: int,
    seed: int,
    start: str | None,
    frontier: bool,
    separate: bool,
    next_seed: bool,
    fewer: tuple[str, ...],
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
    folder = output if is_folder(output, form) else None
    if folder is not None:
        check_folder(folder, book, overwrite, form)
    elif output is not None:
        if output.suffix.casefold() != ENDING:
            raise click.BadParameter(f"{output.name!r} does not end in {ENDING}", param_hint="-o")
        check_output(output, book, overwrite)
    from rationlp.year.studies.beside import YearStudies

    today = opened(book, library_dir).from_day(start)
    farm = today.asked(prices, settings)
    farm = farm.with_fewer(fewer) if fewer else farm
    year = farm.year(bins, most_mixes=most_mixes, home_grown=home_grown, draws=draws, seed=seed)
    before = None if farm is today else today.year(bins, most_mixes=most_mixes, home_grown=home_grown)
    in_vain = bool(year.unfed) and (frontier or separate or next_seed)
    shares = farm.home_grown_frontier(year, bins, most_mixes=most_mixes) if frontier and not in_vain else ()
    apart = farm.separated(bins, home_grown=home_grown) if separate and not in_vain else ()
    sown = farm.seed_mix(seed) if next_seed and not in_vain else None
    more = YearStudies(before, shares, apart, sown, in_vain)
    if output is not None and folder is None:
        from rationlp.pages.year.year_page import write_year

        write_year(year, farm.book, output)
        click.echo(f"Written: {output}", err=True)
    if form == "json":
        from rationlp.show.data.as_json import write_json
        from rationlp.show.data.year import year_document

        write_json(year_document(year, farm.book, more))
    elif folder is not None:
        from rationlp.show.data.year import year_document

        write_answer(folder, "year", year_document(year, farm.book, more))
    elif form == "csv":
        from rationlp.show.data.frames import csv_of
        from rationlp.show.data.year import year_frame

        click.echo(csv_of(year_frame(year)), nl=False)
    else:
        from rationlp.show.year.first import print_first
        from rationlp.show.year.full import print_full

        with paged(full, farm.library):
            if full:
                print_full(year, farm, more)
            else:
                print_first(year, farm.book, more)
    leave(year.stopped, year.failed)
