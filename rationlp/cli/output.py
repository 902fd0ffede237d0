"""The one gate in front of every file a command writes."""

from __future__ import annotations

from pathlib import Path

import click

overwrite_option = click.option(
    "--overwrite",
    is_flag=True,
    help="Write over a file that is there; a copy of it is kept. Never over the book or filled-in mix sheets.",
)


def check_output(path: Path, book: Path, overwrite: bool, option: str = "-o") -> None:
    """Raise RequestError unless a command on `book` may write `path`: before any work.

    Never the book, a file of it, its record or a link to one; never a workbook that holds a person's work (weights, a
    farm book); another file that is there only with `overwrite`, which is told.
    """
    from rationlp.files import copy_of, may_write, refusal

    may_write(path, book, overwrite=overwrite, option=option)
    if not path.exists():
        return
    from rationlp.actual.filled import work_in

    if work := work_in(path):
        raise refusal(path, option, work, "a new name", "Choose another name: nothing writes over that.")
    click.echo(f"What is in {path} now is kept as {copy_of(path).name}.", err=True)
