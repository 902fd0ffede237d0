"""Where feed came from and where it went, for the terminal."""

from __future__ import annotations

from datetime import date

from rationlp.book.records import Book, Settings
from rationlp.book_units import BookUnits, units_of
from rationlp.reasons import Severity
from rationlp.show.terminal import Terminal, table
from rationlp.trace.follow import Question, Trace, TracedBatch

WIDTH = 100
FIRST = 10
"""Batches on the first screen; more with --full."""
MOST_NOTES = 4


def print_trace(trace: Trace, book: Book, today: date, full: bool = False) -> None:
    """The answer in a sentence, which animals and when, the batches; what is in them for one batch or in full."""
    out, units = Terminal(WIDTH), units_of(book.farm)
    out.print(_answer(trace, book, units), strong=True)
    if trace.batches:
        _animals(out, trace, today, book.farm)
        _batches(out, trace, book.farm, full)
    for traced in trace.batches if full or len(trace.batches) == 1 else ():
        _parts(out, traced, units)
    if trace.batches and not full and len(trace.batches) > 1:
        out.print("What is in one of them: --batch and its number. Everything: --full.")
    for note in trace.notes[: None if full else MOST_NOTES]:
        out.print(f"- {note}")


def _answer(trace: Trace, book: Book, units: BookUnits) -> str:
    asked = trace.question
    count = f"{len(trace.batches)} {'batch' if len(trace.batches) == 1 else 'batches'}"
    total = sum(traced.batch.made.total_kg for traced in trace.batches)
    words = f"{_asked_words(asked, book)}: {count}, {units.weight(total)} of feed"
    if asked.bin or asked.lot:
        words += f", {units.weight(trace.asked_kg)} of it {'this bin' if asked.bin else 'this lot'}"
    bad = sum(traced.batch.verdict.severity is Severity.STOP for traced in trace.batches)
    return words + (f". {bad} of them judged DO NOT FEED." if bad else ".")


def _asked_words(asked: Question, book: Book) -> str:
    words = [f"Bin {asked.bin}"] if asked.bin else []
    if asked.lot:
        lot = next((row for row in book.lots if row.lot == asked.lot), None)
        offer = next((row for row in book.supplements if lot and row.offer == lot.offer), None)
        label = f" ({offer.label or offer.feed}{f', {offer.supplier}' if offer.supplier else ''})" if offer else ""
        words.append(f"Lot {asked.lot}{label}")
    words += [f"eaten by {asked.group}"] if asked.group else []
    words += [f"batch {asked.batch}"] if asked.batch else []
    if asked.start or asked.end:
        words.append(f"from {book.farm.day(asked.start, 'the beginning')} to {book.farm.day(asked.end, 'today')}")
    text = ", ".join(words) or "All that is on record"
    return text[0].upper() + text[1:]


def _animals(out: Terminal, trace: Trace, today: date, farm: Settings) -> None:
    found = table(
        "The animals, and when they can have eaten it",
        [("Group", "left"), ("Head", "right"), ("From", "left"), ("To", "left"), ("Batches", "left")],
    )
    for group in dict.fromkeys(name for traced in trace.batches for name in traced.groups):
        mine = [traced for traced in trace.batches if group in traced.groups]
        known = [traced.span for traced in mine if traced.span]
        heads = max((span.heads.get(group, 0) for span in known), default=0)
        first = min((span.first for span in known), default=None)
        ends = [span.last for span in known]
        last = max((end for end in ends if end), default=None) if None not in ends else None
        still = " (may still be fed)" if known and (last is None or last >= today) else ""
        names = _some([traced.batch.made.batch for traced in mine])
        out_of = f"{farm.day(last, 'not known')}{still}"
        found.add_row(group, str(heads or ""), farm.day(first, "no date"), out_of, names)
    if found.rows:
        out.print(found)


def _some(names: list[str]) -> str:
    more = len(names) - 3
    return ", ".join(names[:3]) + (f" and {more} more" if more > 0 else "")


def _batches(out: Terminal, trace: Trace, farm: Settings, full: bool) -> None:
    units = units_of(farm)
    shown = trace.batches if full else trace.batches[-FIRST:]
    title = "Batches" if len(shown) == len(trace.batches) else f"The last {len(shown)} of {len(trace.batches)} batches"
    heads = [("Batch", "left"), ("Made", "left"), ("For", "left"), ("Mass", "right"), ("Eaten, at widest", "left")]
    found = table(title, [*heads, ("Verdict of its day", "left")])
    for traced in shown:
        made = traced.batch.made
        words = traced.batch.verdict.severity.value.upper() + ("" if traced.sure else " (perhaps)")
        day = farm.day(made.made_on, "no date")
        found.add_row(made.batch, day, made.stage, units.weight(made.total_kg), span_words(traced, farm), words)
    out.print(found)


def span_words(traced: TracedBatch, farm: Settings) -> str:
    """From when to when a batch can have been eaten."""
    span = traced.span
    if span is None:
        return "not known"
    return f"{farm.day(span.first)} to {farm.day(span.last)}" if span.last else f"from {farm.day(span.first)}"


def _parts(out: Terminal, traced: TracedBatch, units: BookUnits) -> None:
    made, batch = traced.batch.made, traced.batch
    found = table(
        f"In batch {made.batch}", [("Feed", "left"), ("Offer", "left"), (units.mass, "right"), ("Where from", "left")]
    )
    for part in traced.parts:
        found.add_row(part.label, part.offer, units.small(part.kg, 5), part.origin)
    out.print(found)
    out.print(f"{batch.verdict.headline}.", strong=True)
    for reason in batch.verdict.weighing(batch.verdict.severity)[:MOST_NOTES]:
        out.print(f"- {reason.text}")
