"""Mixes that were made, kept beside the book: one small JSON file for each, in the folder `BOOK.mixes`.

The folder stands beside the book and has its name (`farm.xlsx` and a folder `farm` both keep in `farm.mixes`), so that
it is copied and backed up with it. A file appears whole or not at all, under a name that says day, stage, bin and id;
keeping the same mix twice writes the same file. Nothing of the book itself is touched.
"""

from __future__ import annotations

import json
import os
import re
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rationlp.book.records import Book
from rationlp.errors import InputError, Problem
from rationlp.rations.answer.ids import book_version, ration_id

if TYPE_CHECKING:
    from rationlp.rations.answer.model import Ration

FORM = 1
"""Of the files; a later form gets a later number."""
FOLDER = ".mixes"
SHEET, WEIGHED, RATION = "mix sheet", "weighed by the crew", "ration"
"""Where a kept mix comes from: printed on a sheet, weighed by the crew, or a ration as reckoned."""


@dataclass(frozen=True, slots=True)
class KeptPart:
    """One ingredient of a kept mix; `share` is 0 to 1 as fed, the price is that of the day, per tonne."""

    offer: str
    feed: str
    label: str
    share: float
    price_per_tonne: float
    home_grown: bool


@dataclass(frozen=True, slots=True)
class KeptMix:
    """A mix that was made. `samples` are those that its bins were judged by, `sheet` the name of its mix sheet."""

    id: str
    stage: str
    stage_label: str
    bin: str
    samples: tuple[str, ...]
    made_on: date | None
    origin: str
    sheet: str
    book_version: str
    cost_per_tonne: float | None
    parts: tuple[KeptPart, ...]

    @property
    def bins(self) -> tuple[str, ...]:
        """The bins it is made from."""
        return tuple(self.bin.split("+")) if self.bin else ()

    @property
    def shares(self) -> dict[str, float]:
        """Share by offer (or bin)."""
        return {part.offer: part.share for part in self.parts}

    @property
    def name(self) -> str:
        """The mix in words: where it comes from, its id, its day."""
        day = f" of {self.made_on:%Y-%m-%d}" if self.made_on else ""
        return f"{self.origin} {self.id}{day}".replace("  ", " ")


def folder_of(book: Book) -> Path:
    """Where the mixes of a book are kept."""
    return book.path.with_name(book.path.stem + FOLDER)


def newest_samples(book: Book, bins: Iterable[str]) -> tuple[str, ...]:
    """The newest sample of each bin that says anything (sorted or assayed)."""
    speaking = {row.sample for row in book.sorted} | {row.sample for row in book.assays}
    found = []
    for name in bins:
        own = [row for row in book.samples if row.bin == name and row.sample in speaking]
        if own:
            found.append(max(own, key=lambda row: (row.taken_on or date.min, own.index(row))).sample)
    return tuple(found)


