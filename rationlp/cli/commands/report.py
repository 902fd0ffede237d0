"""rationlp report: the page of the whole farm."""

from __future__ import annotations

from pathlib import Path

import click

from rationlp.cli.options import (
    bin_option,
    book_argument,
    format_option,
    library_option,
    opened,
    price_option,
    set_option,
    stage_option,
)
from rationlp.cli.output import check_output, leave, overwrite_option
from rationlp.cli.progress import waiting

ENDINGS = (".html", ".htm")


@click.command(name="report")
@book_argument
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE.html",
    help="The page to write. It needs no other file and no network.",
)
@overwrite_option
@stage_option
@bin_option
@click.option(
    "--frontiers",
    is_flag=True,
    help="Also what more confidence and more home-grown feed cost in each ration, to move on the page. Takes longer.",
)
@price_option
@set_option
@format_option
@library_option
def command(
    book: Path,
    output: Path,
    overwrite: bool,
    stages: tuple[str, ...],
    bins: tuple[str, ...],
    frontiers: bool,
    prices: tuple[str, ...],
    settings: tuple[str, ...],
    form: str,
    library_dir: Path | None,
) -> None:
    """One page of the whole farm, for the kitchen table, the phone and the signature.

    Exit code 3 when something on it must not be fed; the page says what and why, and is written all the same. With
    --format json or csv its rations are printed too, as by rationlp ration.

    Example: rationlp report farm.xlsx -o farm.html
    """
    if output.suffix.casefold() not in ENDINGS:
        raise click.BadParameter(f"{output.name!r} does not end in .html", param_hint="-o")
    check_output(output, book, overwrite)
    from rationlp.files import write_whole_text
    from rationlp.report.page import page_of

    farm = opened(book, library_dir).asked(prices, settings)
    with waiting("Putting the page together"):
        report = farm.report(stages, bins, frontiers)
        write_whole_text(output, page_of(report))
    click.echo(f"Written: {output}", err=True)
    rations = [case.ration for case in report.cases]
    if form == "json":
        from rationlp.show.data.as_json import ration_document, write_json

        write_json(ration_document(farm.book, rations))
    elif form == "csv":
        from rationlp.show.data.frames import csv_of, ration_frame

        click.echo(csv_of(ration_frame(rations)), nl=False)
    leave(report.severity == "stop", report.failed)
