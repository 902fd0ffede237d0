"""No figure changes silently: a checksum for every table, and a line for every correction.

    python -m rationlp.library.checksums            says which tables differ from feed_library/checksums.csv
    python -m rationlp.library.checksums --refresh  writes it anew

`checksums.csv` holds for each table its rows, the sum of all its numeric cells and a SHA-256 of its text; a test
compares them. Beside it `packed/` has the tables as commands read them (`stored/packed.py`), made only of tables that
hold together. Who changes a figure refreshes both and leaves a line in `corrections.csv`: date, table, key (the row's
id or ids and the column), old, new, source.
"""

from __future__ import annotations

import csv
import hashlib
import sys
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from importlib.resources.abc import Traversable
from pathlib import Path

from rationlp.library.checks import KEYS
from rationlp.library.load import load_library
from rationlp.library.read import shipped_library
from rationlp.library.stored.packed import pack, packed_table
from rationlp.library.tables import TABLES

COLUMNS = ("table", "rows", "sum", "sha256")


@dataclass(frozen=True, slots=True)
class Checksum:
    """What a table looks like from afar."""

    table: str
    rows: str
    sum: str  # of every numeric cell
    sha256: str


@dataclass(frozen=True, slots=True)
class Correction:
    """A figure that was changed: where, from what, to what, and on what ground."""

    date: str
    table: str
    key: str  # the ids of the row and the column, with blanks between
    old: str
    new: str
    source: str


def checksum(name: str, directory: Traversable | Path) -> Checksum:
    """The checksum of one table as it stands."""
    text = (directory / f"{name}.csv").read_text(encoding="utf-8")
    rows = list(csv.reader(text.splitlines()))[1:]
    total = sum((_number(cell) for row in rows for cell in row), Decimal(0))
    return Checksum(name, str(len(rows)), f"{total.normalize():f}", hashlib.sha256(text.encode()).hexdigest())


def _number(cell: str) -> Decimal:
    try:
        number = Decimal(cell)
    except InvalidOperation:
        return Decimal(0)
    return number if number.is_finite() else Decimal(0)


def stored(directory: Traversable | Path) -> dict[str, Checksum]:
    """The checksums that were written last, by table."""
    lines = (directory / "checksums.csv").read_text(encoding="utf-8").splitlines()
    return {row["table"]: Checksum(**row) for row in csv.DictReader(lines)}


def changed(directory: Traversable | Path) -> list[str]:
    """A sentence for each table that differs from its checksum."""
    known = stored(directory)
    sentences = []
    for name in TABLES:
        now, then = checksum(name, directory), known.get(name)
        if then is None:
            sentences.append(f"{name}.csv is new: {now.rows} rows")
        elif now != then:
            sentences.append(f"{name}.csv: rows {then.rows} -> {now.rows}, sum of its numbers {then.sum} -> {now.sum}")
        elif packed_table(directory / f"{name}.csv", name, TABLES[name]) is None:
            sentences.append(f"{name}.csv is packed from another state of it, or not at all")
    return sentences


def corrections(directory: Traversable | Path) -> list[Correction]:
    """Every correction in the order it was entered."""
    lines = (directory / "corrections.csv").read_text(encoding="utf-8").splitlines()
    return [Correction(**row) for row in csv.DictReader(lines)]


def stands(correction: Correction, directory: Traversable | Path) -> str | None:
    """What now stands in the cell that was corrected; None if there is no such row or column."""
    *ids, column = correction.key.split()
    lines = (directory / f"{correction.table}.csv").read_text(encoding="utf-8").splitlines()
    for row in csv.DictReader(lines):
        names = KEYS.get(correction.table, tuple(row))  # evidence on limits has no key: its first columns name it
        if [row[name] for name in names[: len(ids)]] == ids:
            return row.get(column)
    return None


def refresh(directory: Path) -> None:
    """Write checksums.csv and the packed tables anew. Raises LibraryError where the tables do not hold together."""
    packed = load_library(directory)
    for name, model in TABLES.items():
        pack(directory, name, packed.table(name, model), packed.header(name))
    with (directory / "checksums.csv").open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(COLUMNS)
        for name in TABLES:
            now = checksum(name, directory)
            writer.writerow([now.table, now.rows, now.sum, now.sha256])


def main(arguments: list[str]) -> int:
    """Say what changed, or write the checksums anew. 0 if all is as it was."""
    directory = Path(str(shipped_library()))
    if arguments == ["--refresh"]:
        refresh(directory)
        print("checksums.csv and the packed tables written. Each changed figure needs its line in corrections.csv.")
        return 0
    if arguments:
        print("usage: python -m rationlp.library.checksums [--refresh]", file=sys.stderr)
        return 2
    sentences = changed(directory)
    print("\n".join(sentences) or "Every table is as its checksum says.")
    return 1 if sentences else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
