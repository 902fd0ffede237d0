"""rationlp offers: what each offer is worth, and what its price may do."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from rationlp.cli import complete
from rationlp.cli.options import (
    Number,
    bin_option,
    book_argument,
    format_option,
    full_option,
    library_option,
    opened,
    paged,
    price_option,
    set_option,
    stage_option,
)
from rationlp.cli.output import check_folder, check_output, is_folder, leave, overwrite_option, write_answer

if TYPE_CHECKING:
    from rationlp.api import OpenFarm
    from rationlp.book.records import Book
    from rationlp.offers.study import Study
    from rationlp.rations.answer.model import Ration

MOST_DRAWS = 1_000_000
PLOTS = (".png", ".svg")


@click.command(name="offers")
@book_argument
@stage_option
@bin_option
@price_option
@set_option
@click.option("--together", is_flag=True, help="Let the bins go into one ration instead of one ration for each bin.")
@click.option(
    "--what-if",
    "feeds",
    multiple=True,
    metavar="FEED",
    shell_complete=complete.feeds,
    help="A feed of the library that nobody quotes (may be repeated).",
)
@click.option(
    "--compare",
    "compared",
    multiple=True,
    metavar="OFFER",
    shell_complete=complete.offers,
    help="Put these offers side by side (twice or more).",
)
@click.option(
    "--sweep",
    "sweeps",
    multiple=True,
    metavar="OFFER:LOW:HIGH:STEPS",
    shell_complete=complete.offers,
    help="The rations at STEPS prices of an offer from LOW to HIGH, per tonne or short ton (...:STEPS:25kg: per bag). "
    "Twice: a grid.",
)
@click.option(
    "--draws",
    type=click.IntRange(0, MOST_DRAWS),
    default=0,
    metavar="N",
    help="Number of random price draws between price_low and price_high of the offers (10000 is enough).",
)
@click.option(
    "--correlation",
    type=Number(0, 1),
    default=0.0,
    show_default=True,
    help="How much the drawn prices rise and fall together, 0 to 1.",
)
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Where the draws begin.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write the sweep as a plot (.png, .svg), or the table as .csv; with --format csv, DIR: a folder "
    "of tidy tables.",
)
@overwrite_option
@full_option
@format_option
@library_option
def command(
    book: Path,
    stages: tuple[str, ...],
    bins: tuple[str, ...],
    prices: tuple[str, ...],
    settings: tuple[str, ...],
    together: bool,
    feeds: tuple[str, ...],
    compared: tuple[str, ...],
    sweeps: tuple[str, ...],
    draws: int,
    correlation: float,
    seed: int,
    output: Path | None,
    overwrite: bool,
    full: bool,
    form: str,
    library_dir: Path | None,
) -> None:
    """What each offer is worth in each ration and over the farm, and over which prices today's mixes stay.

    For every offer: the price at which it comes in or starts to leave, the prices between which the mix stays, the cost
    without it; over all groups the tonnes to buy, the money at stake and what is second best; bin grain as feed against
    its sale value. Exit code 3 when a stage cannot be met.

    Example: rationlp offers farm.xlsx --stage sw_gro_25_50 --sweep soy48_bulk:300:500:11 -o soy.svg
    """
    from rationlp.cli.progress import progress

    folder = output if is_folder(output, form) else None
    if folder is not None:
        check_folder(folder, book, overwrite, form)
    elif output is not None:
        _check_output(output, sweeps)
        check_output(output, book, overwrite)
    today = opened(book, library_dir)
    farm = today.asked(prices, settings)
    only = bool(sweeps) and form != "json" and folder is None and not (feeds or compared or draws)
    with progress("Calculating") as begin:
        found = farm.offers(
            stages,
            bins,
            together,
            sweep=sweeps,
            what_if=feeds,
            compare=compared,
            draws=draws,
            correlation=correlation,
            seed=seed,
            only_sweep=only,
            equals=full or form == "json" or folder is not None,  # the first screen has no room for them
            begin=begin,
        )
    if output is not None and folder is None:
        _write(found, farm.book, output)
    if prices or settings:
        before = [solved.ration for solved in today.rations(stages, bins, together)]
        _show(found, farm, form, full, bool(compared), (*prices, *settings), before, folder=folder)
    else:
        _show(found, farm, form, full, bool(compared), folder=folder)
    leave(found.stopped, found.failed)


def _check_output(output: Path, sweeps: tuple[str, ...]) -> None:
    ending = output.suffix.casefold()
    if ending not in (*PLOTS, ".csv"):
        raise click.BadParameter(f"{output.name!r} does not end in .png, .svg or .csv", param_hint="-o")
    if ending in PLOTS and not sweeps:
        raise click.BadParameter("a plot needs --sweep", param_hint="-o")


def _write(found: Study, book: Book, output: Path) -> None:
    if output.suffix.casefold() in PLOTS:
        from rationlp.show.offers_plot import plot_sweeps

        if not found.sweeps:
            click.echo("Nothing to draw: the offer goes into none of these rations.", err=True)
            return
        plot_sweeps(found.sweeps, book.farm, output)
    else:
        from rationlp.files import write_whole_text
        from rationlp.show.data.frames import csv_of
        from rationlp.show.data.offers import study_frame

        write_whole_text(output, csv_of(study_frame(found)))
    click.echo(f"Written: {output}", err=True)


def _show(
    found: Study,
    farm: OpenFarm,
    form: str,
    full: bool,
    compared: bool,
    asked: Sequence[str] = (),
    today: Sequence[Ration] = (),
    folder: Path | None = None,
) -> None:
    if form == "json" or folder is not None:
        from rationlp.show.data.as_json import asked_object, write_json
        from rationlp.show.data.offers import offers_document

        document = offers_document(farm.book, found)
        whole = {**document, **asked_object(asked, today)} if asked else document
        write_json(whole) if folder is None else write_answer(folder, "offers", whole)
    elif form == "csv":
        from rationlp.show.data.frames import csv_of
        from rationlp.show.data.offers import study_frame

        click.echo(csv_of(study_frame(found)), nl=False)
    elif full:
        from rationlp.show.text.offers import print_study

        with paged(full, farm.library):
            print_study(found, farm.book, farm.library)
    else:
        from rationlp.show.first.offers import print_first

        print_first(found, farm.book, compared, asked, today)
