"""Own figures far off the table: a warning with the likely reading; an error in a premix that would poison."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.library.dangers.far_figures import FarOff, far_off
from rationlp.numbers import figure

if TYPE_CHECKING:
    from rationlp.library.read import Library

NEEDED = ("feed", "nutrient", "value", "unit", "basis")


def check_far_figures(reading: BookReading, library: Library) -> None:
    """Report, at its value, each own figure that lies far off the table's."""
    rows = [row for row in reading["own_feeds"] if row.sound(*NEEDED)]
    own_dry_matter = {row["feed"]: row["value"] for row in rows if row["nutrient"] == "dry_matter"}
    for row in rows:
        known, unit = library.feeds.get(row["feed"]), library.units.get(row["nutrient"])
        if known is None or row["unit"] != unit:
            continue
        dry_matter = own_dry_matter.get(row["feed"], known.dry_matter_pct)
        inclusion = _inclusion_pct(reading, row["feed"], known.premix_inclusion_pct)
        found = far_off(row["feed"], row["nutrient"], row["value"], row["basis"], dry_matter, inclusion, library)
        if found is not None:
            _report(reading, row, found, inclusion)


def _inclusion_pct(reading: BookReading, feed: str, stated: float | None) -> float | None:
    """The most of a premix that an offer lets into the ration, else what the table states, in percent."""
    most = [row["max_pct"] for row in reading["supplements"] if row["feed"] == feed and row.sound("max_pct")]
    return max(most, default=stated)


def _report(reading: BookReading, row: SheetRow, far: FarOff, inclusion_pct: float | None) -> None:
    unit, nutrient = row["unit"], row["nutrient"]
    found = (
        f"{figure(far.value)} {unit} of {nutrient} in {row['feed']} ({far.basis}), the table has {figure(far.table)}"
    )
    if far.brings is None or far.safe is None:
        do = f"Check it: {far.reading}."
        reading.warning(row, "value", found, f"something nearer to {figure(far.table)}", do)
        return
    found += f"; at {figure(inclusion_pct)} % of the ration it brings {figure(far.brings)} {unit}"
    expected = f"at most the safe {figure(far.safe)} {unit} in the ration"
    reading.error(row, "value", found, expected, f"Read the label again: {far.reading}.")
