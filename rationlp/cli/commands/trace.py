"""rationlp trace: from animals back to bins, samples and lots, and from a bin or lot on to the animals."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from rationlp.cli.options import book_argument, format_option, full_option, library_option, opened, paged
from rationlp.cli.output import check_folder, check_output, is_folder, overwrite_option, tell, write_answer

if TYPE_CHECKING:
    from rationlp.api import OpenFarm
    from rationlp.trace.follow import Trace

ENDINGS = (".html", ".txt")


@click.command(name="trace")
@book_argument
@click.option("--group", default="", metavar="G", help="What this group of animals ate.")
@click.option("--bin", "bin_", default="", metavar="B", help="Where the grain of this bin went.")
@click.option("--lot", default="", metavar="L", help="Where this lot of a bought feed went: the recall.")
@click.option("--batch", default="", metavar="N", help="One batch, by the number or the label on it.")
@click.option("--from", "start", metavar="DATE", help="From this day of eating, written as in the book.")
@click.option("--to", "end", metavar="DATE", help="Up to this day of eating.")
@click.option("--statement", is_flag=True, help="What the animals ate, for the buyer of pork or eggs; with -o a page.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write the statement: a page (.html) or text (.txt); with --format csv, DIR: a folder of tidy tables.",
)
@overwrite_option
@full_option
@click.option(
    "--export",
    "export_to",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Write the whole record as CSV files, from which it can be rebuilt.",
)
@click.option(
    "--rebuild",
    "rebuild_from",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    metavar="DIR",
    help="Enter what an export has and the record has not.",
)
@format_option
@library_option
def command(
    book: Path,
    group: str,
    bin_: str,
    lot: str,
    batch: str,
    start: str | None,
    end: str | None,
    statement: bool,
    output: Path | None,
    overwrite: bool,
    full: bool,
    export_to: Path | None,
    rebuild_from: Path | None,
    form: str,
    library_dir: Path | None,
) -> None:
    """Where feed came from and where it went: batches, animals, bins, samples and lots, each with its verdict.

    The days are the widest that the record allows: batches are eaten one after the other, and animals may eat somewhat
    more or less than the tables say.

    Example: rationlp trace farm.xlsx --lot maize_1
    """
    folder = output if is_folder(output, form) and not statement else None
    _check(None if folder else output, statement, group, bool(export_to or rebuild_from))
    if folder is not None:
        check_folder(folder, book, overwrite, form)
    elif output is not None:
        check_output(output, book, overwrite)
    from rationlp.book.asked import read_asked_day

    farm = opened(book, library_dir)
    if export_to or rebuild_from:
        _move(farm, export_to, rebuild_from)
        return
    asked = (("from", start), ("to", end))
    days = [None if text is None else read_asked_day(name, text, farm.settings) for name, text in asked]
    found = farm.trace(group, bin_, lot, batch, *days)
    if statement:
        _statement(found, farm, output)
    elif form == "json":
        from rationlp.show.data.as_json import write_json
        from rationlp.show.data.trace import trace_document

        write_json(trace_document(found, farm.book))
    elif folder is not None:
        from rationlp.show.data.trace import trace_document

        write_answer(folder, "trace", trace_document(found, farm.book))
    elif form == "csv":
        from rationlp.show.data.trace import trace_table

        click.echo(trace_table(found), nl=False)
    else:
        from rationlp.show.text.trace import print_trace

        with paged(full, farm.library):
            print_trace(found, farm.book, date.today(), full)


def _check(output: Path | None, statement: bool, group: str, moves: bool) -> None:
    if output is not None and not statement:
        raise click.UsageError("-o writes the statement: add --statement.")
    if statement and not group:
        raise click.UsageError("--statement is of one group of animals: add --group.")
    if moves and (output or statement):
        raise click.UsageError("--export and --rebuild go alone.")
    if output is not None and output.suffix.casefold() not in ENDINGS:
        raise click.BadParameter(f"{output.name!r} does not end in .html or .txt", param_hint="-o")


def _move(farm: OpenFarm, export_to: Path | None, rebuild_from: Path | None) -> None:
    from rationlp.ledger.export import export, rebuild
    from rationlp.ledger.kept import record_for

    record = record_for(farm.book)
    if rebuild_from is not None:
        click.echo(f"{rebuild(record, rebuild_from)} entries that the record did not have are entered.", err=True)
    if export_to is not None:
        export(record, export_to)
        click.echo(f"Written: {export_to}", err=True)
    tell(record.damaged)


def _statement(found: Trace, farm: OpenFarm, output: Path | None) -> None:
    from rationlp.trace.statement import statement_of

    made = statement_of(found, farm.book)
    if output is None:
        from rationlp.show.statement import statement_text

        click.echo(statement_text(made, farm.settings.date_format), nl=False)
        return
    from rationlp.report.papers.write import write_statement

    write_statement(made, farm.settings, output)
    click.echo(f"Written: {output}", err=True)
