"""rationlp resample: what a new sample of a bin changes."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from rationlp.cli.options import book_argument, format_option, library_option, load, stage_option

if TYPE_CHECKING:
    from rationlp.book.records import Book
    from rationlp.ledger.kept import KeptMix
    from rationlp.library import Library

NO_RATION = 3


@click.command(name="resample")
@book_argument
@click.option("--before", required=True, metavar="SAMPLE", help="The sample that the mixes in use were made by.")
@click.option("--after", required=True, metavar="SAMPLE", help="The new sample of the same bin.")
@stage_option
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE.xlsx",
    help="Write it as a sheet of a workbook; other sheets of the workbook stay.",
)
@format_option
@library_option
def command(
    book: Path,
    before: str,
    after: str,
    stages: tuple[str, ...],
    output: Path | None,
    form: str,
    library_dir: Path | None,
) -> None:
    """What a new sample changes: what moved in the bin, whether each old mix still holds, and what to change.

    The old mix is the one really made: as the crew weighed it (sheet 'actual'), else as its mix sheet was printed (kept
    beside the book), else reckoned from the old sample. Exit code 3 when a ration cannot be made any more.

    Example: rationlp resample farm.xlsx --before n1 --after n2
    """
    from rationlp.resample.change import resample

    if output is not None:
        from rationlp.pages.resample_page import check_place

        check_place(output, book)
    farm_book, library = load(book, library_dir)
    found = resample(farm_book, library, before, after, _mixes(farm_book, library), stages)
    if output is not None:
        from rationlp.pages.resample_page import write_page

        write_page(found, farm_book, output)
        click.echo(f"Written: {output}", err=True)
    if form == "json":
        from rationlp.show.data.as_json import write_json
        from rationlp.show.data.resample import resample_document

        write_json(resample_document(farm_book, found))
    elif form == "csv":
        from rationlp.show.data.resample import resample_frame

        click.echo(resample_frame(found).to_csv(index=False), nl=False)
    else:
        from rationlp.show.text.resample import print_resample

        print_resample(found, farm_book)
    if not found.all_met:
        sys.exit(NO_RATION)


def _mixes(book: Book, library: Library) -> list[KeptMix]:
    """Every mix that was made: as its sheet was printed, and as the crew weighed it."""
    from rationlp.ledger.kept import find, weighed_mix

    kept = find(book)
    if not book.actual:
        return kept
    from rationlp.ledger.weighed import made_in_book

    ids = {mix.id: (mix.stage, mix.bins) for mix in kept}
    for made in made_in_book(book, library, ids):
        label = library.stages[made.stage].label if made.stage in library.stages else made.stage.replace("_", " ")
        mix = weighed_mix(
            made.stage, label, made.bins, made.made_on, made.weighed_kg, book, name=made.batch, sheet=made.sheet
        )
        if mix is not None:
            kept.append(mix)
    return kept
