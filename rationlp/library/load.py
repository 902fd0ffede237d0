"""The shipped library, or one of the farm's own, read and checked whole."""

from __future__ import annotations

from pathlib import Path

from rationlp.errors import LibraryError, Problem
from rationlp.library.read import Library, shipped_library
from rationlp.library.tables import TABLES


def load_library(directory: Path | None = None) -> Library:
    """The shipped feed library, or the one in `directory`.

    The shipped library is read table by table as it is asked for; a directory of the farm's own is read and
    checked whole. Raises LibraryError with every problem found.
    """
    if directory is None:
        return Library(shipped_library())
    library = Library(directory)
    library.warnings = read_all(library)
    return library


def read_all(library: Library) -> list[Problem]:
    """Read and check every table now; the warnings. Raises LibraryError with the problems of all of them."""
    from rationlp.library.checks import check_library  # the shipped library is checked by tests, not at every start

    problems: list[Problem] = []
    for name, model in TABLES.items():
        try:
            empty = library.not_filled(name, model)
            problems.extend(empty)
            if not empty:
                library.table(name, model)
        except LibraryError as error:
            problems.extend(error.problems)
    problems = problems or check_library(library)
    if any(problem.severity == "error" for problem in problems):
        raise LibraryError(problems)
    return problems
