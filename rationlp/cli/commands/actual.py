"""rationlp actual: what was really weighed, and whether it should be fed."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from rationlp.cli.options import (
    book_argument,
    format_option,
    full_option,
    library_option,
    opened,
    paged,
)
from rationlp.cli.output import check_folder, folder_option, overwrite_option, tell, write_answer

NOT_ALL_GOOD = 3


@click.command(name="actual")
@book_argument
@click.argument("sheet", required=False, type=click.Path(path_type=Path), metavar="[SHEET.xlsx]")
@click.option(
    "--uniformity",
    "samples",
    multiple=True,
    metavar="TEXT",
    help="Samples of one batch, 'salt: 0.31 0.29 0.33 ...' (may be repeated): is the mixer good enough?",
)
@click.option("--rows", is_flag=True, help="Print the batches as rows for the book's sheet 'actual' instead.")
@folder_option
@overwrite_option
@full_option
@format_option
@library_option
def command(
    book: Path,
    sheet: Path | None,
    samples: tuple[str, ...],
    rows: bool,
    output: Path | None,
    overwrite: bool,
    full: bool,
    form: str,
    library_dir: Path | None,
) -> None:
    """What was really weighed: the ration as mixed, what went wrong, whether to feed it, what is left.

    Reads the rows of the book's sheet 'actual', or a workbook of mix sheets that the crew filled in, judges each batch
    by what was known when it was made, and enters it in the farm's record. Exit code 3 when something must not be
    fed, or a mixer test misses its target.

    Example: rationlp actual farm.xlsx mix.xlsx
    """
    if output is not None:
        check_folder(output, book, overwrite, form)
    from rationlp.actual.uniformity import read_uniformity

    farm = opened(book, library_dir)
    tests = [read_uniformity(text) for text in samples]
    found = farm.actual(sheet, mixer_tests=tests, enter=not rows)
    tell(found.warnings)
    if rows:
        from rationlp.show.text.actual import rows_for_book

        click.echo(rows_for_book(found, farm.book), nl=False)
    elif form == "json":
        from rationlp.show.data.as_json import write_json
        from rationlp.show.text.actual import review_document

        write_json(review_document(found, farm.book))
    elif output is not None:
        from rationlp.show.text.actual import review_document

        write_answer(output, "actual", review_document(found, farm.book))
    elif form == "csv":
        from rationlp.show.text.actual import review_table

        click.echo(review_table(found), nl=False)
    elif full:
        from rationlp.show.text.actual import print_review

        with paged(full, farm.library):
            print_review(found, farm.book, farm.library)
    else:
        from rationlp.show.first.actual import print_first

        print_first(found, farm.book)
    if not found.good:
        sys.exit(NOT_ALL_GOOD)
