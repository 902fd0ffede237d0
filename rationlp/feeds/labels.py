"""What is said of an offer that is dangerous: its label and name, the notes on its lots, the day to use them by."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from rationlp.bins.findings.notes import entered, word_reason
from rationlp.book.records import Book, Offer
from rationlp.feeds.contaminants import lots_in_stock
from rationlp.library.dangers.words import Danger, dangers_in
from rationlp.library.read import Library
from rationlp.library.records import Feed
from rationlp.reasons import Kind, Reason, Severity

HEATED_GROUPS = ("pulse", "oilseed", "protein_meal", "animal_protein")
"""Feeds that heat, pressing or extraction makes safe: a raw one is another feed."""

KEEP = ("mineral", "amino_acid")
"""Groups that neither spoil nor fade in a dry bag: a day that is past is told, no more."""
SPOILS = {
    "premix": "its vitamins fade, so that a full dose may be none",
    "animal_protein": "it may be rancid or hold germs",
    "fat": "it may be rancid, which destroys vitamins and scours animals",
}
"""By group what an old lot does (common practice)."""


def label_reasons(offer: Offer, book: Book, library: Library) -> tuple[Reason, ...]:
    """A reason for each dangerous thing that is written on the offer or its lots."""
    return tuple(
        word_reason(place, danger, offer.offer, bought=True) for place, danger in _dangers(offer, book, library)
    )


def label_meanings(offer: Offer, book: Book, library: Library) -> frozenset[str]:
    """What the words on the offer or its lots mean: medicated, ionophore, and so on."""
    return frozenset(danger.row.means for _, danger in _dangers(offer, book, library))


def age_reasons(
    offer: Offer, label: str, book: Book, library: Library, today: date | None = None
) -> tuple[Reason, ...]:
    """A reason for each lot in stock whose day to use it by is past (default: past today)."""
    known = library.feeds.get(offer.feed)
    group = known.group if known else ""
    keeps = group in KEEP
    return tuple(
        Reason(
            Kind.SAFETY,
            Severity.FEED if keeps else Severity.ASK,
            f"Lot {lot.lot} of {label} was to be used by {book.farm.day(lot.use_by)}: "
            f"{'see that it is dry and free of lumps' if keeps else SPOILS.get(group, 'it may be spoilt or mouldy')}. "
            "Buy a fresh one, or have it tested; take the lot out of the book once it is gone.",
            feed=offer.offer,
            source="common practice",
        )
        for lot in lots_in_stock(offer, book)
        if lot.use_by is not None and lot.use_by < (today or date.today())
    )


def killing_words(offer: Offer, scopes: frozenset[str], book: Book, library: Library) -> tuple[Reason, ...]:
    """A reason for each word on the offer or its lots that kills animals of one of these scopes."""
    return tuple(
        word_reason(place, danger, offer.offer, bought=True)
        for place, danger in _dangers(offer, book, library)
        if scopes & set(danger.row.stop_for)
    )


def _dangers(offer: Offer, book: Book, library: Library) -> Iterator[tuple[str, Danger]]:
    said = set()
    every = [lot.lot for lot in book.lots if lot.offer == offer.offer]
    for place, text, places, lot in _texts(offer, book, library):
        assays = [row for row in book.assays if row.lot and row.lot in (every if lot is None else [lot])]
        for danger in dangers_in(text, places, library):
            if entered(danger, assays, library):
                continue
            about = (danger.row.means, danger.row.nutrient, danger.row.stop_for)
            if about not in said:
                said.add(about)
                yield place, danger


def _places(feed: Feed | None) -> tuple[str, ...]:
    heated = feed is not None and feed.group in HEATED_GROUPS and not feed.processing.startswith("raw")
    return ("any", "processed") if heated else ("any",)


def _texts(offer: Offer, book: Book, library: Library) -> Iterator[tuple[str, str, tuple[str, ...], str | None]]:
    """Everything that people wrote about the offer: where it stands, its words, which are looked for, of which lot.

    What the farm wrote on a delivery is read as its notes on a bin are.
    """
    places = _places(library.feeds.get(offer.feed))
    yield f"The label of the offer {offer.offer}", offer.label, places, None
    yield f"The name of the offer {offer.offer}", offer.offer, places, None
    if offer.feed not in library.feeds:
        yield f"The feed of the offer {offer.offer}", offer.feed, places, None
    for lot in book.lots:
        if lot.offer == offer.offer:
            yield f"The note on lot {lot.lot} of the offer {offer.offer}", lot.note, (*places, "grain"), lot.lot
