"""A review copy that came back from the nutritionist: which rations are signed, by whom and until when."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path

from rationlp.actual.printed import NOT_A_WORKBOOK, day_written, filled_sheets
from rationlp.book.records import Book, Settings
from rationlp.errors import InputError, Problem
from rationlp.incoming import bytes_of
from rationlp.ledger.kept import record_for
from rationlp.ledger.shape import Signature, signatures_of, signed_entry
from rationlp.ledger.signatures import APPROVED, DAY, LICENCE, NAME, REMARKS, SIGN_SHEET, UNTIL

JSON_KEYS = {
    "name": NAME,
    "licence_number": LICENCE,
    "date": DAY,
    "valid_until": UNTIL,
    "approved": APPROVED,
    "remarks": REMARKS,
}
YES, NO = ("yes", "y", "approved"), ("no", "n", "not approved")
Boxes = Mapping[str, object]


def enter_signatures(path: Path, book: Book) -> list[Signature]:
    """Enter what is signed in the review copy at `path` (.xlsx or .json) in the farm's record; what is new of it.

    Raises InputError with every box that cannot be read, and nothing entered.
    """
    problems = list[Problem]()
    found = [
        signature
        for place, ration, boxes in _pages(path)
        if (signature := _signature(place, ration, boxes, book.farm, problems)) is not None
    ]
    if problems:
        raise InputError(problems)
    if not found:
        words, do = "no ration signed", "Fill in the boxes of a page: name, date, and yes under approved."
        raise InputError([Problem("error", path.name, "", words, "a review copy that was signed", do)])
    record = record_for(book)
    known = set(signatures_of(record))
    fresh = [signature for signature in found if signature not in known]
    record.add(signed_entry(signature) for signature in fresh)
    return fresh


def _pages(path: Path) -> list[tuple[str, str, Boxes]]:
    """Of each ration the place, the id, and what stands in the boxes by their labels. Raises InputError."""
    try:
        return list(_of_json(path) if path.suffix.casefold() == ".json" else _of_workbook(path))
    except (*NOT_A_WORKBOOK, OSError) as error:
        words, do = f"no review copy ({error})", "Write one with `rationlp ration BOOK --review FILE`."
        raise InputError([Problem("error", path.name, "", words, "a review copy (.xlsx or .json)", do)]) from None


def _of_workbook(path: Path) -> Iterator[tuple[str, str, Boxes]]:
    for title, sheet in filled_sheets(path).items():
        if title.startswith(f"{SIGN_SHEET} "):
            id_ = str(sheet["B1"] or title.removeprefix(SIGN_SHEET).strip())
            yield title, id_, {str(label): value for label, value in sheet.rows(2)}


def _of_json(path: Path) -> Iterator[tuple[str, str, Boxes]]:
    for reviewed in json.loads(bytes_of(path))["rations"]:
        boxes = {label: reviewed["sign_off"].get(key) or None for key, label in JSON_KEYS.items()}
        yield path.name, reviewed["id"], boxes


def _signature(place: str, ration: str, boxes: Boxes, farm: Settings, problems: list[Problem]) -> Signature | None:
    """The signature of a page; None where it is empty, not approved, or has a problem."""
    name, approved = _text(boxes.get(NAME)), _text(boxes.get(APPROVED)).casefold().rstrip(".! ")
    if not name and not approved:
        return None
    before = len(problems)

    def wrong(box: str, expected: str) -> None:
        found = f"{boxes.get(box)!r} under {box!r}" if boxes.get(box) is not None else f"nothing under {box!r}"
        problems.append(Problem("error", place, "", found, expected, "Fill in the box."))

    if not name:
        wrong(NAME, "who signed")
    if approved not in (*YES, *NO):
        wrong(APPROVED, "yes, or no")
    signed_on, until = _day(boxes.get(DAY), farm), _day(boxes.get(UNTIL), farm)
    if signed_on is None:
        wrong(DAY, f"the day of the signature, such as {farm.day(date(2026, 10, 5))}")
    if until is None and _text(boxes.get(UNTIL)):
        wrong(UNTIL, f"a day such as {farm.day(date(2027, 1, 5))}, or nothing")
    if len(problems) > before or approved in NO:
        return None
    return Signature(
        ration, name, _text(boxes.get(LICENCE)), signed_on, until, _text(boxes.get(REMARKS)), f"review copy {place}"
    )


def _text(value: object) -> str:
    return "" if value is None else str(value).strip()


def _day(value: object, farm: Settings) -> date | None:
    return None if value is None else day_written(value, farm)
