"""rationlp check: every problem of a book."""

from __future__ import annotations

import csv
import sys
from dataclasses import asdict, fields
from pathlib import Path

import click

from rationlp.cli.options import book_argument, format_option, library_option
from rationlp.errors import Problem


@click.command(name="check")
@book_argument
@format_option
@library_option
def command(book: Path, form: str, library_dir: Path | None) -> None:
    """List every problem of a book: sheet and cell, what was found, what was expected, what to do.

    Exits 1 if a problem is an error; warnings alone do not stop any command.

    Example: rationlp check farm.xlsx
    """
    from rationlp.every_problem import every_problem

    problems = every_problem(book, library_dir)
    if form == "json":
        from rationlp.show.data.as_json import check_document, write_json

        write_json(check_document(book, problems))
    elif form == "csv":
        rows = csv.DictWriter(sys.stdout, [field.name for field in fields(Problem)], lineterminator="\n")
        rows.writeheader()
        rows.writerows(asdict(problem) for problem in problems)
    else:
        for problem in problems:
            click.echo(problem.line())
        click.echo(_summary(problems))
    if any(problem.severity == "error" for problem in problems):
        sys.exit(1)


def _summary(problems: list[Problem]) -> str:
    errors = sum(problem.severity == "error" for problem in problems)
    warnings = len(problems) - errors
    if not problems:
        return "No problems found."
    return f"{_count(errors, 'error')}, {_count(warnings, 'warning')}."


def _count(number: int, word: str) -> str:
    return f"{number or 'no'} {word}{'' if number == 1 else 's'}"
