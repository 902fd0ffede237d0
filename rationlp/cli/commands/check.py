"""rationlp check: every problem of a book."""

from __future__ import annotations

import sys
from dataclasses import asdict, fields
from pathlib import Path

import click

from rationlp.cli.options import book_argument, format_option, full_option, library_option, paged
from rationlp.cli.output import check_folder, folder_option, overwrite_option, tell, write_answer
from rationlp.errors import Problem


@click.command(name="check")
@book_argument
@folder_option
@overwrite_option
@full_option
@format_option
@library_option
def command(book: Path, output: Path | None, overwrite: bool, full: bool, form: str, library_dir: Path | None) -> None:
    """List every problem of a book: sheet and cell, what was found, what was expected, what to do.

    Exits 1 if a problem is an error; warnings alone do not stop any command.

    Example: rationlp check farm.xlsx
    """
    if output is not None:
        check_folder(output, book, overwrite, form)
    from rationlp.every_problem import every_problem

    problems = every_problem(book, library_dir)
    if form == "json":
        from rationlp.show.data.as_json import check_document, write_json

        write_json(check_document(book, problems))
    elif output is not None:
        from rationlp.show.data.as_json import check_document

        write_answer(output, "check", check_document(book, problems))
    elif form == "csv":
        from rationlp.files import csv_table

        click.echo(csv_table([field.name for field in fields(Problem)], map(asdict, problems)), nl=False)
    elif full:
        with paged(full):
            tell(problems, to_stderr=False)
            click.echo(summary(problems))
    else:
        from rationlp.show.first.check import print_first

        print_first(problems, summary(problems))
    if any(problem.severity == "error" for problem in problems):
        sys.exit(1)


def summary(problems: list[Problem]) -> str:
    """How many errors and warnings there are, in words."""
    errors = sum(problem.severity == "error" for problem in problems)
    warnings = len(problems) - errors
    if not problems:
        return "No problems found."
    return f"{_count(errors, 'error')}, {_count(warnings, 'warning')}."


def _count(number: int, word: str) -> str:
    return f"{number or 'no'} {word}{'' if number == 1 else 's'}"
