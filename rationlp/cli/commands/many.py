"""rationlp many: the rations of many farms."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence, Sized
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from rationlp.cli.options import full_option, library_option, paged
from rationlp.cli.output import check_output, leave, overwrite_option
from rationlp.errors import InputError

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from rationlp.show.data.many import BookResult

ENDINGS = (".csv", ".jsonl")


@click.command(name="many")
@click.argument("books", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    metavar="FILE",
    help="Where to write: a line of JSON a book (.jsonl), or a row a ration (.csv), by the ending.",
)
@overwrite_option
@click.option("--jobs", type=click.IntRange(1, 512), metavar="N", help="Processes at work. Default: one a processor.")
@full_option
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="What to print: a summary, or a line of JSON a book as it is done.",
)
@library_option
def command(
    books: tuple[Path, ...],
    output: Path,
    overwrite: bool,
    jobs: int | None,
    full: bool,
    form: str,
    library_dir: Path | None,
) -> None:
    """The rations of many farms: every stage and bin of each book.

    A book with problems does not stop the rest. What is done is kept in FILE.part until all is done: a run that was
    interrupted goes on where it stopped when the same command is given again. Exit code 1 when a book has problems, 3
    when a ration must not be fed.

    Example: rationlp many farms/*.xlsx -o farms.csv --jobs 4
    """
    if output.suffix.casefold() not in ENDINGS:
        raise click.UsageError(f"-o writes a {' or a '.join(ENDINGS)} file, not {output.name!r}.")
    for book in books:
        check_output(output, book, overwrite)
    from rationlp.farms.kept import kept_results

    names = list(dict.fromkeys(map(str, books)))
    library = None if library_dir is None else str(library_dir)
    with kept_results(output, names, library) as kept, _told_when_stopped(kept.done, names):
        if kept.done:
            click.echo(f"Going on: {len(kept.done)} of {len(names)} books were done before.", err=True)
        left = [name for name in names if name not in kept.done]
        for result in _results(left, jobs or os.cpu_count() or 1, library):
            kept.keep(result)
            if form == "json":
                click.echo(result.line())
            elif sys.stderr.isatty():
                click.echo(f"\r{len(kept.done)} of {len(names)} books", nl=False, err=True)
        kept.finish(output, names)
        ordered = [kept.done[name] for name in names]
    if form == "text" and sys.stderr.isatty():
        click.echo(err=True)
    if form == "text":
        from rationlp.show.first.many import print_first

        with paged(full):
            print_first(ordered, output, full)
    _exit(ordered)


@contextmanager
def _told_when_stopped(done: Sized, books: Sized) -> Iterator[None]:
    """Ctrl-C, or asked to end: what is done by then is not lost."""
    try:
        yield
    except (KeyboardInterrupt, SystemExit):
        click.echo(f"\nStopped: {len(done)} of {len(books)} books are done. The same command goes on.", err=True)
        raise


def _results(books: Sequence[str], jobs: int, library: str | None) -> Iterator[BookResult]:
    """The results as they finish; one book at a time needs no further process."""
    from rationlp.farms.processes import processes
    from rationlp.farms.results import gathered, many

    if min(jobs, len(books)) < 2:
        yield from many(books, library=library)
        return
    with ExitStack() as stack:

        def pool(count: int) -> Executor:
            stack.close()  # no more processes than asked for: the pool before has nothing left to do, or is broken
            return stack.enter_context(processes(min(jobs, count)))

        yield from gathered(books, pool, library)


def _exit(results: Sequence[BookResult]) -> None:
    rations = [ration for result in results for ration in result.rations]
    if not all(result.ok for result in results):
        sys.exit(InputError.exit_code)
    failed = [ration for ration in rations if ration["failure"]]
    leave(any(ration["verdict"]["verdict"] == "stop" for ration in rations if ration not in failed), bool(failed))
