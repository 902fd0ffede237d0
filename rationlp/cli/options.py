"""Options and steps that commands share."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from rationlp.book.records import Book
    from rationlp.errors import Problem
    from rationlp.library import Library

book_argument = click.argument("book", type=click.Path(path_type=Path))
format_option = click.option(
    "--format", "form", type=click.Choice(["text", "json", "csv"]), default="text", show_default=True,
    help="How to print the answer.",
)  # fmt: skip
library_option = click.option(
    "--library", "library_dir", type=click.Path(path_type=Path, exists=True, file_okay=False),
    help="A feed library of your own instead of the shipped one.",
)  # fmt: skip
stage_option = click.option(
    "--stage", "stages", multiple=True, metavar="S",
    help="A life stage (may be repeated); 'all' for every one. Default: the stages of the book's groups.",
)  # fmt: skip
bin_option = click.option("--bin", "bins", multiple=True, metavar="B", help="A bin (may be repeated). Default: all.")


def load(book_path: Path, library_dir: Path | None) -> tuple[Book, Library]:
    """The book and the library, checked against each other; warnings go to stderr. Raises InputError."""
    from rationlp.book import check_book, read_book
    from rationlp.errors import BookError
    from rationlp.library import load_library

    library = load_library(library_dir)
    book = read_book(book_path, library.units)
    problems = check_book(book, library)
    if any(problem.severity == "error" for problem in problems):
        raise BookError(problems)
    talk(problems)
    return book, library


def talk(problems: list[Problem]) -> None:
    """Warnings, a line each, on stderr."""
    for problem in problems:
        click.echo(problem.line(), err=True)
