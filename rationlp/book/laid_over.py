"""A farm's own figures laid over a feed of the library: can the feed be like that?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import TYPE_CHECKING

from rationlp.book.rows import Reading, Row
from rationlp.library.check_figures import AMINO_ACIDS_OVER_PROTEIN, ROOM_PCT, Fault, faults_together
from rationlp.library.equations import EquationError
from rationlp.library.reestimate import reestimate
from rationlp.units import dry_matter_basis

if TYPE_CHECKING:
    from rationlp.library.read import Library

NEEDED = ("feed", "nutrient", "value", "unit", "basis")
TWO_LOTS_PCT = 5.0
"""By how much parts may pass their whole where some are the farm's and some the table's: lots differ by as much."""
PHOSPHORUS = frozenset({"phytate_phosphorus", "nonphytate_phosphorus"})
DRY_MATTER = "dry_matter"


def check_laid_over(reading: Reading, library: Library) -> None:
    """Report, at the farm's own figure, what no feed can be. A feed with a row that cannot be read is passed over."""
    feeds: dict[str, dict[str, Row]] = defaultdict(dict)
    unread = set()
    for row in reading["own_feeds"]:
        if row.sound(*NEEDED):
            feeds[row["feed"]].setdefault(row["nutrient"], row)
        else:
            unread.add(row["feed"])
    for feed, rows in feeds.items():
        if feed not in unread:
            _check_feed(reading, feed, rows, library)


def _check_feed(reading: Reading, feed: str, rows: Mapping[str, Row], library: Library) -> None:
    own = {nutrient: _on_dry_matter(row, feed, rows, library) for nutrient, row in rows.items()
           if nutrient in library.nutrients and nutrient != DRY_MATTER}  # fmt: skip
    stored = {nutrient: figure.value for nutrient, figure in library.figures.get(feed, {}).items()}
    if not own:
        return
    first = rows[next(iter(own))]
    try:
        changes = reestimate(feed, own, library)
    except EquationError as error:
        found, expected = f"{feed}: {error}", "figures of one feed that can be together"
        reading.error(first, "value", found, expected, "Check the values, their units and their basis.")
        return
    known = library.feeds.get(feed)
    together = {**stored, **{change.nutrient: change.new for change in changes}, **own}
    if len(PHOSPHORUS & own.keys()) == 1:  # the other one of the table is not of this lot
        for stale in PHOSPHORUS - own.keys():
            together.pop(stale, None)
    room = TWO_LOTS_PCT if stored else ROOM_PCT
    for fault in faults_together(together, known.group if known else "", library.nutrients, room):
        row = rows.get(fault.nutrient) or _cause(fault, rows, library) or first
        report = reading.error if fault.severity == "error" else reading.warning
        report(row, "value", f"{feed}, on dry matter: {fault.found}", fault.expected, fault.do)


def _cause(fault: Fault, rows: Mapping[str, Row], library: Library) -> Row | None:
    """The farm's own row that a fault of another figure must come from."""
    words = f"{fault.found} {fault.expected}".replace(",", " ").split()
    named = next((row for nutrient, row in rows.items() if nutrient in words), None)
    if named is None and fault.expected.startswith(AMINO_ACIDS_OVER_PROTEIN):
        kinds = {nutrient: library.nutrients[nutrient].kind for nutrient in rows if nutrient in library.nutrients}
        named = next((rows[nutrient] for nutrient, kind in kinds.items() if kind == "amino_acid"), None)
    return named or rows.get("crude_protein")


def _on_dry_matter(row: Row, feed: str, rows: Mapping[str, Row], library: Library) -> float:
    """A figure on dry matter; as it is where the dry matter of the feed is not known, all of its figures being as fed."""
    known = library.feeds.get(feed)
    dry_matter = rows[DRY_MATTER]["value"] if DRY_MATTER in rows else known.dry_matter_pct if known else None
    coefficient = library.nutrients[row["nutrient"]].kind == "coefficient"
    if coefficient or row["basis"] == "dry_matter" or dry_matter is None:
        return row["value"]
    return dry_matter_basis(row["value"], dry_matter)
