"""Files appear whole or not at all; text in them can be held by any file and is never taken for a formula."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Callable
from pathlib import Path

from rationlp.errors import InputError, Problem, RequestError

_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\ufffe\uffff]|[\ud800-\udfff]")
LONGEST_TITLE = 31  # of a tab, in characters
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def spare_the_book(path: Path, book: Path, option: str = "-o") -> None:
    """Raise RequestError if writing `path` would write over the book, a file of it, or a link to either."""
    if not path.exists() or not book.exists():
        inside = book.is_dir() and path.parent.resolve() == book.resolve()
    else:
        own = [book, *(book.iterdir() if book.is_dir() else ())]
        inside = any(path.samefile(file) for file in own) or (book.is_dir() and path.parent.resolve() == book.resolve())
    if inside:
        raise RequestError(
            [
                Problem(
                    "error",
                    option,
                    "",
                    f"{path}, which is the book or a file of it",
                    "another file",
                    "Choose another name: the book is yours alone to write.",
                )
            ]
        )


def write_whole(path: Path, write: Callable[[Path], None]) -> None:
    """Let `write` fill a temporary file in the folder of `path`, then put it there at once. Raises InputError."""
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=f"{path.suffix}.tmp", dir=path.parent)
    except OSError as error:
        raise _not_writable(path, error) from None
    os.close(handle)
    temporary = Path(name)
    try:
        write(temporary)
        temporary.chmod(0o666 & ~_umask())
        temporary.replace(path)
    except OSError as error:
        raise _not_writable(path, error) from None
    finally:
        temporary.unlink(missing_ok=True)


def write_text(path: Path, text: str) -> None:
    """Write a text file whole or not at all, and flushed to the disk. Raises OSError."""
    handle, name = tempfile.mkstemp(prefix=".", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as lines:
            lines.write(text)
            lines.flush()
            os.fsync(lines.fileno())
        Path(name).chmod(0o666 & ~_umask())
        os.replace(name, path)
    finally:
        Path(name).unlink(missing_ok=True)


def _not_writable(path: Path, error: OSError) -> InputError:
    return InputError(
        [
            Problem(
                "error",
                "-o",
                "",
                f"{path} cannot be written ({error.strerror or error})",
                "a file name in a folder that exists",
                "Choose another place, or close the file where it is open.",
            )
        ]
    )


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def clean(text: object) -> str:
    """Text without the characters that no XML file and no cell can hold."""
    return _CONTROL.sub(" ", str(text))


def csv_text(text: object) -> str:
    """Text that a spreadsheet program reads as text from a CSV file too.

    What looks like a formula gets an apostrophe before it.
    """
    plain = clean(text)
    return f"'{plain}" if plain.lstrip().startswith(FORMULA_STARTS) else plain
