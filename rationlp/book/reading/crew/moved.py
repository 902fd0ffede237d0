"""Rows of the sheet `actual` that are no weights of a mix: what was counted, thrown away, sold."""

from __future__ import annotations

from rationlp.book.columns import BIN_PREFIX
from rationlp.book.crew_columns import Movement
from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.book.records import Flow, FlowKind
from rationlp.finder import plain

KINDS = {
    Movement.COUNTED: FlowKind.COUNTED,
    Movement.THROWN_AWAY: FlowKind.THROWN_AWAY,
    Movement.SOLD: FlowKind.SOLD,
}


def movement_of(row: SheetRow) -> Movement | None:
    """What a row is where a mix sheet's name would stand; None for a weight of a mix."""
    word = plain(row["sheet"]) if row.sound("sheet") else ""
    return next((each for each in Movement if each == word), None)


def check_moved(reading: BookReading) -> None:
    """Report rows of what was counted, thrown away or sold without a day or a mass, or not of one bin or offer."""
    for row in reading["actual"]:
        kind = movement_of(row)
        if kind is None:
            continue
        if row["made_on"] is None and "made_on" not in row.bad:
            what = f"{kind.replace('_', ' ')} without its day"
            reading.error(row, "made_on", what, "the day, such as 2026-01-05", "Fill in made_on.")
        if row["scale_reads"] is not None or (row["mass"] is None and not row.bad & {"mass", "scale_reads"}):
            found = "no mass" if row["mass"] is None else "a mass beside a reading"
            expected, do = "how much it was, under mass", "Fill in mass alone; 0 where nothing is left."
            reading.error(row, "mass", found, expected, do)
        if kind is Movement.COUNTED and row["lot"]:
            expected = "all there is of a bin or an offer, its lots together"
            reading.error(
                row, "lot", f"a count of the lot {row['lot']!r} alone", expected, "Count all; leave lot blank."
            )
        if row.sound("feed") and not _name(row, reading):
            expected, do = (
                "one bin or one offer of the book",
                "Write the name of the bin or the offer, not of the feed.",
            )
            reading.error(row, "feed", f"{row['feed']!r}", expected, do)


def moved(reading: BookReading) -> tuple[Flow, ...]:
    """What was counted, thrown away and sold, by bin and offer."""
    return tuple(
        Flow(
            _name(row, reading),
            KINDS[kind],
            row["made_on"],
            row["mass"],
            lot=row["lot"] or "",
            where=f"actual!{row.place.cell('feed')}",
        )
        for row in reading["actual"]
        if (kind := movement_of(row)) is not None
    )


def _name(row: SheetRow, reading: BookReading) -> str:
    """The bin or offer a row is of, by its name or as the only offer of its feed; empty where there is none or many."""
    word = plain(row["feed"]).removeprefix(BIN_PREFIX).strip()
    named = reading.names("bins", "bin") | reading.names("supplements", "offer")
    if word in named:
        return named[word]
    of_feed = [
        offer["offer"] for offer in reading["supplements"] if offer.sound("feed") and plain(offer["feed"]) == word
    ]
    return of_feed[0] if len(of_feed) == 1 else ""
