"""rationlp ration: the least-cost ration of each stage from each bin."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from rationlp.cli.options import Number, bin_option, book_argument, format_option, library_option, load, stage_option

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rationlp.book.records import Book
    from rationlp.library import Library
    from rationlp.rations.formulate import Made

NO_RATION = 3


@click.command(name="ration")
@book_argument
@stage_option
@bin_option
@click.option("--together", is_flag=True, help="Let the bins go into one ration instead of one ration for each bin.")
@click.option(
    "--home-grown",
    type=Number(0, 1),
    default=0.0,
    metavar="SHARE",
    help="The least share of home-grown feed in every ration, 0 to 1.",
)
@click.option("--frontier", is_flag=True, help="Cost against home-grown share instead, percent by percent.")
@click.option("--concentrate", is_flag=True, help="The bought part of each ration as one mix, to feed with the grain.")
@click.option(
    "--shared", is_flag=True, help="With --concentrate: one mix for several stages, as few mixes as serve all."
)
@click.option(
    "--review",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write everything a nutritionist needs to sign, as FILE.json or FILE.xlsx.",
)
@click.option("--brief", is_flag=True, help="Only the table of all rations at a glance.")
@format_option
@library_option
def command(
    book: Path, stages: tuple[str, ...], bins: tuple[str, ...], together: bool, home_grown: float, frontier: bool,
    concentrate: bool, shared: bool, review: Path | None, brief: bool, form: str, library_dir: Path | None,
) -> None:  # fmt: skip
    """The least-cost ration of each stage from each bin.

    Prints the mix, its cost, every requirement against what the mix gives, which ones bind and what they cost. Exit
    code 3 when a stage cannot be met; the nearest mix and what it misses are printed all the same.

    Example: rationlp ration farm.xlsx --stage sw_gro_25_50 --bin north
    """
    _check_options(frontier, concentrate, shared, review)
    farm_book, library = load(book, library_dir)
    if frontier:
        from rationlp.rations.studies.frontier import frontiers
        from rationlp.show.text.frontier import show_frontier

        show_frontier(frontiers(farm_book, library, stages, bins, together), farm_book, form)
        return
    from rationlp.rations.formulate import make

    makes = make(farm_book, library, stages, bins, together, home_grown)
    if review:
        _write_review(review, makes, farm_book, library)
    if concentrate:
        _show_concentrates(makes, shared, farm_book, library, form)
    else:
        _show_rations(makes, farm_book, form, brief)
    if any(made.ration.status != "optimal" for made in makes):
        sys.exit(NO_RATION)


def _check_options(frontier: bool, concentrate: bool, shared: bool, review: Path | None) -> None:
    """Raises UsageError for options that do not go together."""
    if shared and not concentrate:
        raise click.UsageError("--shared goes with --concentrate.")
    if frontier and (concentrate or review):
        raise click.UsageError("--frontier prints no rations: leave out --concentrate and --review.")
    if review and review.suffix.lower() not in (".json", ".xlsx"):
        raise click.UsageError(f"--review writes a .json or an .xlsx file, not {review.name!r}.")


def _show_rations(makes: Sequence[Made], book: Book, form: str, brief: bool) -> None:
    rations = [made.ration for made in makes]
    if form == "json":
        from rationlp.show.data.as_json import ration_document, write_json

        write_json(ration_document(book, rations))
    elif form == "csv":
        from rationlp.show.data.frames import ration_frame

        click.echo(ration_frame(rations).to_csv(index=False), nl=False)
    else:
        from rationlp.show.text.ration import print_rations

        print_rations(rations, book, brief=brief)


def _show_concentrates(makes: Sequence[Made], shared: bool, book: Book, library: Library, form: str) -> None:
    from rationlp.rations.studies.concentrate import concentrate_of, shared_concentrates
    from rationlp.show.text.concentrate import show_concentrates

    whole = [made for made in makes if made.ration.status == "optimal"]
    if shared:
        found = shared_concentrates(whole, book, library)
    else:
        found = [mix for made in whole if (mix := concentrate_of(made)) is not None]
    show_concentrates(found, [made.ration for made in makes if made not in whole], book, form)


def _write_review(path: Path, makes: Sequence[Made], book: Book, library: Library) -> None:
    from rationlp.pages.review_copy import write_review
    from rationlp.rations.studies.review import review_of

    write_review(path, review_of(makes, book, library))
    click.echo(f"Review copy: {path}", err=True)
