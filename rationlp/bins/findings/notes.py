"""What the farm itself wrote beside a bin and its samples."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rationlp.book.records import Assay, Bin, Book
from rationlp.library.dangers.words import Danger, dangers_in
from rationlp.library.read import Library
from rationlp.reasons import Kind, Reason, Severity
from rationlp.units import convert_composition

GRAIN = ("any", "grain")
SAME_RESULT = 0.95
"""Part of the figure in a note that a result must come to, to be the one the note speaks of: people round."""


def note_reasons(row: Bin, book: Book, library: Library) -> tuple[Reason, ...]:
    """A reason for each dangerous thing that the name, the label or the notes of the bin and its samples say."""
    return tuple(word_reason(place, danger, row.bin) for place, danger in _dangers(row, book, library))


def killing_notes(row: Bin, scopes: frozenset[str], book: Book, library: Library) -> tuple[Reason, ...]:
    """A reason for each word of these notes that bars the bin from animals of one of these scopes."""
    return tuple(
        word_reason(place, danger, row.bin)
        for place, danger in _dangers(row, book, library)
        if scopes & set(danger.row.stop_for)
    )


def _dangers(row: Bin, book: Book, library: Library) -> Iterator[tuple[str, Danger]]:
    """What is said and not entered: of a sample by its own results, of the bin by those of any of its samples."""
    samples = [sample for sample in book.samples if sample.bin == row.bin]
    every = [sample.sample for sample in samples]
    named = row.bin.replace("_", " ")
    places = [
        *([(f"The name of the bin {row.bin}", named, every)] if named != row.label else []),
        (f"The note on the bin {row.bin}", row.note, every),
        (f"The label of the bin {row.bin}", row.label, every),
        *((f"The note on sample {sample.sample}", sample.note, [sample.sample]) for sample in samples),
    ]
    for place, text, of in places:
        assays = [assay for assay in book.assays if assay.sample in of]
        for danger in dangers_in(text, GRAIN, library):
            if not entered(danger, assays, library):
                yield place, danger


def entered(danger: Danger, assays: Iterable[Assay], library: Library) -> bool:
    """Whether the result that a note speaks of stands on the sheet assays: of it, its sum or a part, and no lower."""
    nutrient = danger.row.nutrient
    if not nutrient:
        return False
    known = library.nutrients
    names = {nutrient, *known[nutrient].sum_of, *(name for name, row in known.items() if nutrient in row.sum_of)}
    unit = known[nutrient].unit
    results = [convert_composition(row.value, row.unit, unit) for row in assays if row.nutrient in names]
    return bool(results) and (danger.figure is None or max(results) >= danger.figure * SAME_RESULT)


def word_reason(place: str, danger: Danger, feed: str, bought: bool = False) -> Reason:
    """What a word on a note or label means for whoever would feed the feed of that name."""
    meaning = danger.meaning
    do = (bought and meaning.do_bought) or meaning.do
    text = f'{place} says "{danger.written}". It speaks of {meaning.label}: {meaning.text}. {do}'
    sources = dict.fromkeys([*danger.row.source.split("; "), *meaning.source.split("; ")])
    return Reason(Kind.SAFETY, Severity(meaning.severity), text, feed=feed, source="; ".join(sources))
