"""The batches that were made: those of the farm's record, and those that so far stand in the book alone."""

from __future__ import annotations

import re
from datetime import date, timedelta

from rationlp.actual.known import Known
from rationlp.actual.report import as_batch, judged_for_all
from rationlp.farm import Farm
from rationlp.ledger.kept import printed_by_id, record_for
from rationlp.ledger.shape import Batch, batches_of, in_order
from rationlp.ledger.store import EntryKind, Record
from rationlp.ledger.weighed import made_in_book
from rationlp.trace.follow import Question

LONGEST_EATEN = timedelta(days=180)
"""A batch is long eaten up after this; what was made so much earlier or later says nothing of when another was."""


def batches_made(farm: Farm, question: Question) -> list[Batch]:
    """The batches that may answer `question` and those made about their time, in the order of mixing, each judged by
    what was known on its day. Raises InputError."""
    record = record_for(farm.book)
    found = {batch.made.key: batch for batch in batches_of(record, days=_days(question, farm, record))}
    known = Known(farm, printed_by_id(farm.book))
    for made in made_in_book(farm, known.ids(row.sheet for row in farm.book.actual)) if farm.book.actual else ():
        if made.key not in found:
            found[made.key] = as_batch(judged_for_all(known.as_printed(made), known), farm.book)
    return in_order(found.values())


def _days(question: Question, farm: Farm, record: Record) -> tuple[date, date] | None:
    """Between which days batches matter to the question; None for all."""
    first, last = question.start, question.end
    number = re.fullmatch(r".*?#?\s*(\d+)", question.batch.strip())
    if question.batch and number:
        hits = [entry.made_on for entry in record.entries(EntryKind.BATCH, number=int(number[1])) if entry.made_on]
        first, last = min(hits, default=None), max(hits, default=None)
    elif question.lot and first is None:
        lot = next((row for row in farm.book.lots if row.lot == question.lot), None)
        days = [each.made_on for each in record.entries(EntryKind.BATCH, naming=[question.lot]) if each.made_on]
        first = min([*days, *([lot.delivered_on] if lot and lot.delivered_on else [])], default=None)
        last = max(days, default=None) if lot is None else None
    if first is None:
        return None
    return first - LONGEST_EATEN, (last or date.max - LONGEST_EATEN) + LONGEST_EATEN
