"""Short names for a ration and for the book it came from, to be read out over a radio and typed with gloves on."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import fields, is_dataclass
from datetime import date
from typing import TYPE_CHECKING

from rationlp.book.records import Book

if TYPE_CHECKING:
    from rationlp.rations.answer.model import Ration

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""No I, L, O and U: nobody mistakes them for 1, 0 and V."""

SHARE_PLACES = 5  # of a share: 10 g in a tonne, well above what two solvers differ by
NOT_CONTENT = (
    *("path", "actual", "signed", "moved", "flows", "place", "left_out"),
    *("reserve_days", "bins_in_turn", "whole_packages"),
)
"""Where the book lies, what was weighed and signed since, and how the year is planned say nothing of its rations."""
WORDS = {"Settings": "Farm"}
"""What a record is called in a book's version, where its class has another name now: versions on paper stay good."""


def ration_id(ration: Ration, book: Book) -> str:
    """Eight letters and digits, `7KQ4-M2XD`, that name this mix of this stage from these bins and samples.

    The same mix from the same samples has the same name, whatever the prices were.
    """
    samples = sorted(row.sample for row in book.samples if row.bin in ration.bins)
    mix = sorted((line.offer, f"{line.share:.{SHARE_PLACES}f}") for line in ration.mix if line.share)
    return _short(
        ["ration", ration.stage, ration.bin, ration.status, *samples, *(word for pair in mix for word in pair)]
    )


def sheet_id(ration: Ration, book: Book, weights: Iterable[tuple[str, str]]) -> str:
    """Eight letters and digits that name one mix sheet: these weights (offer, mass) of this stage from these bins and
    samples. Other weights, or the same shares in another batch, have another name."""
    samples = sorted(row.sample for row in book.samples if row.bin in ration.bins)
    return _short(["sheet", ration.stage, ration.bin, *samples, *(word for pair in sorted(weights) for word in pair)])


def book_version(book: Book) -> str:
    """Eight letters and digits of the book's content, the same for a workbook and a folder that say the same.

    What was weighed (`actual`) does not count: writing it down does not make another book.
    """
    return _short(_words(book))


def _short(words: Iterable[str]) -> str:
    """The first forty bits of SHA-256 over the words, each with its length before it."""
    digest = hashlib.sha256()
    for word in words:
        data = word.encode()
        digest.update(f"{len(data)}:".encode() + data)
    number = int.from_bytes(digest.digest()[:5], "big")
    letters = "".join(ALPHABET[number >> shift & 31] for shift in range(35, -1, -5))
    return f"{letters[:4]}-{letters[4:]}"


def _words(value: object) -> Iterable[str]:
    """Everything a record says, in a fixed order."""
    if is_dataclass(value):
        yield WORDS.get(type(value).__name__, type(value).__name__)
        for item in fields(value):
            if item.name not in NOT_CONTENT:
                yield item.name
                yield from _words(getattr(value, item.name))
    elif isinstance(value, tuple):
        yield str(len(value))
        for part in value:
            yield from _words(part)
    elif isinstance(value, date):
        yield value.isoformat()
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield repr(float(value))
    else:
        yield repr(value)
