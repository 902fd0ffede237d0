"""rationlp ration: the least-cost ration of each stage from each bin."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from rationlp.cli.options import bin_option, book_argument, format_option, library_option, load, stage_option

NO_RATION = 3


@click.command(name="ration")
@book_argument
@stage_option
@bin_option
@click.option("--together", is_flag=True, help="Let the bins go into one ration instead of one ration for each bin.")
@click.option(
    "--home-grown", type=click.FloatRange(0, 1), default=0.0, metavar="SHARE",
    help="The least share of home-grown feed in every ration, 0 to 1.",
)
@click.option("--frontier", is_flag=True, help="Cost against home-grown share instead, percent by percent.")
@click.option("--brief", is_flag=True, help="Only the table of all rations at a glance.")
@format_option
@library_option
def command(
    book: Path, stages: tuple[str, ...], bins: tuple[str, ...], together: bool, home_grown: float, frontier: bool,
    brief: bool, form: str, library_dir: Path | None,
) -> None:  # fmt: skip
    """The least-cost ration of each stage from each bin.

    Prints the mix, its cost, every requirement against what the mix gives, which ones bind and what they cost. Exit
    code 3 when a stage cannot be met; the nearest mix and what it misses are printed all the same.

    Example: rationlp ration farm.xlsx --stage sw_gro_25_50 --bin north
    """
    from rationlp.rations.formulate import formulate
    from rationlp.rations.frontier import frontiers
    from rationlp.show.frontier import show_frontier

    farm_book, library = load(book, library_dir)
    if frontier:
        show_frontier(frontiers(farm_book, library, stages, bins, together), farm_book, form)
        return
    rations = formulate(farm_book, library, stages, bins, together, home_grown)
    if form == "json":
        from rationlp.show.as_json import ration_document, write_json

        write_json(ration_document(farm_book, rations))
    elif form == "csv":
        from rationlp.show.frames import ration_frame

        click.echo(ration_frame(rations).to_csv(index=False), nl=False)
    else:
        from rationlp.show.ration_text import print_rations

        print_rations(rations, farm_book, brief=brief)
    if any(ration.status != "optimal" for ration in rations):
        sys.exit(NO_RATION)
