"""Names of feeds, crops, stages and nutrients as a clerk reads them: by id, label or a word of the trade.

A word that fits one is read as it; a word that fits several is asked. What is not known stays as it is: the checks say
what comes near.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from rationlp.book.columns import ALL_STAGES, BIN_PREFIX, FOREIGN_MATTER
from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.finder import Finder, Name, plain
from rationlp.library.names.known import (
    POISON,
    crop_finder,
    family_finder,
    feed_finder,
    nutrient_finder,
    stage_finder,
)
from rationlp.library.names.stages import stages_by_size

if TYPE_CHECKING:
    from rationlp.library.read import Library

_RANGE = re.compile(r"(\d)_+(\d)")

Meant = Callable[[str], tuple[str, ...]]
"""What a name stands for: one id, several, or none."""


def settle_names(reading: BookReading, library: Library) -> None:
    """Put every feed, crop, stage and nutrient under its id; report each word that can be read in several ways."""
    feeds, stages, nutrients = feed_finder(library), stage_finder(library), nutrient_finder(library)
    for sheet in ("assays", "own_feeds", "own_stages"):
        _settle(reading, sheet, "nutrient", nutrients, nutrients.meant)
    _settle(reading, "own_feeds", "feed", feeds, feeds.meant, may_be_new=True)
    _settle(reading, "own_stages", "stage", stages, stages.meant, may_be_new=True)
    own_feeds, own_stages = ids(reading["own_feeds"], "feed"), ids(reading["own_stages"], "stage")
    crops, caps = crop_finder(library, FOREIGN_MATTER), family_finder(library)
    _settle(reading, "supplements", "feed", feeds, feeds.meant, own_feeds)
    _settle(reading, "own_limits", "feed", caps, caps.meant, own_feeds)
    for sheet in ("sorted", "sown", "crops"):
        _settle(reading, sheet, "crop", crops, crops.meant, own_feeds)
    for sheet in ("groups", "herd", "own_limits"):
        _settle(reading, sheet, "stage", stages, lambda text: stage_meant(text, library), {*own_stages, ALL_STAGES})
    _settle_weighed(reading, feeds)


def _settle_weighed(reading: BookReading, feeds: Finder) -> None:
    """Put what the crew weighed under its name in the book: by the label a mix sheet prints, or as a feed on offer.

    What stands there by its id is left as it is, `bin:` before it or not.
    """
    labelled = [(row, "offer") for row in reading["supplements"]] + [(row, "bin") for row in reading["bins"]]
    named = [(row[column], row["label"] or "") for row, column in labelled if row.sound(column, "label")]
    finder = Finder(Name(name, (label,) if label else ()) for name, label in named)
    offers = [(row["offer"], row["feed"]) for row in reading["supplements"] if row.sound("offer", "feed")]
    known = {*map(plain, finder.names), *feeds.names, *ids(reading["own_feeds"], "feed")}

    def meant(text: str) -> tuple[str, ...]:
        if plain(text).removeprefix(BIN_PREFIX) in known:
            return ()
        of_feed = feeds.meant(text)
        return finder.meant(text) or tuple(offer for offer, feed in offers if feed in of_feed)

    _settle(reading, "actual", "feed", finder, meant)


def ids(rows: Iterable[SheetRow], column: str) -> set[str]:
    """What stands in a column of the rows, where it could be read."""
    return {row[column] for row in rows if row.sound(column)}


def stage_meant(text: str, library: Library) -> tuple[str, ...]:
    """The stages that a name, or a weight or age with or without the animal, stands for."""
    return stage_finder(library).meant(text) or stages_by_size(_as_typed(text), library)


def _as_typed(text: str) -> str:
    """A name as somebody typed it: in an id the blanks, and the hyphen of a range, are underscores."""
    return _RANGE.sub(r"\1-\2", text).replace("_", " ")


def with_own(finder: Finder, own: Iterable[str]) -> Finder:
    """A finder that knows names of the book too, the first to come to mind."""
    return finder.with_first(Name(name) for name in sorted(own))


def _settle(
    reading: BookReading,
    sheet: str,
    column: str,
    finder: Finder,
    meant: Meant,
    own: Iterable[str] = (),
    may_be_new: bool = False,
) -> None:
    for row in reading[sheet]:
        if not row.sound(column) or row[column] in own:
            continue
        found = meant(row[column])
        if any(finder.names[id_].kin == POISON for id_ in found):
            continue  # the checks say what it is
        if len(found) == 1:
            row.values[column] = found[0]
        elif found and not may_be_new:
            what = f"the {column} {_as_typed(row[column])!r}, which may be {finder.told(found)}"
            reading.error(row, column, what, "the one that is meant", "Write which of them it is.")
