"""Bins on hold: why, until when, and who can release them."""

from __future__ import annotations

from datetime import date

from rationlp.book.records import Bin, Settings
from rationlp.book.somebody import names_somebody
from rationlp.reasons import Kind, Reason, Severity

WHY = {
    "treated_seed": "treated seed in it",
    "ergot": "ergot in it",
    "mould": "mould in it",
    "rodents": "rodents or birds were in it",
    "glass": "glass or metal in it",
    "fumigated": "it was fumigated",
    "do_not_feed": "somebody wrote that it is not to be fed",
}
WHO = {
    "treated_seed": "whoever took out the dressed grain and had the rest tested; else it is never fed",
    "ergot": "a nutritionist, once the ergot is weighed out and entered as the assay ergot_sclerotia",
    "mould": "a nutritionist, once the laboratory's results for mycotoxins are in",
    "rodents": "the farm, once bait and droppings are looked for and taken out",
    "glass": "the farm, once the grain went over sieve and magnet",
    "fumigated": "the fumigator, once it is aired and tested clear; or the day in hold_until, once it is past",
    "do_not_feed": "whoever put it on hold, or a veterinarian",
}
"""Who can release a bin (common practice)."""
BY_DATE = "fumigated"
"""The one hold that ends with its date: the waiting time of the label."""


def on_hold(row: Bin, today: date | None = None) -> bool:
    """Whether the bin may be in no mix on that day (default: today).

    A bin is released when `released_by` names somebody and `hold_until`, if given, is past. A date alone releases only
    a fumigated bin. A day still to come holds a bin whose book does not say why.
    """
    waiting = row.hold_until is not None and row.hold_until >= (today or date.today())
    if waiting or not row.hold:
        return waiting
    if names_somebody(row.released_by):
        return False
    return not (row.hold == BY_DATE and row.hold_until is not None)


def hold_reason(row: Bin, farm: Settings, today: date | None = None) -> Reason | None:
    """Why the bin may be in no mix, and who can release it; None if it may be fed."""
    if not on_hold(row, today):
        return None
    why = WHY.get(row.hold, "the book does not say why")
    until = f" until {farm.day(row.hold_until)}" if row.hold_until else ""
    who = WHO.get(row.hold, "whoever put it on hold")
    waiting = row.hold_until is not None and row.hold_until >= (today or date.today())
    if names_somebody(row.released_by) and waiting:
        do = f"{row.released_by.strip()} released it, but the date has not passed."
    else:
        do = f"It can be released by {who}: fill in released_by ({_cell(row)})."
    return Reason(
        Kind.SAFETY,
        Severity.STOP,
        f"Bin {row.bin} is on hold{until}: {why}. It goes into no mix. {do}",
        feed=row.bin,
        source="bins of the book",
    )


def _cell(row: Bin) -> str:
    return f"bins!{row.place.cell('released_by')}" if "released_by" in row.place.columns else "sheet bins"
