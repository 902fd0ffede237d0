"""Options and steps that commands share."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from rationlp.cli import complete
from rationlp.cli.output import tell

if TYPE_CHECKING:
    from rationlp.api import OpenFarm
    from rationlp.library import Library


class Number(click.FloatRange):
    """A number within bounds; `nan` and `inf`, which pass every comparison or none, are refused."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number. Raises BadParameter."""
        number = super().convert(value, param, ctx)
        if not isfinite(number):
            self.fail(f"{value!r} is not a number.", param, ctx)
        return number


class Percent(Number):
    """A number of percent within bounds: `4`, `4%`."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number. Raises BadParameter."""
        return super().convert(str(value).strip().removesuffix("%"), param, ctx)


LEAST_PCT = 2
"""A number from here on is taken for a percentage where a share is asked for."""


class Share(click.ParamType):  # type: ignore[type-arg]  # click 8.1 has it without arguments
    """A share of 0 to 1, or a percentage: `0.9`, `90`, `90%`."""

    name = "share"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The share, 0 to 1. Raises BadParameter."""
        text = str(value).strip()
        try:
            number = float(text.removesuffix("%"))
        except ValueError:
            number = -1.0
        share = number / 100 if text.endswith("%") or number >= LEAST_PCT else number
        if not 0 <= share <= 1:  # 1.5 may be a slip of either
            self.fail(f"{value!r} is no share of 0 to 1, nor a percentage such as 90%.", param, ctx)
        return share


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
    shell_complete=complete.stages,
    help="A life stage by id, label or trade word ('early grower', '62 kg pig'), or a group of the book (may be "
    "repeated); 'all' for every one. Default: the stages of the book's groups.",
)
bin_option = click.option(
    "--bin",
    "bins",
    multiple=True,
    metavar="B",
    shell_complete=complete.bins,
    help="A bin (may be repeated). Default: all.",
)

price_option = click.option(
    "--price",
    "prices",
    multiple=True,
    metavar="OFFER=PRICE",
    help="What if an offer (or a bin's grain) had this price: soy48=365, soy_bags=8.50:25kg. May be repeated.",
)
set_option = click.option(
    "--set",
    "settings",
    multiple=True,
    metavar="SETTING=VALUE",
    help="What if a setting of the sheet 'farm' were this: confidence_pct=90. May be repeated.",
)
full_option = click.option("--full", is_flag=True, help="Print everything, not only the first screen.")


@contextmanager
def paged(full: bool, library: Library | None = None) -> Iterator[None]:
    """Lets a person at a terminal page through what is printed, where all of it was asked for.

    With a `library` the sources that stand in it by their ids follow in words.
    """
    if not full:
        yield
        return
    is_terminal = _is_terminal()
    pages = _Pages() if is_terminal else io.StringIO()
    with redirect_stdout(pages):
        yield
        if library is not None:
            from rationlp.show.text.sources import print_sources

            print_sources(pages.getvalue(), library)
    if is_terminal:
        click.echo_via_pager(pages.getvalue())
    else:
        click.echo(pages.getvalue(), nl=False)


@contextmanager
def started(full: bool) -> Iterator[None]:
    """Lets a list be cut where the first screen ends, unless all of it was asked for."""
    if full:
        with paged(full):
            yield
        return
    from rationlp.show.first.screen import print_start, screen

    lines = _Lines(screen().width)
    with redirect_stdout(lines):
        yield
    print_start(lines.getvalue())


class _Lines(io.StringIO):
    """Text on its way to a screen of so many columns."""

    def __init__(self, columns: int) -> None:
        super().__init__()
        self.columns = columns


def _is_terminal() -> bool:
    return sys.stdout.isatty()


class _Pages(io.StringIO):
    """Text on its way to a pager: laid out as for the terminal behind it."""

    def isatty(self) -> bool:
        return True


def opened(book: Path, library_dir: Path | None) -> OpenFarm:
    """The farm of a book; warnings about it go to stderr. Raises InputError."""
    from rationlp.api import open_farm

    farm = open_farm(book, library_dir)
    tell(farm.warnings)
    return farm
