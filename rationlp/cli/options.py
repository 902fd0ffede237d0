"""Options and steps that commands share."""

from __future__ import annotations

from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from rationlp.api import OpenFarm


class Number(click.FloatRange):
    """A number within bounds; `nan` and `inf`, which pass every comparison or none, are refused."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number. Raises BadParameter."""
        number = super().convert(value, param, ctx)
        if not isfinite(number):
            self.fail(f"{value!r} is not a number.", param, ctx)
        return number


book_argument = click.argument("book", type=click.Path(path_type=Path))
format_option = click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "csv"]),
    default="text",
    show_default=True,
    help="How to print the answer.",
)
library_option = click.option(
    "--library",
    "library_dir",
    type=click.Path(path_type=Path, exists=True, file_okay=False),
    help="A feed library of your own instead of the shipped one.",
)
stage_option = click.option(
    "--stage",
    "stages",
    multiple=True,
    metavar="S",
    help="A life stage (may be repeated); 'all' for every one. Default: the stages of the book's groups.",
)
bin_option = click.option("--bin", "bins", multiple=True, metavar="B", help="A bin (may be repeated). Default: all.")


def opened(book: Path, library_dir: Path | None) -> OpenFarm:
    """The farm of a book; warnings about it go to stderr. Raises InputError."""
    from rationlp.api import open_farm

    farm = open_farm(book, library_dir)
    for problem in farm.warnings:
        click.echo(problem.line(), err=True)
    return farm
