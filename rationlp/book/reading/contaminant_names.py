"""What laboratories and the trade call a contaminant, read as the id the limits are kept under (common practice).

A toxin that nobody knows under its name would be carried along and held to no limit: it is refused, never passed over.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from rationlp.book.reading.rows import BookReading, SheetRow

NAMES: Mapping[str, str] = {
    "deoxynivalenol": "don vomitoxin vom vomi deoxynivalenol deoxynivalenoldon deoxynivalenolvomitoxin "
    "deoxynivalenoldonvomitoxin donvomitoxin vomitoxindon vomitoxindeoxynivalenol 4deoxynivalenol",
    "aflatoxin": "aflatoxin aflatoxins afla af totalaflatoxin totalaflatoxins aflatoxintotal aflatoxinstotal "
    "aflatoxinsum aflatoxinsb1b2g1g2 aflatoxinb1b2g1g2 aflatoxinsumb1b2g1g2",
    "aflatoxin_b1": "aflatoxinb1 afb1 aflab1",
    "aflatoxin_b2": "aflatoxinb2 afb2 aflab2",
    "aflatoxin_g1": "aflatoxing1 afg1 aflag1",
    "aflatoxin_g2": "aflatoxing2 afg2 aflag2",
    "fumonisin": "fumonisin fumonisins fum fumo totalfumonisin totalfumonisins fumonisintotal fumonisinstotal "
    "fumonisinb1b2 fumonisinsb1b2 fumonisinb1b2b3 fumonisinsb1b2b3 fb1fb2 fb1fb2fb3 fumonisinsum",
    "fumonisin_b1": "fumonisinb1 fb1",
    "fumonisin_b2": "fumonisinb2 fb2",
    "fumonisin_b3": "fumonisinb3 fb3",
    "zearalenone": "zearalenone zen zea zon zearalenon zearalenonezen zearalenonezea f2toxin",
    "ochratoxin_a": "ochratoxina ochratoxin ochratoxins ota ochra ochratoxinaota",
    "t2_toxin": "t2 t2toxin toxint2",
    "ht2_toxin": "ht2 ht2toxin toxinht2",
    "t2_ht2_toxin": "t2ht2 t2ht2toxin t2ht2toxins t2andht2 t2andht2toxin t2toxinandht2toxin t2toxinht2toxin sumt2ht2 "
    "t2ht2sum t2plusht2",
    "ergot_sclerotia": "ergotsclerotia sclerotia ergotbodies ergotbody ergotkernels",
    "ergot_alkaloids": "ergotalkaloids ergotalkaloid ergotalkaloidstotal totalergotalkaloids ea12",
}
"""Names of each contaminant, without spaces, signs or capitals."""
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
)
_SHORT = re.compile(r"(h?t2|vom|don|afb|afg|fb[123])")
_BY_NAME = {name: nutrient for nutrient, names in NAMES.items() for name in names.split()}


def contaminant_of(name: str) -> str:
    """The contaminant that a name of the trade stands for, or empty: `Vomitoxin`, `T-2`, `Aflatoxin B1 (total)`."""
    return _BY_NAME.get(_bare(name), "")


def settle_contaminants(reading: BookReading, nutrients: Mapping[str, str]) -> None:
    """Put every contaminant under its id; report one that could be two, or that no limit knows.

    `nutrients` are those the library knows; without them nothing is judged.
    """
    limited = {row["nutrient"] for row in reading["own_stages"] if row["nutrient"] and row["maximum"] is not None}
    for sheet in ("assays", "own_feeds", "own_stages") if nutrients else ():
        for row in reading[sheet]:
            if row.sound("nutrient") and row["nutrient"] not in nutrients:
                _settle(reading, row, nutrients, sheet != "own_stages" and row["nutrient"] not in limited)


def _settle(reading: BookReading, row: SheetRow, nutrients: Mapping[str, str], must_be_known: bool) -> None:
    name = row["nutrient"]
    meant = contaminant_of(name) or (_ergot(row) if _bare(name) == ERGOT else "")
    if meant in nutrients:
        row.values["nutrient"] = meant
    elif _bare(name) == ERGOT:
        reading.error(
            row,
            "nutrient",
            f"{name!r}, which may be the ergot bodies or their alkaloids",
            "ergot_sclerotia (the bodies, by weight) or ergot_alkaloids",
            "Write which of the two the laboratory measured.",
        )
    elif must_be_known and _looks_like_one(_bare(name)):
        known = ", ".join(nutrient for nutrient in NAMES if nutrient in nutrients)
        reading.error(
            row,
            "nutrient",
            f"the toxin {name!r}, for which no limit is known",
            f"one of {known}",
            "Correct the name. For another toxin, ask a nutritionist what your animals bear, and give it as a maximum "
            "on own_stages.",
        )


def _looks_like_one(bare: str) -> bool:
    return bool(_SHORT.match(bare)) or any(part in bare for part in LOOKS_LIKE_ONE)


def _ergot(row: SheetRow) -> str:
    """Ergot in parts of a hundred or a thousand is of the bodies: no grain holds that much of the alkaloids."""
    return "ergot_sclerotia" if str(row["unit"] or "").replace(" ", "").casefold() in ("%", "g/kg", "percent") else ""


def _bare(name: str) -> str:
    """A name without capitals, spaces and signs."""
    return re.sub(r"[^a-z0-9]", "", name.casefold())
