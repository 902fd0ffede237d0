"""Tables packed for reading: their rows as JSON, checked when they were packed, with the checksum of their CSV.

`packed/NAME.jsonl` lies beside NAME.csv. Its first line says of which text it is (SHA-256), the columns, and what
stands in the first column of the rows of each line below; rows that share it and follow one another are one line. A
packed table serves only while its CSV is what it was made of: a table that somebody edited, and those of a library of
the farm's own, are read from the CSV. `python -m rationlp.library.checksums --refresh` packs them anew.
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
        names = [field.name for field in fields(self._model)]
        packed = json.loads(f"[{','.join(self._lines[place] for place in places)}]")
        cells = (map(_cell, row) for rows in packed for row in rows)
        return tuple(self._model(**dict(zip(names, row, strict=True))) for row in cells)


def _cell(stored: Any) -> Any:
    """JSON has no tuples."""
    return tuple(stored) if type(stored) is list else stored


def packed_table(file: Traversable | Path, name: str, model: type[LibraryRow]) -> PackedTable | None:
    """The table packed beside its CSV; None where there is none, or the CSV or the columns are others by now."""
    try:
        with _beside(file, name).open(encoding="utf-8") as stored:
            header, *lines = stored.read().rstrip("\n").split("\n")
        told = json.loads(header)
        current = told["sha256"] == _sha256(file) and told["columns"] == [field.name for field in fields(model)]
        return PackedTable(model, told["first"], lines) if current and len(lines) == len(told["first"]) else None
    except (OSError, ValueError, KeyError):
        return None


def pack(directory: Path, name: str, rows: Iterable[LibraryRow], columns: Sequence[str]) -> None:
    """Write a table packed beside its CSV."""
    file = directory / f"{name}.csv"
    groups = [list(group) for _, group in groupby(map(astuple, rows), key=lambda row: row[0])]
    told = {"sha256": _sha256(file), "columns": columns, "first": [group[0][0] for group in groups]}
    text = "".join(f"{json.dumps(part, ensure_ascii=False, separators=(',', ':'))}\n" for part in (told, *groups))
    place = _beside(file, name)
    Path(str(place)).parent.mkdir(exist_ok=True)
    Path(str(place)).write_text(text, encoding="utf-8", newline="\n")


def _beside(file: Traversable | Path, name: str) -> Path:
    return Path(str(file)).parent / FOLDER / f"{name}.jsonl"


def _sha256(file: Traversable | Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()
