"""A mix that was made: printed on a sheet, weighed by the crew, or a ration as it was calculated. One shape for all."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from rationlp.book.columns import BIN_PREFIX
from rationlp.book.records import Book, Settings
from rationlp.numbers import largest_first
from rationlp.rations.answer.model import Ration
from rationlp.reasons import Kind, Reason, Severity


class Origin(StrEnum):
    """Where a mix comes from."""

    SHEET = "mix sheet"
    WEIGHED = "weighed by the crew"
    RATION = "ration"


@dataclass(frozen=True, slots=True)
class MadePart:
    """One ingredient; `share` is 0 to 1 as fed, the price that of the day per tonne.

    `kg` is what went in and `asked_kg` what its sheet asked for, each None where it is not known. A feed of two lots is
    two parts, of which the first has what was asked.
    """

    offer: str
    feed: str
    label: str
    share: float
    price_per_tonne: float = 0.0
    home_grown: bool = False
    kg: float | None = None
    asked_kg: float | None = None
    lot: str = ""


@dataclass(frozen=True, slots=True)
class MadeMix:
    """A mix of a stage from its bins.

    `id` is that of the ration on its sheet (empty where only the sheet's name is known), `number` that of the batch (0
    where it has none), `turn` which one of that sheet and day it was where nobody gave a number, `samples` those its
    bins were judged by, `sheet` the name of its mix sheet, `where` the cell it was read from. Where a plan of the year
    made the sheet, `eaten_by` names the animals it is for and `also_for` the other stages these are. `asked` is what a
    printed sheet is asked about for what it supplies in weights the scale can show.
    """

    id: str
    stage: str
    stage_label: str
    bins: tuple[str, ...]
    samples: tuple[str, ...]
    made_on: date | None
    origin: Origin
    sheet: str
    book_version: str
    parts: tuple[MadePart, ...]
    number: int = 0
    where: str = ""
    turn: int = 0
    eaten_by: tuple[str, ...] = ()
    also_for: tuple[str, ...] = ()
    asked: tuple[Reason, ...] = ()

    @property
    def bin(self) -> str:
        """The bins in one word, `north+south`."""
        return "+".join(self.bins)

    @property
    def shares(self) -> dict[str, float]:
        """Share by offer (or bin), of what is in it."""
        return _summed((part.offer, part.share) for part in self.parts if part.share > 0)

    @property
    def weighed_kg(self) -> dict[str, float]:
        """What went in by offer (or bin, or feed), in kg; 0 for what was left out."""
        return _summed((part.offer, part.kg) for part in self.parts if part.kg is not None)

    @property
    def target_kg(self) -> dict[str, float] | None:
        """What its sheet asked for in kg, where the sheet itself was at hand."""
        return {part.offer: part.asked_kg for part in self.parts if part.asked_kg is not None} or None

    @property
    def total_kg(self) -> float:
        """Mass of the batch in kg."""
        return sum(self.weighed_kg.values())

    @property
    def cost_per_tonne(self) -> float:
        """Money per tonne at the prices of the day."""
        return sum(part.share * part.price_per_tonne for part in self.parts)

    @property
    def batch(self) -> str:
        """The name of the batch, as on its label."""
        name = self.id or self.sheet
        if self.number:
            return f"{name} #{self.number}"
        return f"{name} ({self.turn})" if self.turn > 1 else name

    @property
    def key(self) -> tuple[object, ...]:
        """What tells it from every other batch: its number, else what it is of, its day and its turn."""
        return (self.number,) if self.number else (self.stage, self.bins, self.made_on, self.turn)

    def named(self, farm: Settings) -> str:
        """The mix in words: where it comes from, its batch, its day as the book writes days."""
        day = f" of {farm.day(self.made_on)}" if self.made_on else ""
        return f"{self.origin} {self.batch}{day}".replace("  ", " ")

    def weighing(self, weighed_kg: Mapping[str, float], book: Book) -> MadeMix:
        """The same batch with other weights."""
        return replace(self, parts=weighed_parts(weighed_kg, self.target_kg, book))


def _summed(pairs: Iterable[tuple[str, float]]) -> dict[str, float]:
    found: dict[str, float] = {}
    for name, amount in pairs:
        found[name] = found.get(name, 0.0) + amount
    return found


def printed_mix(ration: Ration, book: Book, *, id: str, book_version: str, made_on: date, sheet: str = "") -> MadeMix:
    """A ration as it is printed on a sheet, judged by the newest sample of each bin."""
    grown = {offer.offer for offer in book.supplements if offer.home_grown}
    parts = tuple(
        MadePart(
            line.offer,
            line.feed,
            line.label,
            line.share,
            line.price_per_tonne,
            line.feed.startswith(BIN_PREFIX) or line.offer in grown,
        )
        for line in ration.mix
        if line.share
    )
    judged_by = newest_samples(book, ration.bins)
    stage, label, bins = ration.stage, ration.stage_label, ration.bins
    asked = asked_of_weights(ration)
    return MadeMix(id, stage, label, bins, judged_by, made_on, Origin.SHEET, sheet, book_version, parts, asked=asked)


def asked_of_weights(ration: Ration) -> tuple[Reason, ...]:
    """What a nutritionist is asked about a mix in whole weights: needs, doses, and the chance of meeting all."""
    supplies = ration.verdict.of(Kind.REQUIREMENT, Kind.PREMIX)
    return tuple(reason for reason in supplies if reason.severity is Severity.ASK)


def weighed_parts(
    weighed_kg: Mapping[str, float],
    target_kg: Mapping[str, float] | None,
    book: Book,
    lots: Mapping[str, Mapping[str, float]] | None = None,
) -> tuple[MadePart, ...]:
    """The ingredients of a batch, the heaviest first; masses in kg by offer, bin or feed, of `lots` by lot too."""
    total = sum(weighed_kg.values())
    parts = []
    for name in dict.fromkeys((*weighed_kg, *(target_kg or ()))):
        asked = target_kg.get(name) if target_kg else None
        by_lot: Mapping[str, float | None] = (lots or {}).get(name) or {"": weighed_kg.get(name)}
        for lot, kg in by_lot.items():
            share = (kg or 0.0) / total if total > 0 else 0.0
            parts.append(replace(_named(name, book), share=share, kg=kg, asked_kg=asked, lot=lot))
            asked = None
    return tuple(sorted(parts, key=lambda part: largest_first(part.share)))


def lots_in(written: str) -> list[str]:
    """The lots that the crew named in one box, divided by commas."""
    return [lot.strip() for lot in written.split(",") if lot.strip()]


def _named(name: str, book: Book) -> MadePart:
    """What an offer, a bin or a feed is called in the book."""
    for row in book.bins:
        if row.bin == name:
            return MadePart(name, f"{BIN_PREFIX}{name}", row.label or name, 0.0, row.sale_price_per_tonne or 0.0, True)
    for offer in book.supplements:
        if offer.offer == name:
            label = offer.label or offer.feed
            return MadePart(name, offer.feed, label, 0.0, offer.price_per_tonne, offer.home_grown)
    return MadePart(name, name, name, 0.0)


def newest_samples(book: Book, bins: Sequence[str], on: date | None = None) -> tuple[str, ...]:
    """The newest sample of each bin that says anything (sorted or assayed), taken by the day `on`."""
    speaking = {row.sample for row in book.sorted} | {row.sample for row in book.assays}
    found = []
    for name in bins:
        own = [
            row
            for row in book.samples
            if row.bin == name
            and row.sample in speaking
            and not (on is not None and row.taken_on is not None and row.taken_on > on)
        ]
        if own:
            found.append(max(own, key=lambda row: (row.taken_on or date.min, own.index(row))).sample)
    return tuple(found)


def in_order(mixes: Sequence[MadeMix]) -> list[MadeMix]:
    """Newest first, undated ones last; of one day, what the crew weighed before what was printed."""
    return sorted(mixes, key=lambda made: (made.made_on or date.min, made.origin is Origin.WEIGHED), reverse=True)