def keep(
    ration: Ration,
    book: Book,
    made_on: date | None = None,
    *,
    sheet: str = "",
    name: str = "",
    samples: Sequence[str] = (),
    origin: str = SHEET,
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
    by_offer = {offer.offer: offer for offer in book.supplements}
    parts = tuple(
        KeptPart(
            line.offer,
            line.feed,
            line.label,
            line.share,
            line.price_per_tonne,
            line.feed.startswith("bin:") or (line.offer in by_offer and by_offer[line.offer].home_grown),
        )
        for line in ration.mix
        if line.share
    )
    made = KeptMix(
        id=name or ration_id(ration, book),
        stage=ration.stage,
        stage_label=ration.stage_label,
        bin=ration.bin,
        samples=tuple(samples) or newest_samples(book, ration.bin.split("+")),
        made_on=made_on or date.today(),
        origin=origin,
        sheet=sheet,
        book_version=book_version(book),
        cost_per_tonne=ration.cost_per_tonne,
        parts=parts,
    )
    return write(made, folder_of(book))


def write(made: KeptMix, folder: Path) -> Path:
    """Write a kept mix into a folder, whole or not at all. Raises InputError."""
    day = f"{made.made_on:%Y-%m-%d}" if made.made_on else "undated"
    path = folder / ("_".join(_plain(word) for word in (day, made.stage, made.bin, made.id) if word) + ".json")
    document = {"form": FORM, **asdict(made), "made_on": made.made_on.isoformat() if made.made_on else None}
    part = ""
    try:
        folder.mkdir(exist_ok=True)
        handle, part = tempfile.mkstemp(prefix=".", suffix=".part", dir=folder)
        with os.fdopen(handle, "w", encoding="utf-8") as lines:
            json.dump(document, lines, ensure_ascii=False, indent=1)
            lines.flush()
            os.fsync(lines.fileno())
        Path(part).chmod(0o666 & ~_umask())
        os.replace(part, path)
    except OSError as error:
        Path(part).unlink(missing_ok=True) if part else None
        raise InputError(
            [
                Problem(
                    "error",
                    folder.name,
                    "",
                    f"a folder that cannot be written ({error.strerror or error})",
                    "a place beside the book to keep the mixes",
                    "Make the folder writable, or move the book.",
                )
            ]
        ) from None
    return path


def _plain(word: str) -> str:
    return re.sub(r"[^\w.+-]+", "-", word)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def find(
    book: Book,
    bin: str | None = None,
    stage: str | None = None,
    sample: str | None = None,
    on: date | None = None,
) -> list[KeptMix]:
    """The mixes kept with a book, newest first, undated ones last: those with grain of `bin`, of `stage`, judged by
    `sample`, made on or before the day `on`. Raises InputError with every file that cannot be read."""
    folder = folder_of(book)
    found, problems = [], []
    for path in sorted(folder.glob("*.json")) if folder.is_dir() else ():
        try:
            found.append(_read(path))
        except (OSError, ValueError, KeyError, TypeError) as error:
            problems.append(
                Problem(
                    "error",
                    path.name,
                    "",
                    f"a kept mix that cannot be read ({error})",
                    "a file as this program writes it",
                    f"Move it out of {folder}.",
                )
            )
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


def in_order(mixes: Iterable[KeptMix]) -> list[KeptMix]:
    """Newest first, undated ones last; of one day, what the crew weighed before what was printed."""
    return sorted(mixes, key=lambda made: (made.made_on or date.min, made.origin == WEIGHED), reverse=True)


def _read(path: Path) -> KeptMix:
    document: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    if document.pop("form") != FORM:
        raise ValueError("written by another version of the program")
    parts = tuple(KeptPart(**part) for part in document.pop("parts"))
    day = document.pop("made_on")
    samples = tuple(document.pop("samples"))
    made = KeptMix(**document, samples=samples, made_on=date.fromisoformat(day) if day else None, parts=parts)
    if not parts or not all(isinstance(part.share, float) and 0 < part.share <= 1 for part in parts):
        raise ValueError("shares that are not above 0 and up to 1")
    return made


def weighed_mix(
    stage: str,
    stage_label: str,
    bins: Sequence[str],
    made_on: date | None,
    weighed_kg: Mapping[str, float],
    book: Book,
    name: str = "",
    sheet: str = "",
) -> KeptMix | None:
    """A mix as the crew weighed it, `weighed_kg` by offer, bin or feed; None if nothing was weighed."""
    total = sum(weighed_kg.values())
    if total <= 0:
        return None
    offers = {offer.offer: offer for offer in book.supplements}
    rows = {row.bin: row for row in book.bins}
    parts = []
    for what, mass in weighed_kg.items():
        if mass <= 0:
            continue
        if what in rows:
            row = rows[what]
            parts.append(
                KeptPart(what, f"bin:{what}", row.label or what, mass / total, row.sale_price_per_tonne or 0.0, True)
            )
        elif what in offers:
            offer = offers[what]
            label = offer.label or offer.feed
            parts.append(KeptPart(what, offer.feed, label, mass / total, offer.price_per_tonne, offer.home_grown))
        else:
            parts.append(KeptPart(what, what, what, mass / total, 0.0, False))
    bought = sum(part.share * part.price_per_tonne for part in parts)
    samples = newest_samples(_up_to(book, made_on), bins)
    return KeptMix(
        name,
        stage,
        stage_label,
        "+".join(bins),
        samples,
        made_on,
        WEIGHED,
        sheet,
        book_version(book),
        bought,
        tuple(sorted(parts, key=lambda part: -part.share)),
    )


def _up_to(book: Book, day: date | None) -> Book:
    """The book as it stood on a day: without the samples taken later."""
    if day is None:
        return book
    return replace(book, samples=tuple(row for row in book.samples if row.taken_on is None or row.taken_on <= day))
