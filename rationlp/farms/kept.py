"""What a long run has done, kept as it goes: a run that was interrupted goes on where it stopped."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import IO

from rationlp.farms.results import version_of
from rationlp.files import alone, not_writable, write_whole, write_whole_text
from rationlp.show.data.many import BookResult, as_csv


class Kept:
    """The results of a run: a line each in a file beside the one that is wanted, in memory the short of them."""

    def __init__(self, file: IO[bytes], output: Path) -> None:
        self._file, self._output = file, output
        self._done: dict[str, BookResult] = {}
        self._places: dict[str, int] = {}  # where in the file the line of a book begins, in bytes

    @property
    def done(self) -> Mapping[str, BookResult]:
        """The short of each result, by book."""
        return self._done

    def take_over(self, books: set[str], library: str | None) -> None:
        """What the file has of these books, where they have not changed since; a line cut short at its end goes."""
        place = 0
        while (line := self._file.readline()).endswith(b"\n"):
            try:
                result = BookResult.of_line(line.decode("utf-8"))
            except ValueError:
                result = BookResult("", False)  # spoilt: that book is done again
            if result.book in books and result.version and result.version == version_of(result.book, library):
                self._know(result, place)
            place = self._file.tell()
        self._file.truncate(place)

    def keep(self, result: BookResult) -> None:
        """Put a result on the disk, where it outlives whatever stops the run. Raises InputError where it cannot be."""
        try:
            place = self._file.seek(0, os.SEEK_END)
            self._file.write(result.line().encode("utf-8") + b"\n")
            self._file.flush()
            os.fsync(self._file.fileno())
        except OSError as error:
            raise not_writable(self._output, error) from None
        self._know(result, place)

    def finish(self, output: Path, books: Sequence[str]) -> None:
        """Write the results of these books in this order, whole or not at all: a line of JSON a book, or a row a
        ration (.csv)."""
        if output.suffix.casefold() == ".csv":
            write_whole_text(output, as_csv([self._done[book] for book in books]))
        else:
            write_whole(output, lambda temporary: self._copy(temporary, books))

    def _copy(self, target: Path, books: Sequence[str]) -> None:
        with target.open("wb") as file:
            for book in books:
                self._file.seek(self._places[book])
                file.write(self._file.readline())

    def _know(self, result: BookResult, place: int) -> None:
        self._done[result.book], self._places[result.book] = result.short(), place


def part_of(output: Path) -> Path:
    """Where the results lie until all are there."""
    return output.with_name(f"{output.name}.part")


@contextmanager
def kept_results(output: Path, books: Sequence[str], library: str | None = None) -> Iterator[Kept]:
    """What an earlier run for `output` did of these books as they are now, and where to keep more.

    Its file goes when the block comes to its end. One run at a time. Raises InputError where it cannot be written.
    """
    part = part_of(output)
    with ExitStack() as stack:
        try:
            stack.enter_context(alone(output, long=True))
            part.touch()
            kept = Kept(file := stack.enter_context(part.open("rb+")), output)
            kept.take_over(set(books), library)
        except OSError as error:
            raise not_writable(output, error) from None
        yield kept
        file.close()
        part.unlink()
