"""A farm's own figures laid over a feed of the library: can the feed be like that?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import TYPE_CHECKING

from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.library.check_figures import AMINO_ACIDS_OVER_PROTEIN, ROOM_PCT, Fault, faults_together
from rationlp.library.equations import EquationError
from rationlp.library.reestimate import reestimate
from rationlp.numbers import as_typed
from rationlp.units import dry_matter_basis

if TYPE_CHECKING:
    from rationlp.library.read import Library

NEEDED = ("feed", "nutrient", "value", "unit", "basis")
TWO_LOTS_PCT = 5.0
"""By how much parts may pass their whole where some are the farm's and some the table's: lots differ by as much."""
PHOSPHORUS = frozenset({"phytate_phosphorus", "nonphytate_phosphorus"})
DRY_MATTER = "dry_matter"


def check_laid_over(reading: BookReading, library: Library) -> None:
    """Report, at the farm's own figure, what no feed can be. A feed with a row that cannot be read is passed over."""
    feeds: dict[str, dict[str, SheetRow]] = defaultdict(dict)
    unread = set()
    for row in reading["own_feeds"]:
        if row.sound(*NEEDED):
            feeds[row["feed"]].setdefault(row["nutrient"], row)
        else:
            unread.add(row["feed"])
    for feed, rows in feeds.items():
        if feed not in unread:
            _check_feed(reading, feed, rows, library)
    for row in reading["supplements"]:
        if row.sound("feed", "protein_pct") and row["feed"] in library.figures and row["feed"] not in unread:
            _check_offer(reading, row, feeds.get(row["feed"], {}), library)


def _check_offer(reading: BookReading, offer: SheetRow, rows: Mapping[str, SheetRow], library: Library) -> None:
    """Report a supplier's protein that the feed cannot have beside all else that is known of it."""
    feed = offer["feed"]
    own = _own(feed, rows, library)
    dry_matter = _dry_matter(feed, rows, library) or 100.0
    stated = {"crude_protein": dry_matter_basis(offer["protein_pct"], dry_matter)}
    try:
        before, after = _faults(feed, own, library), _faults(feed, own | stated, library)
    except EquationError as error:
        after, before, found = [], [], str(error)
    else:
        found = next((fault.found for fault in after if fault.severity == "error" and fault not in before), "")
    if found:
        found = f"{as_typed(offer['protein_pct'])} % protein in {feed}: {found}"
        reading.error(offer, "protein_pct", found, "protein as fed that this feed can have", "Correct it, or the feed.")


def _check_feed(reading: BookReading, feed: str, rows: Mapping[str, SheetRow], library: Library) -> None:
    own = _own(feed, rows, library)
    if not own:
        return
    first = rows[next(iter(own))]
    try:
        faults = _faults(feed, own, library)
    except EquationError as error:
        found, expected = f"{feed}: {error}", "figures of one feed that can be together"
        reading.error(first, "value", found, expected, "Check the values, their units and their basis.")
        return
    for fault in faults:
        row = rows.get(fault.nutrient) or _cause(fault, rows, library) or first
        report = reading.error if fault.severity == "error" else reading.warning
        report(row, "value", f"{feed}, on dry matter: {fault.found}", fault.expected, fault.do)


def _own(feed: str, rows: Mapping[str, SheetRow], library: Library) -> dict[str, float]:
    """The farm's figures of what the library knows, on dry matter."""
    return {
        nutrient: _on_dry_matter(row, feed, rows, library)
        for nutrient, row in rows.items()
        if nutrient in library.nutrients and nutrient != DRY_MATTER
    }


def _faults(feed: str, own: Mapping[str, float], library: Library) -> list[Fault]:
    """What cannot be with these figures laid over the library's. Raises EquationError."""
    stored = {nutrient: figure.value for nutrient, figure in library.figures.get(feed, {}).items()}
    changes = reestimate(feed, own, library)
    known = library.feeds.get(feed)
    together = {**stored, **{change.nutrient: change.new for change in changes}, **own}
    if len(PHOSPHORUS & own.keys()) == 1:  # the other one of the table is not of this lot
        for stale in PHOSPHORUS - own.keys():
            together.pop(stale, None)
    room = TWO_LOTS_PCT if stored else ROOM_PCT
    return list(faults_together(together, known.group if known else "", library.nutrients, room))


def _cause(fault: Fault, rows: Mapping[str, SheetRow], library: Library) -> SheetRow | None:
    """The farm's own row that a fault of another figure must come from."""
    words = f"{fault.found} {fault.expected}".replace(",", " ").split()
    named = next((row for nutrient, row in rows.items() if nutrient in words), None)
    if named is None and fault.expected.startswith(AMINO_ACIDS_OVER_PROTEIN):
        kinds = {nutrient: library.nutrients[nutrient].kind for nutrient in rows if nutrient in library.nutrients}
        named = next((rows[nutrient] for nutrient, kind in kinds.items() if kind == "amino_acid"), None)
    return named or rows.get("crude_protein")


def _on_dry_matter(row: SheetRow, feed: str, rows: Mapping[str, SheetRow], library: Library) -> float:
    """A figure on dry matter; as it is where the feed's dry matter is not known, all of its figures being as fed."""
    dry_matter = _dry_matter(feed, rows, library)
    coefficient = library.nutrients[row["nutrient"]].kind == "coefficient"
    value: float = row["value"]
    if coefficient or row["basis"] == "dry_matter" or dry_matter is None:
        return value
    return dry_matter_basis(value, dry_matter)


def _dry_matter(feed: str, rows: Mapping[str, SheetRow], library: Library) -> float | None:
    """The farm's dry matter of the feed in percent as fed, else the library's."""
    known = library.feeds.get(feed)
    return rows[DRY_MATTER]["value"] if DRY_MATTER in rows else known.dry_matter_pct if known else None
