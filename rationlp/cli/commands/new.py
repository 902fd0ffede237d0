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
    With --demo the invented farm's record, of what was mixed there, is written beside it.

    Example: rationlp new farm.xlsx
    """
    from rationlp.book import new_book

    if demo:
        _no_other_record(path)
    click.echo(new_book(path, demo=demo))
    if demo:
        _enter_what_was_mixed(path)
    click.echo(f"Fill it in, then: rationlp check {path}", err=True)


def _no_other_record(path: Path) -> None:
    """Raise BookError where a record lies already that a book at `path` would have: it is of another farm."""
    from rationlp.errors import BookError, Problem
    from rationlp.files import record_of

    if (record := record_of(path)).exists() and not path.exists():
        found, expected = "a farm's record of that name, already there", "a name without a record"
        do = "Choose another name, or move the record away; nothing was written."
        raise BookError([Problem("error", record.name, "", found, expected, do)])


def _enter_what_was_mixed(path: Path) -> None:
    """The record of the invented farm, beside its book."""
    from importlib.resources import files

    from rationlp.files import record_of
    from rationlp.ledger.export import rebuild
    from rationlp.ledger.store import Record

    record = Record(record_of(path))
    rebuild(record, Path(str(files("rationlp.book") / "demo_record")))
    click.echo(f"Beside it the farm's record, {record.path.name}, with what was mixed there.", err=True)
