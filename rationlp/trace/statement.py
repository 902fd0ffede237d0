"""What a group of animals ate, for the buyer of its pork or eggs: no more than the record can prove."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from rationlp.book.records import Book
from rationlp.errors import Problem, RequestError
from rationlp.reasons import Severity
from rationlp.trace.eaten import INTAKE_SPREAD, gaps
from rationlp.trace.follow import Trace, TracedBatch, TracedPart, group_in

ORGANIC = {True: "yes, by the offer", False: "no", None: "not stated"}


@dataclass(frozen=True, slots=True)
class StatementLine:
    """One feed over all the batches: kilograms and share (0 to 1) of what was mixed; in words what of it is known."""

    label: str
    words: str
    kg: float
    share: float
    home_grown: bool
    organic: str
    lots: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Statement:
    """What the record proves of the feed of a group. `gaps` are days between without a batch on record."""

    farm: str
    season: str
    group: str
    head: int
    start: date | None
    end: date | None
    batches: tuple[str, ...]
    kg: float
    home_grown_share: float
    lines: tuple[StatementLine, ...]
    notes: tuple[str, ...]
    units: str


def statement_of(trace: Trace, book: Book) -> Statement:
    """The statement of the group that `trace` follows. Raises RequestError where the record has nothing of it, or the
    book no group of that name."""
    name = trace.question.group
    group = group_in(name, book)
    if group is None:
        expected = "a group of the book, with its head and days"
        do = f"Ask by the name it has now, or put the row of {name} back."
        raise RequestError([Problem("error", "group", "", f"{name}, which the record alone knows", expected, do)])
    if not trace.batches:
        words = "batches on record for these animals and days"
        raise RequestError(
            [Problem("error", "group", "", f"nothing mixed for {group.group}", words, "Enter what was weighed first.")]
        )
    total = sum(traced.batch.made.total_kg for traced in trace.batches)
    lines = sorted(_lines(trace.batches, total, book), key=lambda line: -line.kg)
    start, end = _period(trace)
    return Statement(
        farm=book.farm.name,
        season=book.farm.season,
        group=group.group,
        head=group.head,
        start=start,
        end=end,
        batches=tuple(traced.batch.made.batch for traced in trace.batches),
        kg=total,
        home_grown_share=sum(line.share for line in lines if line.home_grown),
        lines=tuple(lines),
        notes=tuple(_notes(trace, group.group, start, end, book)),
        units=book.farm.units,
    )


def _period(trace: Trace) -> tuple[date | None, date | None]:
    """The days spoken of: those asked for, within those the batches can have been eaten on."""
    known = [traced.span for traced in trace.batches if traced.span]
    firsts = [span.likely_from for span in known]
    lasts = [span.likely_to for span in known if span.likely_to]
    asked = trace.question
    start = max((day for day in (asked.start, min(firsts, default=None)) if day), default=None)
    end = min((day for day in (asked.end, max(lasts, default=None)) if day), default=None)
    return start, end


def _lines(batches: Sequence[TracedBatch], total: float, book: Book) -> Iterable[StatementLine]:
    offers = {row.offer: row for row in book.supplements}
    by_name: dict[str, list[TracedPart]] = {}
    for traced in batches:
        for part in traced.parts:
            by_name.setdefault(part.offer, []).append(part)
    for name, parts in by_name.items():
        kg, offer = sum(part.kg for part in parts), offers.get(name)
        if parts[0].bin:
            crops = dict.fromkeys(row.crop for row in book.sorted if row.sample in {part.sample for part in parts})
            words = f"grain of bin {name}" + (f": {', '.join(crops).replace('_', ' ')}" if crops else "")
            organic = f"farm says {book.farm.certification}" if book.farm.certification != "none" else "not stated"
        else:
            words = f"from {offer.supplier}" if offer and offer.supplier else ""
            organic = ORGANIC[offer.organic if offer else None]
        lots = tuple(dict.fromkeys(part.lot for part in parts if part.lot))
        grown = all(part.home_grown for part in parts)
        yield StatementLine(parts[0].label, words, kg, kg / total if total else 0.0, grown, organic, lots)


def _notes(trace: Trace, group: str, start: date | None, end: date | None, book: Book) -> Iterable[str]:
    shared = sorted({name for traced in trace.batches for name in traced.groups} - {group})
    if shared:
        yield f"The same batches were fed to {', '.join(shared)} too; the masses are of whole batches."
    yield (
        f"Masses are those of the batches as the crew weighed them. The days follow from what animals eat per day, "
        f"give or take {100 * INTAKE_SPREAD:.0f} %, batches eaten in the order they were made."
    )
    stopped = [t.batch.made.batch for t in trace.batches if t.batch.verdict.severity is Severity.STOP]
    if stopped:
        yield f"Judged not to be fed; the record does not say whether they were: {', '.join(stopped)}."
    if start and end and (missing := gaps([t.span for t in trace.batches if t.span], start, end, book.farm)):
        yield f"No batch on record for: {', '.join(missing)}. What was eaten then is not stated."
    unnamed = sorted({p.label for t in trace.batches for p in t.parts if not p.bin and not p.home_grown and not p.lot})
    if unnamed:
        yield f"The lots were not written down of: {', '.join(unnamed)}."
    yield from trace.notes
