"""A ration in the farm's record, as if its sheet had been printed on a day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from rationlp.book.records import Book
from rationlp.ledger.kept import record_for
from rationlp.ledger.made_mix import MadeMix, printed_mix
from rationlp.ledger.shape import printed_entry
from rationlp.rations.answer.ids import book_version, ration_id
from rationlp.rations.answer.model import Ration


def keep(
    ration: Ration, book: Book, day: date, sheet: str = "", samples: Sequence[str] = (), name: str = ""
) -> MadeMix:
    """Keep it, with the samples its bins were judged by (by default the newest), under the id `name` (its own)."""
    ids = {"id": name or ration_id(ration, book), "book_version": book_version(book)}
    made = printed_mix(ration, book, made_on=day, sheet=sheet, **ids)
    made = replace(made, samples=tuple(samples)) if samples else made
    record_for(book).add([printed_entry(made)])
    return made
