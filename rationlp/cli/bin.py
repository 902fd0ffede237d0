"""rationlp bin: what is in each bin."""

from __future__ import annotations

from pathlib import Path

import click

from rationlp.cli.options import bin_option, book_argument, format_option, library_option, load


@click.command(name="bin")
@book_argument
@bin_option
@format_option
@library_option
def command(book: Path, bins: tuple[str, ...], form: str, library_dir: Path | None) -> None:
    """What is in each bin: tonnes, crop shares, nutrients and where each figure came from.

    Example: rationlp bin farm.xlsx --bin north
    """
    from rationlp.bins import estimate_bin
    from rationlp.rations.formulate import bin_groups

    farm_book, library = load(book, library_dir)
    names = [name for group in bin_groups(farm_book, bins, together=False) for name in group]
    estimates = [estimate_bin(name, farm_book, library) for name in names]
    if form == "json":
        from rationlp.show.as_json import bin_document, write_json

        write_json(bin_document(farm_book, estimates, library))
    elif form == "csv":
        from rationlp.show.frames import bin_frame

        click.echo(bin_frame(estimates).to_csv(index=False), nl=False)
    else:
        from rationlp.show.bin_text import print_bins

        print_bins(estimates, library)
