"""Writes a book ready to fill in, or the demo book: an .xlsx workbook or a folder of CSV files."""

from __future__ import annotations

import csv
import os
import shutil
import tempfile
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from rationlp.book.column import Column
from rationlp.book.columns import SHEETS
from rationlp.book.reading.rows import FARM_FIELDS
from rationlp.book.records import Settings
from rationlp.book.settings import SETTINGS
from rationlp.book.writing.tables import Tables, column_note, filling_order
from rationlp.errors import BookError, Problem

if TYPE_CHECKING:
    from rationlp.library.read import Library


DATE_FORMAT = "YYYY-MM-DD"
"""How the written book types its dates."""

INVENTED = "The farm of this book is invented, and so is every figure, name and date in it.\n\n"


def new_book(path: Path | str, demo: bool = False, library: Library | None = None) -> Path:
    """Write a new book at `path`: a workbook if it ends in .xlsx, else a folder of CSV files.

    With `demo` it holds the invented farm of rationlp/book/demo_book. The drop-down lists of the workbook offer the
    ids of `library`, by default the shipped one. Nothing is overwritten, and nothing is left behind if it fails.
    Returns the path. Raises BookError.
    """
    path = Path(path)
    _may_be_written(path)
    tables = demo_tables() if demo else empty_tables()
    if path.suffix.casefold() == ".xlsx":
        from rationlp.book.writing.workbook import write_workbook
        from rationlp.library import load_library

        shelf = library if library is not None else load_library()
        _all_or_nothing(path, lambda part: write_workbook(part / path.name, tables, shelf, not demo), path.name)
    else:
        _all_or_nothing(path, lambda part: _write_folder(part, tables, INVENTED if demo else ""))
    return path


def demo_tables() -> Tables:
    """The demo book as its CSV files have it."""
    tables = {}
    for name in SHEETS:
        text = (files("rationlp.book") / "demo_book" / f"{name}.csv").read_text(encoding="utf-8")
        tables[name] = list(csv.reader(text.splitlines()))
    return tables


def empty_tables() -> Tables:
    """Every sheet with its header row; `farm` with the usual settings."""
    tables = {sheet.name: [[column.name for column in sheet.columns]] for sheet in filling_order()}
    tables["farm"] += [[setting.name, usual_value(setting), setting.note] for setting in SETTINGS]
    return tables


def usual_value(setting: Column) -> str:
    """What a setting is if nobody says otherwise, as it is typed into a metric book; empty if it has no such value."""
    if setting.name == "date_format":
        return DATE_FORMAT
    value = getattr(Settings(), FARM_FIELDS.get(setting.name, setting.name))
    if value is None:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)


def columns_explained() -> str:
    """Every sheet and column in words, for a book that cannot carry cell notes."""
    lines = ["The sheets of a farm book, one CSV file each. A column marked * must be filled in.", ""]
    for sheet in filling_order():
        lines.append(f"{sheet.name}: one row is {sheet.one_row_is}")
        columns = SETTINGS if sheet.name == "farm" else sheet.columns
        lines += [f"  {column.name}{'*' if column.required else ''}: {column_note(column)}" for column in columns]
        lines.append("")
    lines.append("Masses, lengths and test weights may carry their own unit: 1.5 t, 50 lb, 6 m, 56 lb/bu.")
    return "\n".join(lines) + "\n"


# Files ----------------------------------------------------------------------------------------------------------


def _may_be_written(path: Path) -> None:
    if path.exists():
        raise _refused(
            path,
            "a file or folder that is already there",
            "a new name",
            "Choose another name, or move the old book away; nothing was overwritten.",
        )
    if path.suffix and path.suffix.casefold() != ".xlsx":
        raise _refused(
            path,
            f"a name ending in {path.suffix}",
            "a name ending in .xlsx, or a folder name without ending",
            f"Try {path.with_suffix('.xlsx').name}.",
        )
    if not path.absolute().parent.is_dir():
        raise _refused(path, f"no folder {path.absolute().parent}", "a folder to write into", "Make the folder first.")


def _refused(path: Path, found: str, expected: str, do: str) -> BookError:
    return BookError([Problem("error", path.name or str(path), "", found, expected, do)])


def _all_or_nothing(path: Path, write: Callable[[Path], None], inside: str = "") -> None:
    """Let `write` fill a temporary folder beside `path`, then move it, or the file `inside` it, into place."""
    part: Path | None = None
    try:
        part = Path(tempfile.mkdtemp(prefix=f".{path.name}.", dir=path.absolute().parent))
        part.chmod(0o777 & ~_umask())  # mkdtemp makes it private, which a book is not
        write(part)
        _may_be_written(path)
        os.replace(part / inside if inside else part, path)
    except OSError as error:
        raise _refused(
            path,
            f"a place that cannot be written ({error.strerror or error})",
            "a folder you may write into",
            "Choose another place; nothing was written.",
        ) from None
    finally:
        if part is not None:
            shutil.rmtree(part, ignore_errors=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _write_folder(folder: Path, tables: Tables, preface: str) -> None:
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as lines:
            csv.writer(lines, lineterminator="\n").writerows(rows)
    (folder / "README.txt").write_text(preface + columns_explained(), encoding="utf-8")
