"""What the label of an offer, its name and the notes on its lots say that is dangerous."""

from __future__ import annotations

from collections.abc import Iterator

from rationlp.bins.findings.notes import word_reason
from rationlp.book.records import Book, Offer
from rationlp.library.dangers.words import Danger, dangers_in
from rationlp.library.read import Library
from rationlp.library.records import Feed
from rationlp.reasons import Reason

HEATED_GROUPS = ("pulse", "oilseed", "protein_meal", "animal_protein")
"""Feeds that heat, pressing or extraction makes safe: a raw one is another feed."""


def label_reasons(offer: Offer, book: Book, library: Library) -> tuple[Reason, ...]:
    """A reason for each dangerous thing that is written on the offer or its lots."""
    return tuple(word_reason(place, danger, offer.offer) for place, danger in _dangers(offer, book, library))


def label_meanings(offer: Offer, book: Book, library: Library) -> frozenset[str]:
    """What the words on the offer or its lots mean: medicated, ionophore, and so on."""
    return frozenset(danger.row.means for _, danger in _dangers(offer, book, library))


def killing_words(offer: Offer, scopes: frozenset[str], book: Book, library: Library) -> tuple[Reason, ...]:
    """A reason for each word on the offer or its lots that kills animals of one of these scopes."""
    return tuple(
        word_reason(place, danger, offer.offer)
        for place, danger in _dangers(offer, book, library)
        if scopes & set(danger.row.stop_for)
    )


def _dangers(offer: Offer, book: Book, library: Library) -> Iterator[tuple[str, Danger]]:
    places = _places(library.feeds.get(offer.feed))
    said = set()
    for place, text in _texts(offer, book, library):
        for danger in dangers_in(text, places, library):
            about = (danger.row.means, danger.row.stop_for)
            if about not in said:
                said.add(about)
                yield place, danger


def _places(feed: Feed | None) -> tuple[str, ...]:
    heated = feed is not None and feed.group in HEATED_GROUPS and not feed.processing.startswith("raw")
    return ("any", "processed") if heated else ("any",)


def _texts(offer: Offer, book: Book, library: Library) -> Iterator[tuple[str, str]]:
    """Everything that people wrote about the offer, each with where it stands."""
    yield f"The label of the offer {offer.offer}", offer.label
    yield f"The name of the offer {offer.offer}", offer.offer
    if offer.feed not in library.feeds:
        yield f"The feed of the offer {offer.offer}", offer.feed
    for lot in getattr(book, "lots", ()):
        if lot.offer == offer.offer:
            yield f"The note on lot {lot.lot} of the offer {offer.offer}", lot.note
