"""What a long run has done, kept as it goes: a run that was interrupted goes on where it stopped."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from rationlp.farms.results import version_of
from rationlp.files import alone, not_writable, write_whole_text
from rationlp.show.data.many import BookResult, as_csv


@dataclass
class Kept:
    """The results of a run as it goes, a line each in a file beside the one that is wanted."""

    file: IO[str]
    done: Mapping[str, BookResult] = field(default_factory=dict)

    def keep(self, result: BookResult) -> None:
        """Put a result on the disk: it outlives whatever stops the run."""
        self.file.write(result.line() + "\n")
        self.file.flush()
        os.fsync(self.file.fileno())


def part_of(output: Path) -> Path:
    """Where the results lie until all are there."""
    return output.with_name(f"{output.name}.part")


@contextmanager
def kept_results(output: Path, books: Sequence[str], library: str | None = None) -> Iterator[Kept]:
    """What an earlier run for `output` did of these books as they are now, and where to keep more.

    One run at a time. Raises InputError where it cannot be written.
    """
    part = part_of(output)
    try:
        with alone(output, long=True):
            done = _done(part, set(books), library)
            lines = "".join(result.line() + "\n" for result in done.values())
            write_whole_text(part, lines)  # a line that was cut short, and books that changed, are not in it
            with part.open("a", encoding="utf-8", newline="") as file:
                yield Kept(file, done)
    except OSError as error:
        raise not_writable(output, error) from None


def _done(part: Path, books: set[str], library: str | None) -> dict[str, BookResult]:
    """The results in the file, of books that have not changed since."""
    if not part.is_file():
        return {}
    done = {}
    for line in part.read_text(encoding="utf-8", errors="replace").splitlines():
        try:
            result = BookResult.of_line(line)
        except ValueError:
            continue  # cut short when the run was stopped: that book is done again
        if result.book in books and result.version and result.version == version_of(result.book, library):
            done[result.book] = result
    return done


def finish(output: Path, results: Sequence[BookResult]) -> None:
    """Write the results in this order, whole or not at all: a line of JSON a book, or a row a ration (.csv)."""
    if output.suffix.casefold() == ".csv":
        write_whole_text(output, as_csv(results))
    else:
        write_whole_text(output, "".join(result.line() + "\n" for result in results))
    part_of(output).unlink(missing_ok=True)
