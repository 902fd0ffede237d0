"""The rations of many farms: one result a book as they finish, by whatever executor there is.

>>> import rationlp
>>> [result.ok for result in rationlp.many(["demo/stillwater_bend"])]
[True]
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, wait
from functools import lru_cache
from pathlib import Path
from typing import Any

from rationlp.api import OpenFarm
from rationlp.book import open_book
from rationlp.errors import InputError, RationlpError
from rationlp.library import Library, load_library
from rationlp.show.data.many import BookResult
from rationlp.version import __version__

AHEAD = 64
"""Books that are handed to an executor at a time: of 100,000 farms no more are in memory."""
ENDED = "the process that worked on it ended before it answered, twice: out of memory, or stopped from outside"


def many(
    paths: Iterable[str | Path], executor: Executor | None = None, library: str | Path | None = None
) -> Iterator[BookResult]:
    """The rations of every stage and bin of each book, as the books finish; without an executor one after another.

    A book with problems gives a result that says so and does not stop the rest. `executor` is any
    `concurrent.futures.Executor`: a pool of processes, or that of a distributed engine. A book whose process ends
    before it answers is done again, alone; the executor must then still be able to work. Raises LibraryError.

    >>> (result,) = many(["demo/stillwater_bend"])
    >>> result.rations[0]["status"]
    'optimal'
    """
    folder = _folder(library)
    if executor is None:
        for book in paths:
            yield book_result(str(book), folder)
        return
    yield from gathered([str(book) for book in paths], lambda _: executor, folder)


def gathered(books: Sequence[str], pool: Callable[[int], Executor], library: str | None) -> Iterator[BookResult]:
    """The results as they finish, by the executors that `pool` gives for so many books at a time.

    An executor whose workers died is asked for anew, and the one before is done with: the books it had in hand are done
    again one by one, so that the one that kills its worker is found, and alone is given up.
    """
    waiting = list(reversed(books))
    while waiting:
        suspects = yield from _round(waiting, pool(len(waiting)), library, AHEAD)
        while suspects:
            for book in (yield from _round(suspects, pool(1), library, 1)):
                yield BookResult(book, False, error=ENDED)


def _round(
    waiting: list[str], executor: Executor, library: str | None, ahead: int
) -> Generator[BookResult, None, list[str]]:
    """Works through the books, `ahead` of them in hand at a time, until none is left or the executor breaks; the books
    that it had in hand then.

    Whoever stops asking, or is stopped, leaves the executor no book that it has not begun.
    """
    working: dict[Future[BookResult], str] = {}
    try:
        while waiting or working:
            try:
                while waiting and len(working) < ahead:
                    working[executor.submit(book_result, waiting[-1], library)] = waiting[-1]
                    waiting.pop()
            except BrokenExecutor:
                return list(working.values()) or [waiting.pop()]
            done, _ = wait(working, return_when=FIRST_COMPLETED)
            broken = [future for future in done if isinstance(future.exception(), BrokenExecutor)]
            for future in done:
                if future not in broken:
                    del working[future]
                    yield future.result()
            if broken:
                return list(working.values())
        return []
    finally:
        for future in working:
            future.cancel()


def book_result(book: str, library: str | None = None) -> BookResult:
    """The rations of one book. Whatever goes wrong in it is told in the result; only a library with problems raises."""
    found = _library(library)
    version = version_of(book, library)
    try:
        read, warnings = open_book(Path(book), found)
        document = _document(OpenFarm(read, found, warnings))
    except InputError as error:
        return BookResult(book, False, error="\n".join(problem.line() for problem in error.problems), version=version)
    except RationlpError as error:
        return BookResult(book, False, error=str(error), version=version)
    except Exception as error:  # a defect of the program is told with the book it shows in, and the others go on
        return BookResult(book, False, error=f"the program failed ({type(error).__name__}: {error})", version=version)
    rations, units = tuple(document["rations"]), read.farm.units
    return BookResult(book, True, rations, None, document["farm"], document["currency"], version, units)


def _document(farm: OpenFarm) -> dict[str, Any]:
    """What `ration --format json` says of the farm, in plain types that travel between processes."""
    from rationlp.rations.formulate import formulate
    from rationlp.show.data.as_json import json_fields, ration_document

    document = ration_document(farm.book, formulate(farm))
    plain: dict[str, Any] = json.loads(json.dumps(document, default=json_fields, allow_nan=False))
    return plain


@lru_cache(maxsize=2)
def _library(folder: str | None) -> Library:
    """The library, read once by each process."""
    return load_library(None if folder is None else Path(folder))


def _folder(library: str | Path | None) -> str | None:
    return None if library is None else str(library)


def version_of(book: str, library: str | None = None) -> str:
    """A hash of all that the rations of a book follow from: its files, a library of one's own, the program."""
    digest = hashlib.sha256(__version__.encode())
    for place in (Path(book), *([Path(library)] if library else [])):
        for file in sorted(place.glob("*.csv")) if place.is_dir() else [place]:
            digest.update(f"\0{file.name}\0".encode())
            digest.update(file.read_bytes() if file.is_file() else b"")
    return digest.hexdigest()[:16]
