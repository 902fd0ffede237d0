"""The farm's record as CSV files: tables for a spreadsheet program, and every entry, from which it can be rebuilt."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from rationlp.errors import InputError, Problem
from rationlp.files import csv_text, write_whole_text
from rationlp.incoming import bytes_of
from rationlp.ledger.flows import kept_moves
from rationlp.ledger.shape import Batch, batch_of, signature_of, told
from rationlp.ledger.store import COLUMNS, EntryKind, Record

ENTRIES = "entries.csv"
BATCHES = ("batch", "made_on", "sheet", "stage", "bins", "samples", "groups", "kg", "verdict", "reasons")
PARTS = ("batch", "made_on", "offer", "feed", "lot", "kg", "asked_kg", "home_grown")
MOVED = ("on", "kind", "name", "lot", "kg")
SIGNATURES = ("ration", "signed_by", "licence", "signed_on", "valid_until", "note")


def export(record: Record, folder: Path) -> None:
    """Write the record into `folder`: batches, what went in, what was moved, signatures, entries. Raises InputError,
    for the folder of a farm book too: its sheets are all the files in it."""
    if (folder / "farm.csv").exists():
        raise InputError([_folder(folder, "a farm book")])
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise InputError([_folder(folder, str(error.strerror))]) from None
    batches = told(record, EntryKind.BATCH, batch_of)
    signatures = told(record, EntryKind.SIGNED, signature_of)
    write_whole_text(folder / "batches.csv", _csv(BATCHES, (_batch_row(batch) for batch in batches)))
    write_whole_text(folder / "weights.csv", _csv(PARTS, (row for batch in batches for row in _part_rows(batch))))
    moved = ([getattr(flow, name) for name in MOVED] for flow in kept_moves(record))
    write_whole_text(folder / "moved.csv", _csv(MOVED, moved))
    rows = ([getattr(signature, name) for name in SIGNATURES] for signature in signatures)
    write_whole_text(folder / "signatures.csv", _csv(SIGNATURES, rows))
    write_whole_text(folder / ENTRIES, _csv(COLUMNS, record.rows(), plain=True))


def rebuild(record: Record, folder: Path) -> int:
    """Enter what an export has and the record has not; how many entries that were. Raises InputError."""
    try:
        text = bytes_of(folder / ENTRIES).decode("utf-8")
        rows = list(csv.reader(io.StringIO(text, newline="")))
    except (OSError, ValueError) as error:
        raise InputError([_folder(folder, str(error))]) from None
    if not rows or tuple(rows[0]) != COLUMNS:
        raise InputError([_folder(folder, f"{ENTRIES} with other headings")])
    try:
        return record.add_rows(rows[1:])
    except (ValueError, TypeError) as error:
        raise InputError([_folder(folder, f"{ENTRIES} with a row that was changed ({error})")]) from None


def _folder(folder: Path, found: str) -> Problem:
    return Problem(
        "error",
        folder.name,
        "",
        found,
        "a folder with an export of the farm's record",
        "Choose another folder, or take the export as it was written.",
    )


def _batch_row(batch: Batch) -> list[object]:
    made = batch.made
    return [
        made.batch,
        made.made_on,
        made.sheet,
        made.stage,
        "+".join(made.bins),
        "+".join(made.samples),
        "+".join(batch.groups),
        made.total_kg,
        batch.verdict.severity.value,
        " ".join(reason.text for reason in batch.verdict.reasons),
    ]


def _part_rows(batch: Batch) -> Iterable[list[object]]:
    for part in batch.made.parts:
        yield [
            batch.made.batch,
            batch.made.made_on,
            part.offer,
            part.feed,
            part.lot,
            part.kg,
            part.asked_kg,
            "yes" if part.home_grown else "no",
        ]


def _csv(heads: Sequence[str], rows: Iterable[Sequence[Any]], plain: bool = False) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heads)
    for row in rows:
        writer.writerow(row if plain else [csv_text(cell) if isinstance(cell, str) else cell for cell in row])
    return out.getvalue()
