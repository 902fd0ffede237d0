"""Contaminants that a limit must know (their names of the trade stand in synonyms.csv of the library).

A toxin that nobody knows under its name would be carried along and held to no limit: it is refused, never passed over.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from rationlp.book.reading.rows import BookReading, SheetRow

if TYPE_CHECKING:
    from rationlp.library.read import Library

ERGOT = "ergot"
"""Said of the bodies, by weight, and of their alkaloids: the unit tells which, where it can mean only one."""
LOOKS_LIKE_ONE = (
    "toxin",
    "mycotox",
    "nivalenol",
    "ergot",
    "zearal",
    "ochra",
    "fumon",
    "aflat",
    "sclerot",
    "patulin",
    "citrinin",
    "moniliformin",
    "beauvericin",
    "enniatin",
    "scirpenol",
    "sterigmato",
    "alternariol",
    "gliotoxin",
    "dioxin",
    "furan",
    "biphenyl",
    "nitrite",
    "nitrate",
    "gossypol",
    "cyanide",
    "hydrocyan",
    "prussic",
    "melamine",
    "pesticid",
    "herbicid",
    "insecticid",
    "aldrin",
    "lindane",
    "endosulfan",
)
_SHORT = re.compile(r"(h?t2|vom|don|afb|afg|fb[123]|pcb|ddt)")


def settle_contaminants(reading: BookReading, library: Library) -> None:
    """Report a contaminant that could be two, or that no limit knows."""
    limited = {row["nutrient"] for row in reading["own_stages"] if row["nutrient"] and row["maximum"] is not None}
    for sheet in ("assays", "own_feeds", "own_stages"):
        for row in reading[sheet]:
            if row.sound("nutrient") and row["nutrient"] not in library.nutrients:
                _settle(reading, row, library, sheet != "own_stages" and row["nutrient"] not in limited)


def _settle(reading: BookReading, row: SheetRow, library: Library, must_be_known: bool) -> None:
    name = row["nutrient"]
    if _bare(name) == ERGOT and (meant := _ergot(row)) in library.nutrients:
        row.values["nutrient"] = meant
    elif _bare(name) == ERGOT:
        reading.error(
            row,
            "nutrient",
            f"{name!r}, which may be the ergot bodies or their alkaloids",
            "ergot_sclerotia (the bodies, by weight) or ergot_alkaloids",
            "Write which of the two the laboratory measured.",
        )
    elif must_be_known and looks_like_a_contaminant(name):
        known = ", ".join(row.nutrient for row in library.nutrients.values() if row.kind == "toxin")
        reading.error(
            row,
            "nutrient",
            f"the contaminant {name!r}, for which no limit is known",
            f"one of {known}",
            "Correct the name. For another one, ask a nutritionist what your animals bear, and give it as a maximum "
            "on own_stages.",
        )


def looks_like_a_contaminant(name: str) -> bool:
    """Whether the name of a nutrient speaks of something that only does harm."""
    bare = _bare(name)
    return bool(_SHORT.match(bare)) or any(part in bare for part in LOOKS_LIKE_ONE)


def _ergot(row: SheetRow) -> str:
    """Ergot in parts of a hundred or a thousand is of the bodies: no grain holds that much of the alkaloids."""
    return "ergot_sclerotia" if str(row["unit"] or "").replace(" ", "").casefold() in ("%", "g/kg", "percent") else ""


def _bare(name: str) -> str:
    """A name without capitals, spaces and signs."""
    return re.sub(r"[^a-z0-9]", "", name.casefold())
