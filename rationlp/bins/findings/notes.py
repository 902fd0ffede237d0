"""What the farm itself wrote beside a bin and its samples."""

from __future__ import annotations

from rationlp.book.records import Bin, Book
from rationlp.library.dangers.words import Danger, dangers_in
from rationlp.library.read import Library
from rationlp.reasons import Kind, Reason, Severity

GRAIN = ("any", "grain")


def note_reasons(row: Bin, book: Book, library: Library) -> tuple[Reason, ...]:
    """A reason for each dangerous thing that the label or the notes of the bin and its samples say."""
    places = [(f"The note on the bin {row.bin}", row.note), (f"The label of the bin {row.bin}", row.label)]
    places += [(f"The note on sample {s.sample}", s.note) for s in book.samples if s.bin == row.bin]
    return tuple(
        word_reason(place, danger, row.bin) for place, text in places for danger in dangers_in(text, GRAIN, library)
    )


def word_reason(place: str, danger: Danger, feed: str) -> Reason:
    """What a word on a note or label means for whoever would feed the feed of that name."""
    meaning = danger.meaning
    text = f'{place} says "{danger.written}". It speaks of {meaning.label}: {meaning.text}. {meaning.do}'
    sources = dict.fromkeys([*danger.row.source.split("; "), *meaning.source.split("; ")])
    return Reason(Kind.SAFETY, Severity(meaning.severity), text, feed=feed, source="; ".join(sources))
