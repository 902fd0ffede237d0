"""Everything that can go wrong for a person, and how it is told.

    RationlpError           the message is meant for the person at the terminal
      InputError            a book, a library or a request has problems: exit 1, all of them at once
        BookError
        LibraryError
        RequestError      exit 2
      SolverError           the solver gave no trustworthy answer: exit 4

A ration that cannot meet everything is not an exception: it is a result with a status of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

Kept = TypeVar("Kept")


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing to put right, with the place where it stands.

    `sheet` is the sheet of the workbook or the name of the CSV file, `cell` its address as a spreadsheet
    program shows it (`B7`; the header is row 1), or empty when the whole sheet is meant.
    """

    severity: str  # "error" or "warning"
    sheet: str
    cell: str
    found: str
    expected: str
    do: str

    def line(self) -> str:
        """The problem as one line of text."""
        place = f"{self.sheet}!{self.cell}" if self.cell else self.sheet
        return f"{self.severity}: {place}: found {self.found}; expected {self.expected}. {self.do}"


def column_letter(index: int) -> str:
    """The spreadsheet letters of the column at `index` (0 is A)."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def given(value: Kept | None, what: str) -> Kept:
    """`value`, where the code around makes sure that it is there; `what` says what it is if not (a defect)."""
    if value is None:
        raise AssertionError(f"{what} is missing")
    return value


class RationlpError(Exception):
    """Base of all errors whose text is written for the person who runs the command."""

    exit_code = 1


class InputError(RationlpError):
    """Carries every problem of one input, errors and warnings together."""

    def __init__(self, problems: list[Problem]):
        self.problems = problems
        super().__init__("\n".join(problem.line() for problem in problems))


class RequestError(InputError):
    """What was asked for cannot be: a stage, bin, sample or offer nobody knows, a number out of range.

    The `sheet` of its problems is the name of what was asked (`stage`, `bin`, `home_grown`).
    """

    exit_code = 2


class BookError(InputError):
    """The farm book cannot be used as it stands."""


class LibraryError(InputError):
    """The feed library cannot be used as it stands."""


class SolverError(RationlpError):
    """The solver failed, or its answer did not stand up to the check."""

    exit_code = 4
