"""rationlp resample: what a new sample of a bin changes."""

from __future__ import annotations

from pathlib import Path

import click

from rationlp.cli import complete
from rationlp.cli.options import (
    book_argument,
    format_option,
    full_option,
    library_option,
    opened,
    paged,
    stage_option,
)
from rationlp.cli.output import check_folder, check_output, is_folder, leave, overwrite_option, write_answer
from rationlp.cli.progress import waiting


@click.command(name="resample")
@book_argument
@click.option(
    "--before",
    metavar="SAMPLE",
    shell_complete=complete.samples,
    help="The sample that the mixes in use were made by. Without it, the one before the newest of the bin.",
)
@click.option("--after", metavar="SAMPLE", shell_complete=complete.samples, help="The new sample of the same bin.")
@stage_option
@click.option(
    "--year", "rest_of_year", is_flag=True, help="What it changes in the rest of the feed year: money, tonnes, dates."
)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="FILE.xlsx",
    help="Write it as a workbook; with --overwrite as a sheet of one that is there, whose other sheets "
    "stay; with --format csv, DIR: a folder of tidy tables.",
)
@overwrite_option
@full_option
@format_option
@library_option
def command(
    book: Path,
    before: str | None,
    after: str | None,
    stages: tuple[str, ...],
    rest_of_year: bool,
    output: Path | None,
    overwrite: bool,
    full: bool,
    form: str,
    library_dir: Path | None,
) -> None:
    """What a new sample changes: what moved in the bin, whether each old mix still holds, and what to change.

    The old mix is the one really made: as the crew weighed it (sheet 'actual'), else as its mix sheet was printed (kept
    beside the book), else calculated from the old sample. Exit code 3 when a ration cannot be made any more.

    Example: rationlp resample farm.xlsx --before n0 --after n1
    """
    if (before is None) is not (after is None):
        raise click.UsageError("Name both samples, with --before and --after, or neither.")
    folder = output if is_folder(output, form) else None
    if folder is not None:
        check_folder(folder, book, overwrite, form)
    elif output is not None:
        from rationlp.pages.resample_page import check_place

        check_output(output, book, overwrite)
        check_place(output)
    from rationlp.resample.moved import newest_pair

    farm = opened(book, library_dir)
    if before is None or after is None:
        before, after = newest_pair(farm.book)
    with waiting("Calculating mixes"):
        found = farm.resample(before, after, stages)
        years = farm.resampled_year(before, after) if rest_of_year else None
    if output is not None and folder is None:
        from rationlp.pages.resample_page import write_page

        write_page(found, farm.book, output)
        click.echo(f"Written: {output}", err=True)
    if form == "json":
        from rationlp.show.data.as_json import write_json
        from rationlp.show.data.resample import resample_document

        write_json(resample_document(farm.book, found, years))
    elif folder is not None:
        from rationlp.show.data.resample import resample_document

        write_answer(folder, "resample", resample_document(farm.book, found, years))
    elif form == "csv":
        from rationlp.show.data.frames import csv_of
        from rationlp.show.data.resample import resample_frame

        click.echo(csv_of(resample_frame(found)), nl=False)
    elif full:
        from rationlp.show.text.resample import print_resample

        with paged(full, farm.library):
            print_resample(found, farm.book)
    else:
        from rationlp.show.first.resample import print_first

        print_first(found, farm.book)
    if years is not None and form == "text":
        from rationlp.show.year.studies import print_rest

        print_rest(*years, farm.book)
    leave(found.stopped, found.failed)
