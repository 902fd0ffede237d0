"""Mixes that were made, kept beside the book: one small JSON file for each, in the folder `BOOK.mixes`.

The folder stands beside the book and has its name (`farm.xlsx` and a folder `farm` both keep in `farm.mixes`), so that
it is copied and backed up with it. A file appears whole or not at all, under a name that says day, stage, bin and id;
keeping the same mix twice writes the same file. Nothing of the book itself is touched.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any

from rationlp.book.records import Book
from rationlp.errors import InputError, Problem
from rationlp.files import write_whole
from rationlp.ledger.made_mix import MadeMix, MadePart, Origin, in_order, printed_mix
from rationlp.rations.answer.ids import book_version, ration_id
from rationlp.rations.answer.model import Ration

FORM = 2
"""Of the files; a later form gets a later number. Form 1 had the bins in one word."""
FOLDER = ".mixes"


def folder_of(book: Book) -> Path:
    """Where the mixes of a book are kept."""
    return book.path.with_name(book.path.stem + FOLDER)


def keep(
    ration: Ration,
    book: Book,
    made_on: date | None = None,
    *,
    sheet: str = "",
    name: str = "",
    samples: Sequence[str] = (),
    origin: Origin = Origin.SHEET,
) -> Path:
    """Keep a mix with its book; returns the file.

    Parameters
    ----------
    ration : the mix as it is made, its shares rounded as on the sheet
    made_on : day it is made, by default today
    sheet, name : the mix sheet it is on, and the id printed there (by default the ration's own id)
    samples : the samples its bins were judged by, by default the newest of each bin

    Raises InputError if the folder cannot be written.
    """
    made = printed_mix(
        ration,
        book,
        id=name or ration_id(ration, book),
        book_version=book_version(book),
        made_on=made_on or date.today(),
        sheet=sheet,
        samples=samples,
        origin=origin,
    )
    return write(made, folder_of(book))


def write(made: MadeMix, folder: Path) -> Path:
    """Write a mix into a folder, whole or not at all. Raises InputError."""
    day = f"{made.made_on:%Y-%m-%d}" if made.made_on else "undated"
    path = folder / ("_".join(_plain(word) for word in (day, made.stage, made.bin, made.id) if word) + ".json")
    document = {"form": FORM, **asdict(made), "made_on": made.made_on.isoformat() if made.made_on else None}
    text = json.dumps(document, ensure_ascii=False, indent=1)
    try:
        folder.mkdir(exist_ok=True)
        write_whole(path, lambda part: part.write_text(text, encoding="utf-8"), keep=False)
    except OSError as error:
        raise InputError([_not_kept(folder, error)]) from None
    return path


def _not_kept(folder: Path, error: OSError) -> Problem:
    return Problem(
        "error",
        folder.name,
        "",
        f"a folder that cannot be written ({error.strerror or error})",
        "a place beside the book to keep the mixes",
        "Make the folder writable, or move the book.",
    )


def _plain(word: str) -> str:
    return re.sub(r"[^\w.+-]+", "-", word)


def find(
    book: Book,
    bin: str | None = None,
    stage: str | None = None,
    sample: str | None = None,
    on: date | None = None,
) -> list[MadeMix]:
    """The mixes kept with a book, newest first, undated ones last: those with grain of `bin`, of `stage`, judged by
    `sample`, made on or before the day `on`. Raises InputError with every file that cannot be read."""
    folder = folder_of(book)
    found, problems = [], []
    for path in sorted(folder.glob("*.json")) if folder.is_dir() else ():
        try:
            found.append(_read(path))
        except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
            problems.append(_not_read(path, error))
    if problems:
        raise InputError(problems)
    wanted = [
        made
        for made in found
        if (bin is None or bin in made.bins)
        and (stage is None or made.stage == stage)
        and (sample is None or sample in made.samples)
        and (on is None or made.made_on is None or made.made_on <= on)
    ]
    return in_order(wanted)


def _not_read(path: Path, error: Exception) -> Problem:
    return Problem(
        "error",
        path.name,
        "",
        f"a kept mix that cannot be read ({error})",
        "a file as this program writes it",
        f"Move it out of {path.parent}.",
    )


def _read(path: Path) -> MadeMix:
    document: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    form = document.pop("form")
    if form == 1:
        document = _from_form_1(document)
    elif form != FORM:
        raise ValueError("written by another version of the program")
    parts = tuple(MadePart(**part) for part in document.pop("parts"))
    day = document.pop("made_on")
    bins, samples = tuple(document.pop("bins")), tuple(document.pop("samples"))
    made = MadeMix(
        **{**document, "origin": Origin(document["origin"])},
        bins=bins,
        samples=samples,
        made_on=date.fromisoformat(day) if day else None,
        parts=parts,
    )
    if not parts or not all(isinstance(part.share, float) and 0 < part.share <= 1 for part in parts):
        raise ValueError("shares that are not above 0 and up to 1")
    return made


def _from_form_1(document: dict[str, Any]) -> dict[str, Any]:
    """A document of form 1 in the terms of today: the bins one by one, the cost worked out from the parts."""
    rest = {key: value for key, value in document.items() if key not in ("bin", "cost_per_tonne")}
    return {**rest, "bins": document["bin"].split("+") if document["bin"] else []}
