"""What `check` says of a book: every problem that is seen without working out a ration."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rationlp.errors import Problem

if TYPE_CHECKING:
    from rationlp.book.records import Book
    from rationlp.library.read import Library


def every_problem(path: Path, library_dir: Path | None) -> list[Problem]:
    """What is wrong with the book by itself and against the library, and, if it can be read, with its bins' assays.

    Raises LibraryError.
    """
    from rationlp.book import open_book
    from rationlp.errors import BookError
    from rationlp.library import load_library

    library = load_library(library_dir)
    try:
        book, warnings = open_book(path, library)
    except BookError as error:
        return error.problems
    return [*_of_bins(book, library), *_of_stages(book, library), *warnings, *_of_certificate(book, library)]


def _of_bins(book: Book, library: Library) -> list[Problem]:
    """Assays that no grain can have."""
    if not book.assays:
        return []
    from rationlp.bins import check_bins

    return check_bins(book, library)


def _of_stages(book: Book, library: Library) -> list[Problem]:
    """Limits of the farm's own that pass safety or law without weight, or ask far less than the library, each cell
    once."""
    if not book.own_limits and not book.own_stages:
        return []
    from rationlp.errors import BookError
    from rationlp.farm import Farm
    from rationlp.stages.own_rows import far_under_problems

    try:
        stages = Farm(book, library).stages()
    except BookError as error:
        return list({(problem.sheet, problem.cell): problem for problem in reversed(error.problems)}.values())[::-1]
    return [problem for stage in stages for problem in far_under_problems(stage, book, library)]


def _of_certificate(book: Book, library: Library) -> list[Problem]:
    """Offers that the farm's certificate keeps out of every ration."""
    if book.farm.certification == "none":
        return []
    from rationlp.stages.certification import not_let_in

    return [
        Problem(
            "warning",
            offer.place.sheet,
            offer.place.cell("organic" if by_certificate and "organic" in offer.place.columns else "feed"),
            f"{offer.offer} ({offer.feed}), {words}",
            "feeds that the certificate lets in",
            "It is in no ration; fill in organic if it is certified."
            if by_certificate
            else "It is in no ration, certified or not: offer another feed in its place.",
        )
        for offer, words, by_certificate in not_let_in(book, library)
    ]
