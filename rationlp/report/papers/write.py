"""Papers as files, each in the form its ending asks for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from rationlp.errors import Problem, RequestError
from rationlp.files import write_whole_bytes, write_whole_text

if TYPE_CHECKING:
    from rationlp.book.records import Settings
    from rationlp.farm import Farm
    from rationlp.ledger.shape import Signature
    from rationlp.rations.studies.review import ReviewCopy
    from rationlp.sheets.model import Pack
    from rationlp.trace.statement import Statement

ENDINGS = (".xlsx", ".html", ".csv")
"""Of mix sheets."""
REVIEW_ENDINGS = (".json", ".xlsx", ".html")
"""Of a review copy."""


def check_place(path: Path) -> None:
    """Raise RequestError unless the folder of `path` exists and its name ends in one of ENDINGS: before any work."""
    if not path.parent.is_dir():
        raise RequestError(
            [
                Problem(
                    "error",
                    "-o",
                    "",
                    f"{path} in a folder that does not exist",
                    "a file name in a folder that exists",
                    "Make the folder first, or choose another place.",
                )
            ]
        )
    if path.suffix.casefold() not in ENDINGS:
        raise RequestError(
            [
                Problem(
                    "error",
                    "-o",
                    "",
                    f"{path.name!r}",
                    f"a file name that ends in {', '.join(ENDINGS)}",
                    "Choose the ending: .xlsx to fill in and print, .html to print, .csv for another program.",
                )
            ]
        )


def write_pack(pack: Pack, farm: Farm, path: Path) -> None:
    """Write every page of `pack` to `path`, whole or not at all. Raises RequestError."""
    check_place(path)
    ending = path.suffix.casefold()
    if ending == ".xlsx":
        from rationlp.pages.workbook import write_workbook

        write_workbook(pack, farm.library, path)
    elif ending == ".html":
        from rationlp.report.papers.mix_sheets import sheets_page

        write_whole_text(path, sheets_page(pack, farm))
    else:
        from rationlp.pages.csv_table import pack_table

        write_whole_text(path, pack_table(pack, farm.library))


def write_statement(statement: Statement, settings: Settings, path: Path) -> None:
    """Write it as a page (.html) or as text. Raises RequestError."""
    if path.suffix.casefold() == ".html":
        from rationlp.report.papers.statement import statement_page

        write_whole_text(path, statement_page(statement, settings))
    else:
        from rationlp.show.statement import statement_text

        write_whole_text(path, statement_text(statement, settings.date_format))


def write_review(review: ReviewCopy, settings: Settings, path: Path, signed: Sequence[Signature] = ()) -> None:
    """Write the review copy by its ending (REVIEW_ENDINGS), with what was signed before. Raises RequestError."""
    try:
        write_whole_bytes(path, _review_writer(review, settings, path.suffix.casefold(), signed))
    except RequestError as error:
        raise RequestError([replace(problem, sheet="--review") for problem in error.problems]) from None


def _review_writer(
    review: ReviewCopy, settings: Settings, ending: str, signed: Sequence[Signature]
) -> Callable[[], bytes]:
    if ending == ".json":
        from rationlp.pages.review.copy import review_document

        return lambda: review_document(review)
    if ending == ".html":
        from rationlp.report.papers.review import review_page

        return lambda: review_page(review, settings, signed).encode()
    from rationlp.pages.review.book import review_workbook

    return lambda: review_workbook(review, signed)
