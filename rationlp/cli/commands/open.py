"""rationlp open: the farm's page in the browser, following the book."""

from __future__ import annotations

from pathlib import Path

import click

from rationlp.cli.options import book_argument, library_option
from rationlp.errors import RationlpError

MISSING = "`rationlp open` needs a small server that is not installed: pip install 'rationlp[open]'"


@click.command(name="open")
@book_argument
@click.option(
    "--port", type=click.IntRange(0, 65535), default=0, metavar="N", help="The port to serve at. Default: any free one."
)
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@library_option
def command(book: Path, port: int, no_browser: bool, library_dir: Path | None) -> None:
    """The farm's page in the browser, on this computer only: save the book, and the page follows.

    Where the book has problems they stand there with their cells. Mix sheets, statements, rations and the review copy
    are made by buttons. Ctrl+C ends it.

    Example: rationlp open farm.xlsx
    """
    from rationlp.book.reading.files import check_is_book

    check_is_book(book)
    try:
        from rationlp.served.server import serve
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] not in ("anyio", "starlette", "uvicorn"):
            raise
        raise RationlpError(MISSING) from None

    serve(book, library_dir, port, not no_browser, _tell)


def _tell(address: str) -> None:
    click.echo(f"The page is at {address}")
    click.echo("Keep this window open; Ctrl+C here ends it.", err=True)
