"""Any JSON answer as a folder of tidy CSV files: a file for each kind of row; `datapackage.json` describes them.

Names and numbers are those of the JSON: shares 0 to 1, money per metric tonne in the column `currency`, units in the
heading or in the column `unit`. A row within a row has the names of the row it belongs to. What the answer has none of
has no file.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from rationlp.files import csv_text, write_folder
from rationlp.show.data.as_json import SCHEMA_VERSION, plain_document

Row = dict[str, Any]
ANSWER = "answer"
"""The file of what is said once: book, farm, currency."""
DESCRIPTOR = "datapackage.json"
PROFILE = "tabular-data-package"
NAMES = (
    "currency",
    "unit",
    "sheet",
    "batch",
    "concentrate",
    "stage",
    "bin",
    "group",
    "mix",
    "offer",
    "feed",
    "nutrient",
    "crop",
    "tracer",
    "other",
    "other_price",
)
"""Columns that say which row another belongs to."""
LISTS_BY_NAME = frozenset(
    {
        "analyses",
        "analysis",
        "heads",
        "lots",
        "mix",
        "per_unit",
        "percentiles",
        "purchase",
        "rows_by_how",
        "share_by_how",
        "steady_mix",
        "uses",
        "valid",
    }
)
"""Objects whose keys are names of things: a row for each."""


def tables_of(document: Mapping[str, object]) -> dict[str, list[Row]]:
    """The tables of an answer by name, in the order they come up."""
    tables: dict[str, list[Row]] = {ANSWER: []}
    _take(plain_document(document), "", {}, tables)
    return {name: rows for name, rows in tables.items() if rows}


def _take(node: Row, path: str, names: Row, tables: dict[str, list[Row]]) -> None:
    """Enter `node` as a row of the table `path`, and what is within it as rows of tables of their own."""
    flat, within = _flat(node)
    row = {(f"of_{name}" if name in flat else name): value for name, value in names.items()} | flat
    tables.setdefault(path or ANSWER, []).append(row)
    known = names | {name: flat[name] for name in NAMES if name in flat}
    for name, items in within:
        place = f"{path}_{name}" if path else name
        for number, item in enumerate(items, 1):
            if isinstance(item, dict):
                _take(item, place, known, tables)
            else:
                tables.setdefault(place, []).extend(known | {"number": number, **cell} for cell in _cells(item))


def _cells(item: object) -> Iterator[Row]:
    if not isinstance(item, list):
        yield {"value": item}
        return
    yield from ({"part": part, "value": value} for part, value in enumerate(item, 1))


def _flat(node: Row) -> tuple[Row, list[tuple[str, Sequence[Any]]]]:
    """What of an object is in its own row, and its lists by name; an object within it is part of its row."""
    row: Row = {}
    lists: list[tuple[str, Sequence[Any]]] = []
    for name, value in node.items():
        if isinstance(value, list):
            lists.append((name, value))
        elif isinstance(value, dict) and name in LISTS_BY_NAME:
            lists.append((name, [{"name": key, **_named(item)} for key, item in value.items()]))
        elif isinstance(value, dict):
            own, more = _flat(value)
            row |= {(name if key == name else f"{name}_{key}"): item for key, item in own.items()}
            lists += [(f"{name}_{key}", items) for key, items in more]
        else:
            row[name] = value
    return row, lists


def _named(item: object) -> Row:
    return item if isinstance(item, dict) else {"value": item}


def write_tables(folder: Path, command: str, document: Mapping[str, object]) -> None:
    """Write the tables of an answer as a folder, whole or not at all. Raises InputError."""
    tables = tables_of(document)

    def write(place: Path) -> None:
        for name, rows in tables.items():
            with (place / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
                writer = csv.DictWriter(file, _columns(rows), restval="", lineterminator="\n")
                writer.writeheader()
                writer.writerows({key: _cell(value) for key, value in row.items()} for row in rows)
        described = {
            "profile": PROFILE,
            "name": f"rationlp-{command}",
            "schema_version": SCHEMA_VERSION,
            "resources": [_described(name, rows) for name, rows in tables.items()],
        }
        (place / DESCRIPTOR).write_text(json.dumps(described, ensure_ascii=False, indent=1), encoding="utf-8")

    write_folder(folder, write)


def only_tables_in(folder: Path) -> bool:
    """Whether a folder holds nothing but tables that this program wrote there."""
    try:
        described = json.loads((folder / DESCRIPTOR).read_text(encoding="utf-8"))
        ours = str(described["name"]).startswith("rationlp-")
        known = {DESCRIPTOR, *(each["path"] for each in described["resources"])}
    except (OSError, ValueError, KeyError, TypeError):
        return False
    return ours and {path.name for path in folder.iterdir()} <= known


def _columns(rows: Sequence[Row]) -> list[str]:
    return list(dict.fromkeys(name for row in rows for name in row))


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return str(value).lower()
    return csv_text(value) if isinstance(value, str) else value


def _described(name: str, rows: Sequence[Row]) -> Row:
    fields = [{"name": column, "type": _type([row.get(column) for row in rows])} for column in _columns(rows)]
    return {
        "name": name,
        "path": f"{name}.csv",
        "profile": "tabular-data-resource",
        "encoding": "utf-8",
        "schema": {"fields": fields},
    }


def _type(values: Sequence[object]) -> str:
    known = [value for value in values if value is not None]
    if known and all(isinstance(value, bool) for value in known):
        return "boolean"
    if known and all(isinstance(value, int | float) and not isinstance(value, bool) for value in known):
        return "number"
    return "string"
