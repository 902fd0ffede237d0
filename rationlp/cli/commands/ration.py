"""rationlp ration: the least-cost ration of each stage from each bin."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

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
    stage_option,
)
from rationlp.cli.output import check_folder, check_output, folder_option, leave, overwrite_option, write_answer
from rationlp.cli.progress import waiting

if TYPE_CHECKING:
    from rationlp.answers import Rations
    from rationlp.api import OpenFarm


@click.command(name="ration")
@book_argument
@stage_option
@bin_option
@price_option
@set_option
@click.option("--together", is_flag=True, help="Let the bins go into one ration instead of one ration for each bin.")
@click.option(
    "--home-grown",
    type=Share(),
    default=0.0,
    metavar="SHARE",
    help="Minimum home-grown share of every ration: 0.9 or 90%.",
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
    help="Write everything a nutritionist needs to sign, as FILE.xlsx, FILE.html or FILE.json.",
)
@click.option(
    "--signed",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    metavar="FILE",
    help="Enter the signatures of a review copy that came back, instead of calculating.",
)
@folder_option
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
    home_grown: float,
    frontier: bool,
    concentrate: bool,
    shared: bool,
    review: Path | None,
    signed: Path | None,
    output: Path | None,
    overwrite: bool,
    full: bool,
    form: str,
    library_dir: Path | None,
) -> None:
    """The least-cost ration of each stage from each bin.

    Prints the mix, its cost, every requirement against what the mix gives, which ones bind and what they cost. Exit
    code 3 when a stage cannot be met; the nearest mix and what it misses are printed all the same.

    Example: rationlp ration farm.xlsx --stage sw_gro_25_50 --bin north
    """
    _check_options(frontier, concentrate, shared, review)
    if review is not None:
        check_output(review, book, overwrite, "--review")
    if output is not None:
        check_folder(output, book, overwrite, form)
    today = opened(book, library_dir)
    farm = today.asked(prices, settings)
    if signed is not None:
        _enter_signatures(signed, today)
        return
    if frontier:
        from rationlp.rations.studies.frontier import frontiers
        from rationlp.show.text.frontier import frontier_document, show_frontier

        found = frontiers(farm, stages, bins, together)
        if output is not None:
            write_answer(output, "ration", frontier_document(found, farm.book))
        else:
            show_frontier(found, farm.book, form)
        return
    with waiting("Calculating rations"):
        rations = farm.rations(stages, bins, together, home_grown)
    if review:
        _write_review(review, rations)
    if concentrate:
        _show_concentrates(rations, shared, form, output, full)
    else:
        before = today.rations(stages, bins, together, home_grown) if prices or settings else None
        _show_rations(rations, before, (*prices, *settings), form, full, output)
    failed = [made for made in rations if made.ration.failure]
    leave(any(made.verdict.severity == "stop" for made in rations if made not in failed), bool(failed))


def _check_options(frontier: bool, concentrate: bool, shared: bool, review: Path | None) -> None:
    from rationlp.report.papers.write import REVIEW_ENDINGS

    """Raises UsageError for options that do not go together."""
    if shared and not concentrate:
        raise click.UsageError("--shared goes with --concentrate.")
    if frontier and (concentrate or review):
        raise click.UsageError("--frontier prints no rations: leave out --concentrate and --review.")
    if review and review.suffix.casefold() not in REVIEW_ENDINGS:
        raise click.UsageError(f"--review writes a .json, an .xlsx or an .html file, not {review.name!r}.")


def _show_rations(
    rations: Rations, before: Rations | None, asked: Sequence[str], form: str, full: bool, output: Path | None
) -> None:
    made = [solved.ration for solved in rations]
    today = [solved.ration for solved in before or ()]
    if form == "json" or output is not None:
        from rationlp.show.data.as_json import asked_object, ration_document, write_json

        document = ration_document(rations.farm.book, made, rations.confidence_prices, rations.missing_offers)
        whole = {**document, **asked_object(asked, today)} if asked else document
        write_json(whole) if output is None else write_answer(output, "ration", whole)
    elif form == "csv":
        from rationlp.show.data.frames import csv_of, ration_frame

        click.echo(csv_of(ration_frame(made)), nl=False)
    elif full:
        from rationlp.show.text.ration import print_rations

        with paged(full, rations.farm.library):
            print_rations(made, rations.farm, rations.confidence_prices, rations.missing_offers)
    else:
        from rationlp.show.first.ration import print_first

        print_first(made, rations.farm.book, rations.missing_offers, asked, today)


def _show_concentrates(rations: Rations, shared: bool, form: str, output: Path | None, full: bool) -> None:
    from rationlp.rations.studies.concentrate import concentrate_of, shared_concentrates
    from rationlp.show.text.concentrate import concentrate_document, show_concentrates

    whole = [made for made in rations if made.ration.status == "optimal" and made.verdict.severity != "stop"]
    if shared:
        found = shared_concentrates(whole, rations.farm)
    else:
        found = [mix for made in whole if (mix := concentrate_of(made)) is not None]
    unmet = [made.ration for made in rations if made not in whole]
    if output is not None:
        write_answer(output, "ration", concentrate_document(found, unmet, rations.farm.book))
    elif full or form != "text":
        with paged(full):
            show_concentrates(found, unmet, rations.farm.book, form)
    else:
        from rationlp.show.first.concentrate import print_first

        print_first(found, [made.ration for made in whole], unmet, rations.farm.book)


def _enter_signatures(path: Path, farm: OpenFarm) -> None:
    from rationlp.actual.signed_copy import enter_signatures

    found = enter_signatures(path, farm.book)
    for each in found:
        until = f" until {farm.settings.day(each.valid_until)}" if each.valid_until else ""
        click.echo(f"Signed: {each.ration} by {each.signed_by}, {farm.settings.day(each.signed_on)}{until}.")
    if not found:
        click.echo("Every signature of it was entered before.")


def _write_review(path: Path, rations: Rations) -> None:
    from rationlp.ledger.signatures import signatures
    from rationlp.rations.studies.review import review_of
    from rationlp.report.papers.write import write_review

    farm = rations.farm
    write_review(review_of(rations.solved, farm), farm.settings, path, signatures(farm.book))
    click.echo(f"Review copy: {path}", err=True)
