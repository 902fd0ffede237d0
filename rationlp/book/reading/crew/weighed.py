"""What the crew weighed: masses, or what the mixer's scale showed after each feed."""

from __future__ import annotations

from rationlp.book.reading.crew.moved import movement_of
from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.finder import plain

Turn = tuple[str, object, str]


def settle_weights(reading: BookReading) -> None:
    """Put a mass in place of every reading: what the scale showed less what was in already, in the order of the rows.

    A reading that is not above the last one, of a feed that is in already, begins the next batch of that sheet and day.
    """
    holds: dict[Turn, float] = {}
    seen: dict[Turn, set[str]] = {}
    for row in reading["actual"]:
        if row.bad & {"mass", "scale_reads"} or not row.sound("sheet", "feed") or movement_of(row):
            continue
        mass, reads = row["mass"], row["scale_reads"]
        if (mass is None) == (reads is None):
            found = "neither a mass nor a reading of the scale" if mass is None else "a mass beside a reading"
            expected = "what this feed weighed, or what the scale showed after it: one of the two"
            reading.error(row, "mass", found, expected, "Keep one of the two; a mass of 0 for what was left out.")
            continue
        turn: Turn = (plain(row["sheet"]), row["made_on"], row["batch"] or "")
        feed, held = plain(row["feed"]), holds.get(turn, 0.0)
        if reads is not None and reads < held and feed in seen.get(turn, set()):
            held, seen[turn] = 0.0, set()
        seen.setdefault(turn, set()).add(feed)
        if reads is not None:
            mass = _mass(reading, row, reads, held)
        row.values["mass"] = mass
        holds[turn] = held + mass


def _mass(reading: BookReading, row: SheetRow, reads: float, held: float) -> float:
    if reads >= held:
        return float(reads - held)
    reading.error(
        row,
        "scale_reads",
        "less than the scale showed before",
        "what it showed after this feed, all before it counted",
        "Put the rows in the order of adding, or give the mass of this feed alone under mass.",
    )
    return 0.0
