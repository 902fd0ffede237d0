"""What was mixed, how it was judged, who ate it: the farm's record on the page."""

from __future__ import annotations

from dataclasses import dataclass

from rationlp.errors import InputError
from rationlp.farm import Farm
from rationlp.ledger.shape import Signature
from rationlp.ledger.signatures import signatures
from rationlp.trace.follow import Question, Trace, follow
from rationlp.trace.gather import batches_made

MOST_BATCHES = 12
"""Shown before the fold, the newest."""


@dataclass(frozen=True, slots=True)
class RecordPart:
    """The batches of the record, the newest first, and the signatures; `fault` says why the record cannot be read."""

    trace: Trace | None
    signed: tuple[Signature, ...]
    fault: str = ""


def record_part(farm: Farm) -> RecordPart:
    """What the book and its record say was made. What cannot be read is told, and the page stands without it."""
    try:
        question = Question()
        return RecordPart(follow(question, batches_made(farm, question), farm.book), tuple(signatures(farm.book)))
    except InputError as error:
        return RecordPart(None, (), error.problems[0].line())
