"""Files appear whole or not at all, over nothing that a person wrote.

Text in them can be held by any file and is never taken for a formula.
"""

from __future__ import annotations

import csv
import errno
import filecmp
import gc
import glob
import hashlib
import io
import os
import re
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import IO

from rationlp.errors import Problem, RequestError

_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\ufffe\uffff]|[\ud800-\udfff]")
LONGEST_TITLE = 31  # of a tab, in characters
PLACES = 64  # lock files at most, but for what is held long
LONGEST_WAIT = 60  # seconds for another writer of the same file; no result hangs on it
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def may_write(path: Path, book: Path, *, overwrite: bool = False, option: str = "-o") -> None:
    """Raise RequestError unless `path` may be written by a command on `book`: before any work.

    Never the book, a file of it, its record, or a link to one of them; another file that exists only with `overwrite`.
    """
    if _of_the_book(path, book):
        raise refusal(
            path,
            option,
            "the book or a file of it",
            "another file",
            "Choose another name: the book is yours alone to write.",
        )
    if path.exists() and not overwrite:
        raise refusal(
            path,
            option,
            "a file that is already there",
            "a new name, or --overwrite",
            "Choose another name, or add --overwrite: what is there is then kept as "
            f"{copy_of(path).name}. Nothing was written.",
        )


def refusal(path: Path, option: str, what: str, expected: str, do: str) -> RequestError:
    """The refusal to write to `path`, which is `what`."""
    return RequestError([Problem("error", option, "", f"{path}, which is {what}", expected, do)])


def _of_the_book(path: Path, book: Path) -> bool:
    if book.is_dir() and path.resolve().parent == book.resolve():
        return True
    record = record_of(book)
    own = [book, *(book.iterdir() if book.is_dir() else ()), record]
    if path.exists():
        return any(file.exists() and path.samefile(file) for file in own)
    return path.resolve() in (book.resolve(), record)


def record_of(book: Path) -> Path:
    """Where the farm's record lies: in the folder of a CSV book, beside a workbook under its name, links followed."""
    book = book.resolve()
    return book / "farm.record" if book.is_dir() else book.with_name(f"{book.stem}.record")


def copy_of(path: Path) -> Path:
    """Under which name the file at `path` is kept when another is written in its place; told by when it was written."""
    path = path.resolve()
    written = datetime.fromtimestamp(path.stat().st_mtime)
    stem, count = f"{path.stem}.before-{written:%Y%m%d-%H%M%S}", 1
    copy = path.with_name(f"{stem}{path.suffix}")
    while copy.exists():
        count += 1
        copy = path.with_name(f"{stem}-{count}{path.suffix}")
    return copy


def write_whole(path: Path, write: Callable[[Path], object], *, keep: bool = True) -> None:
    """Let `write` fill a temporary file beside `path`, then put it there at once, flushed to the disk.

    Another file that is there already is kept under the name `copy_of` gives, unless not to `keep` it. One writer at
    a time; what a run that was killed left behind is cleared away. Raises RequestError, with nothing changed.
    """
    target = path.resolve()
    try:
        with alone(target):
            for left in target.parent.glob(f"{glob.escape(_start(target))}*{PART}"):
                left.unlink(missing_ok=True)
            _put(target, write, keep)
    except OSError as error:
        raise not_writable(path, error) from None


PART = ".part"
"""How the name of a file ends that is still being written."""


def _start(target: Path) -> str:
    return f".{target.stem}-"


def _put(target: Path, write: Callable[[Path], object], keep: bool) -> None:
    handle, name = tempfile.mkstemp(prefix=_start(target), suffix=f"{target.suffix}{PART}", dir=target.parent)
    temporary = Path(name)
    try:
        os.close(handle)
        write(temporary)
        _flush(temporary)
        if target.exists():
            shutil.copymode(target, temporary)
            if keep and not filecmp.cmp(target, temporary, shallow=False):
                _keep(target)
        else:
            temporary.chmod(0o666 & ~_umask())
        temporary.replace(target)
    finally:
        temporary.unlink(missing_ok=True)


