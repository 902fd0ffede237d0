"""A trace as JSON and as a table."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from rationlp.book.records import Book
from rationlp.cautions import REVIEW
from rationlp.files import csv_text
from rationlp.trace.follow import Trace, TracedBatch, TracedPart

if TYPE_CHECKING:
    from rationlp.show.schema import later

COLUMNS = (
    "batch",
    "made_on",
    "stage",
    "groups",
    "eaten_from",
    "eaten_to",
    "verdict",
    "feed",
    "offer",
    "lot",
    "bin",
    "sample",
    "kg",
    "home_grown",
)


def trace_document(trace: Trace, book: Book) -> later.TraceDocument:
    """`trace --format json`; masses in kg. `eaten_from` and `eaten_to` are the first and last day it can have been."""
    return {
        "book": str(book.path),
        "review": REVIEW,
        "asked_kg": trace.asked_kg,
        "notes": trace.notes,
        "batches": [_batch(traced) for traced in trace.batches],
    }


def _batch(traced: TracedBatch) -> later.TracedBatchObject:
    made, span = traced.batch.made, traced.span
    return {
        "batch": made.batch,
        "number": made.number or None,
        "sheet": made.sheet,
        "made_on": made.made_on,
        "stage": made.stage,
        "groups": traced.groups,
        "heads": dict(span.heads) if span else {},
        "eaten_from": span.first if span else None,
        "eaten_to": span.last if span else None,
        "likely_from": span.likely_from if span else None,
        "likely_to": span.likely_to if span else None,
        "certain": traced.sure,
        "judged_on": traced.batch.judged_on or None,
        "verdict": traced.batch.verdict,
        "faults": traced.batch.faults,
        "parts": [_part(part) for part in traced.parts],
    }


def _part(part: TracedPart) -> later.TracedPartObject:
    return {
        "feed": part.feed,
        "offer": part.offer,
        "label": part.label,
        "lot": part.lot or None,
        "bin": part.bin or None,
        "sample": part.sample or None,
        "kg": part.kg,
        "home_grown": part.home_grown,
        "from": part.origin,
    }


def trace_table(trace: Trace) -> str:
    """CSV text: a row for everything in every batch."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n", extrasaction="ignore")
    writer.writeheader()
    for traced in trace.batches:
        head = _batch(traced) | {
            "groups": "+".join(traced.groups),
            "verdict": traced.batch.verdict.severity.value,
        }
        for part in traced.parts:
            row = head | _part(part)
            writer.writerow({key: csv_text(value) if isinstance(value, str) else value for key, value in row.items()})
    return out.getvalue()
