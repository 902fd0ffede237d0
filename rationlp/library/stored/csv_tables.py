"""Tables as CSV, each row through the pydantic model of its fields; every fault with its cell."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterable, Sequence
from dataclasses import MISSING, fields
from functools import lru_cache
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar, get_type_hints

from pydantic import BaseModel, ConfigDict, ValidationError, create_model

from rationlp.errors import LibraryError, Problem, column_letter
from rationlp.library.records import LibraryRow

AnyRow = TypeVar("AnyRow", bound=LibraryRow)


class CsvTable:
    """A table read line by line, its rows by what stands in the first column when they are asked for."""

    def __init__(self, file: Traversable | Path, name: str, model: type[AnyRow]):
        self._name, self._model = name, model
        self._header, *self._lines = lines_of(file, name) or [[]]
        place = self._header.index(fields(model)[0].name)
        self._places: dict[str, list[int]] = {}
        for index, line in enumerate(self._lines):
            self._places.setdefault(line[place].strip(), []).append(index)

    @property
    def keys(self) -> Collection[str]:
        """What stands in the first column, in the order of the file."""
        return self._places

    def rows(self, key: str) -> tuple[Any, ...]:
        """The rows with this in the first column. Raises LibraryError, or KeyError where there is none."""
        return validated(self._name, self._model, self._header, self._places[key], self._lines)


def read_rows(file: Traversable | Path, name: str, model: type[AnyRow]) -> tuple[AnyRow, ...]:
    """Every row of a table. Raises LibraryError with all its problems."""
    header, *lines = lines_of(file, name) or [[]]
    return validated(name, model, header, range(len(lines)), lines)


def validated(
    name: str, model: type[AnyRow], header: list[str], places: Iterable[int], lines: Sequence[list[str]]
) -> tuple[AnyRow, ...]:
    """The lines at these places through their model. Raises LibraryError with all their problems."""
    rows: list[AnyRow] = []
    problems: list[Problem] = []
    read = _reader(model)  # type: ignore[arg-type]  # mypy asks whether rows can be hashed, not their class
    for index in places:
        try:
            rows.append(model(**read.model_validate(_row(header, lines[index])).__dict__))
        except ValidationError as error:
            problems.extend(_problems(name, model, header, index, error))
    if problems:
        raise LibraryError(problems)
    return tuple(rows)


def lines_of(file: Traversable | Path, name: str) -> list[list[str]]:
    """The cells of a table line by line, blank lines left out. Raises LibraryError if the file is no CSV in UTF-8."""
    try:
        with file.open("rb") as stored, io.TextIOWrapper(stored, encoding="utf-8-sig", newline="") as lines:
            return [line for line in csv.reader(lines) if line]
    except UnicodeDecodeError as error:
        found, do = f"a character that is not UTF-8 (byte {error.start})", "Save it again as 'CSV UTF-8'."
    except csv.Error as error:
        found, do = f"a file that is no CSV ({error})", "Open it in a spreadsheet program and save it as 'CSV UTF-8'."
    except OSError as error:
        found, do = f"a file that cannot be read ({error.strerror})", "Check that you may read it."
    raise LibraryError([Problem("error", f"{name}.csv", "", found, "a CSV file in UTF-8", do)])


@lru_cache
def _reader(model: type[Any]) -> type[BaseModel]:
    """The pydantic model of a row: its fields, none beside them, text without blanks around it."""
    hints = get_type_hints(model, include_extras=True)
    of_fields: dict[str, Any] = {
        field.name: (hints[field.name], ... if field.default is MISSING else field.default) for field in fields(model)
    }
    return create_model(model.__name__, __config__=ConfigDict(extra="forbid", str_strip_whitespace=True), **of_fields)


def _row(header: list[str], line: list[str]) -> dict[str, object]:
    """A line under its header, as csv.DictReader has it."""
    row: dict[str, object] = dict(zip(header, line, strict=False))
    if len(line) != len(header):
        row |= dict.fromkeys(header[len(line) :])
        if len(line) > len(header):
            row["(too many cells)"] = line[len(header) :]
    return row


def _problems(
    name: str, model: type[LibraryRow], header: list[str], index: int, error: ValidationError
) -> list[Problem]:
    """What is wrong with the row at `index` (the first data row, spreadsheet row 2, is 0)."""
    do = f"Correct the cell; the column is explained in the README of the feed library ({model.__name__})."
    problems = []
    for fault in error.errors():
        column = str(fault["loc"][0])
        letter = column_letter(header.index(column)) if column in header else "A"
        found, expected = f"{column} = {fault['input']!r}", fault["msg"].lower()
        problems.append(Problem("error", f"{name}.csv", f"{letter}{index + 2}", found, expected, do))
    return problems
