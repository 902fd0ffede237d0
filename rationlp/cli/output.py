"""The one gate in front of every file a command writes."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TypeGuard

import click

from rationlp.errors import Problem, SolverError

NOT_TO_BE_FED = 3

overwrite_option = click.option(
    "--overwrite",
    is_flag=True,
    help="Write over a file that is there; a copy of it is kept. Never over the book or filled-in mix sheets.",
)


folder_option = click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="With --format csv: write a folder with one tidy file for each kind of row.",
)


def check_folder(folder: Path, book: Path, overwrite: bool, form: str) -> None:
    """Raise RequestError or UsageError unless the tables of an answer about `book` may be written as `folder`."""
    if form != "csv":
        raise click.UsageError("-o writes a folder of tables: add --format csv.")
    from rationlp.files import copy_of, may_write, refusal
    from rationlp.show.data.tidy import only_tables_in

    may_write(folder, book, overwrite=overwrite)
    if not folder.exists():
        return
    if not only_tables_in(folder):
        raise refusal(folder, "-o", "not a folder of such tables alone", "a new name", "Choose another name.")
    click.echo(f"What is in {folder} now is kept as {copy_of(folder).name}.", err=True)


def is_folder(output: Path | None, form: str) -> TypeGuard[Path]:
    """Whether `-o` names a folder of tables, where it may name a file, too: with --format csv, without an ending."""
    return output is not None and form == "csv" and not output.suffix


def write_answer(folder: Path, command: str, document: Mapping[str, object]) -> None:
    """Write the tables of an answer, and say so. Raises InputError."""
    from rationlp.show.data.tidy import write_tables

    write_tables(folder, command, document)
    click.echo(f"Written: {folder}", err=True)


def check_output(path: Path, book: Path, overwrite: bool, option: str = "-o") -> None:
    """Raise RequestError unless a command on `book` may write `path`: before any work.

    Never the book, a file of it, its record or a link to one; never a workbook that holds a person's work (weights, a
    farm book); another file that is there only with `overwrite`, which is told.
    """
    from rationlp.files import copy_of, may_write, refusal

    may_write(path, book, overwrite=overwrite, option=option)
    if not path.exists():
        return
    from rationlp.actual.printed import work_in

    if work := work_in(path):
        raise refusal(path, option, work, "a new name", "Choose another name: nothing writes over that.")
    click.echo(f"What is in {path} now is kept as {copy_of(path).name}.", err=True)


def leave(stopped: bool, failed: bool) -> None:
    """The exit code of what may be fed: 3 where something asked for must not be fed, before 4 where an answer did not
    stand up to verification."""
    if stopped:
        sys.exit(NOT_TO_BE_FED)
    if failed:
        sys.exit(SolverError.exit_code)


def tell(problems: Iterable[Problem], to_stderr: bool = True) -> None:
    """Problems, a line each, beside the answer or as the answer itself."""
    for problem in problems:
        from rationlp.show.terminal import print_whole  # mostly there is none

        print_whole(problem.line(), to_stderr)