def _keep(target: Path) -> None:
    """Keep the file under its second name: by a link, which takes no room on the disk, where there are links."""
    copy = copy_of(target)
    try:
        os.link(target, copy)
    except OSError:
        shutil.copy2(target, copy)


def _flush(file: Path) -> None:
    with file.open("rb+") as written:
        os.fsync(written.fileno())


@contextmanager
def alone(path: Path, long: bool = False) -> Iterator[None]:
    """Nobody else of this machine writes `path` inside the block. Raises OSError if the other one does not finish.

    The lock lies with the temporary files of this user and goes when the process ends, however it ends. Its file stays,
    since to remove one that another run waits for would let two in; so files share PLACES of them, and who writes
    waits a moment for a stranger at the same one. What is held `long` has a file of its own.
    """
    from filelock import FileLock, Timeout

    user = hashlib.sha256(str(Path.home()).encode()).hexdigest()[:8]
    name = hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:16]
    place = name if long else str(int(name, 16) % PLACES)
    file = Path(tempfile.gettempdir()) / f"rationlp-{user}-{place}.lock"
    try:
        with FileLock(file, timeout=LONGEST_WAIT, is_singleton=True):  # one inside another of the same place goes on
            yield
    except Timeout:
        raise BlockingIOError(errno.EWOULDBLOCK, "another run of the program is writing it") from None


def saved(save: Callable[[IO[bytes]], object]) -> bytes:
    """The bytes that `save` writes of a workbook.

    They are put together in temporary files: where the disk is full, what is left open there is closed without a word
    of its own. Raises OSError.
    """
    raw, failed, told = io.BytesIO(), OSError(), sys.unraisablehook
    sys.unraisablehook = lambda _: None
    try:
        save(raw)
        return raw.getvalue()
    except OSError as error:
        failed = OSError(error.errno, error.strerror)
    finally:
        if failed.errno:
            gc.collect()
        sys.unraisablehook = told
    raise failed


def write_folder(path: Path, write: Callable[[Path], object]) -> None:
    """Let `write` fill a folder beside `path`, then put it there; a folder that is there is kept (see `copy_of`).

    Raises RequestError, with nothing changed.
    """
    target = path.resolve()
    try:
        with alone(target):
            temporary = Path(tempfile.mkdtemp(prefix=_start(target), suffix=PART, dir=target.parent))
            try:
                write(temporary)
                for file in temporary.iterdir():
                    _flush(file)
                temporary.chmod(0o777 & ~_umask())
                _put_folder(temporary, target)
            finally:
                shutil.rmtree(temporary, ignore_errors=True)
    except OSError as error:
        raise not_writable(path, error) from None


def _put_folder(temporary: Path, target: Path) -> None:
    if not target.exists():
        temporary.rename(target)
        return
    kept = target.rename(copy_of(target))
    try:
        temporary.rename(target)
    except OSError:
        kept.rename(target)
        raise


def write_whole_text(path: Path, text: str) -> None:
    """Write a text file as `write_whole` does. Raises RequestError."""
    write_whole(path, lambda temporary: temporary.write_text(text, encoding="utf-8", newline=""))


def write_whole_bytes(path: Path, data: Callable[[], bytes]) -> None:
    """Write a file as `write_whole` does. Raises RequestError, also where `data` meets a full disk."""
    write_whole(path, lambda temporary: temporary.write_bytes(data()))


def not_writable(path: Path, error: OSError) -> RequestError:
    """What to say where a file cannot be written."""
    return RequestError(
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


def csv_table(columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> str:
    """CSV text of rows, headings first; every text in it is read as text by a spreadsheet program (see `csv_text`)."""
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({key: csv_text(value) if isinstance(value, str) else value for key, value in row.items()})
    return out.getvalue()


def csv_text(text: object) -> str:
    """Text that a spreadsheet program reads as text from a CSV file too.

    What looks like a formula gets an apostrophe before it.
    """
    plain = clean(text)
    return f"'{plain}" if plain.lstrip().startswith(FORMULA_STARTS) else plain
