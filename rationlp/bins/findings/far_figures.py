"""The farm's own figures of a feed that lie far off the table: a question wherever the feed is in a mix."""

from __future__ import annotations

from rationlp.book.records import Book, OwnFigure
from rationlp.figures import feed_label, nutrient_label
from rationlp.library.dangers.far_figures import FarOff, far_off
from rationlp.library.read import Library
from rationlp.numbers import figure
from rationlp.reasons import Kind, Reason, Severity


def far_off_reasons(feed: str, name: str, book: Book, library: Library) -> tuple[Reason, ...]:
    """A reason for each own figure of `feed` that lies far off; `name` is the bin or offer that it is in."""
    rows = [row for row in book.own_feeds if row.feed == feed]
    if not rows:
        return ()
    known = library.feeds.get(feed)
    tabled = known.dry_matter_pct if known else None
    dry_matter = next((row.value for row in rows if row.nutrient == "dry_matter"), tabled)
    found = ((row, far_off(feed, row.nutrient, row.value, row.basis, dry_matter, None, library)) for row in rows)
    return tuple(_reason(row, far, name, library) for row, far in found if far is not None)


def _reason(row: OwnFigure, far: FarOff, name: str, library: Library) -> Reason:
    unit = row.unit
    return Reason(
        Kind.EVIDENCE,
        Severity.ASK,
        f"{nutrient_label(row.nutrient, library)} of {feed_label(row.feed, library)} is {figure(far.value)} {unit} in "
        f"the book ({far.basis}), {figure(far.table)} in the table: {far.reading}. Check it against the label or the "
        "laboratory's sheet.",
        nutrient=row.nutrient,
        feed=name,
        unit=unit,
        value=far.value,
        source="own_feeds of the book",
    )
