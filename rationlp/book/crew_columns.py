"""The sheets of the book that come back from the mixer and from the nutritionist."""

from __future__ import annotations

from enum import StrEnum

from rationlp.book.column import MOST_KG, Column, Sheet


class Movement(StrEnum):
    """What a row of `actual` is that is no weight of a mix sheet; it stands where the sheet's name would."""

    COUNTED = "counted"
    THROWN_AWAY = "thrown_away"
    SOLD = "sold"


ACTUAL = Sheet(
    "actual",
    "what the crew really weighed, one ingredient a row; what was counted, thrown away or sold",
    (
        Column(
            "sheet",
            "id",
            "Name of the mix sheet; or counted, thrown_away, sold for what there is of a feed, or what went otherwise.",
            required=True,
        ),
        Column("made_on", "date", "Day of the mixing."),
        Column("batch", "text", "Number of the batch, as on its label; needed where one day has several."),
        Column("feed", "id", "What was weighed: offer, feed id or bin.", required=True, refers_to="weighed"),
        Column("lot", "text", "Lot it was taken from, as on its bag; a feed of two lots is two rows."),
        Column("mass", "mass", "What the scale showed for this feed alone.", at_least=0, at_most=MOST_KG),
        Column(
            "scale_reads",
            "mass",
            "What the mixer's scale showed after it, all before it counted, instead of the mass.",
            at_least=0,
            at_most=MOST_KG,
        ),
    ),
)

SIGNED = Sheet(
    "signed",
    "a ration that a nutritionist approved",
    (
        Column("ration", "text", "Id of the ration, as on its mix sheet (7KQ4-M2XD).", required=True),
        Column("signed_by", "text", "Who approved it.", required=True),
        Column("licence", "text", "Licence or registration of the nutritionist."),
        Column("signed_on", "date", "Day of the signature.", required=True),
        Column("valid_until", "date", "Last day it holds; blank holds until the mix, a bin or a sample changes."),
        Column("note", "text", "What was asked for with it."),
    ),
    unique=("ration", "signed_on"),
)
