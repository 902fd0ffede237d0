"""Tables packed for reading: their rows as JSON, checked when they were packed, with the checksum of their CSV.

`packed/NAME.jsonl` lies beside NAME.csv. Its first line says of which text it is (SHA-256), that of the lines below,
the columns, and what stands in the first column of the rows of each line; rows that share it and follow one another are
one line. A packed table serves only while it is whole and its CSV is what it was made of: a table that somebody edited,
and those of a library of the farm's own, are read from the CSV. `python -m
rationlp.library.checksums --refresh` packs them anew.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterable, Sequence
from dataclasses import astuple, fields
from importlib.resources.abc import Traversable
from itertools import groupby
from pathlib import Path
from typing import Any, TypeVar

from rationlp.library.records import LibraryRow

FOLDER = "packed"
AnyRow = TypeVar("AnyRow", bound=LibraryRow)


class PackedTable:
    """The rows of a packed table, made when they are asked for."""

    def __init__(self, model: type[LibraryRow], first: Sequence[str], lines: Sequence[str]):
        self._model, self._lines = model, lines
        self._names = [field.name for field in fields(model)]
        self._places: dict[str, list[int]] = {}
        for index, key in enumerate(first):
            self._places.setdefault(key, []).append(index)

    @property
    def keys(self) -> Collection[str]:
        """What stands in the first column, in the order of the table."""
        return self._places

    def rows(self, key: str) -> tuple[Any, ...]:
        """The rows with this in the first column. Raises KeyError where there is none."""
        return self._made(self._places[key])

    def all_rows(self) -> tuple[Any, ...]:
        """Every row in the order of the table."""
        return self._made(range(len(self._lines)))

    def _made(self, places: Iterable[int]) -> tuple[Any, ...]:
        packed = json.loads(f"[{','.join(self._lines[place] for place in places)}]")
        rows = [cells for group in packed for cells in group]
        several = [place for place, cell in enumerate(rows[0]) if type(cell) is list] if rows else []
        for cells in rows:
            for place in several:  # JSON has no tuples; what a column holds, it holds in every row
                cells[place] = tuple(cells[place])
        model, names = self._model, self._names
        return tuple([model(**dict(zip(names, cells, strict=True))) for cells in rows])


def packed_table(file: Traversable | Path, name: str, model: type[LibraryRow]) -> PackedTable | None:
    """The table packed beside its CSV; None where there is none, or the CSV or the columns are others by now."""
    try:
        header, _, body = _beside(file, name).read_bytes().partition(b"\n")
        told = json.loads(header)
        current = told["sha256"] == _sha256(file.read_bytes()) and told["rows_sha256"] == _sha256(body)
        known = told["columns"] == [field.name for field in fields(model)]
        return PackedTable(model, told["first"], body.decode().split("\n")[:-1]) if current and known else None
    except (OSError, ValueError, KeyError):
        return None


def pack(directory: Path, name: str, rows: Iterable[LibraryRow], columns: Sequence[str]) -> None:
    """Write a table packed beside its CSV."""
    file = directory / f"{name}.csv"
    groups = [list(group) for _, group in groupby(map(astuple, rows), key=lambda row: row[0])]
    body = b"".join(map(_line, groups))
    told = {
        "sha256": _sha256(file.read_bytes()),
        "rows_sha256": _sha256(body),
        "columns": columns,
        "first": [group[0][0] for group in groups],
    }
    place = _beside(file, name)
    place.parent.mkdir(exist_ok=True)
    place.write_bytes(_line(told) + body)


def _line(stored: object) -> bytes:
    return json.dumps(stored, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _beside(file: Traversable | Path, name: str) -> Path:
    return Path(str(file)).parent / FOLDER / f"{name}.jsonl"


def _sha256(text: bytes) -> str:
    return hashlib.sha256(text).hexdigest()
