"""rationlp new: a farm book ready to fill in."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(name="new")
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--demo", is_flag=True, help="Fill it in with an invented farm, to try every command on.")
def command(path: Path, demo: bool) -> None:
    """Write a farm book ready to fill in: a workbook if PATH ends in .xlsx, else a folder of CSV files.

    The workbook has drop-down lists, and a note on every heading that says what belongs there. Nothing is overwritten.

    Example: rationlp new farm.xlsx
    """
    from rationlp.book import new_book

    click.echo(new_book(path, demo=demo))
    click.echo(f"Fill it in, then: rationlp check {path}", err=True)
