"""What an offer holds by the word of the farm: laboratory sheets of bought lots, and certificates on own_feeds."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from statistics import fmean

from rationlp.bins.dry_matter import assay_sd
from rationlp.bins.toxins import DRY_MATTER, Contents, is_contaminant, own_contents, sample_contents, settled
from rationlp.book.records import Assay, Book, FlowKind, Lot, Offer, OwnFigure, Place, Weighed
from rationlp.figures import FeedFigures
from rationlp.library.read import Library


def offer_contents(offer: Offer, figures: FeedFigures, book: Book, library: Library) -> Contents:
    """The contaminants of an offer: of the lots in stock the highest, against what a certificate says.

    A certificate on own_feeds is the oldest word; where the lots contradict it, or each other, the higher figure counts
    and is told.
    """
    dry = figures.dry_matter_pct
    own = own_contents(offer.feed, dry, book, library)
    lots = []
    for lot in lots_in_stock(offer, book):
        rows = [row for row in book.assays if row.lot == lot.lot]
        assayed = _mean_dry_matter(rows)
        lots.append(sample_contents(rows, assayed or dry or 100.0, assayed, f"lot {lot.lot}", library))
    name = offer.label or offer.offer
    found = settled([own, *lots], offer.offer, name, library)
    highest = dict(found.by_nutrient)
    for content in (row for rows in lots for row in settled([rows], offer.offer, name, library).by_nutrient.values()):
        if content.nutrient not in highest or content.value > highest[content.nutrient].value:
            highest[content.nutrient] = content
    return replace(found, by_nutrient=highest)


def lots_in_stock(offer: Offer, book: Book) -> tuple[Lot, ...]:
    """The deliveries of an offer that are not used up yet, oldest first; those of unknown mass count as there.

    What the crew weighed of a lot is taken from it, and what was sold or thrown away; where no lot is named, from the
    oldest first. The newest always counts: a record of more than was delivered is a slip.
    """
    lots = sorted((row for row in book.lots if row.offer == offer.offer), key=lambda row: row.delivered_on or date.min)
    if not lots:
        return ()
    rows = _weighed(offer, lots[0].delivered_on, book)
    named = {lot.lot: sum(row.mass_kg for row in rows if row.lot == lot.lot) for lot in lots}
    left, found = sum(row.mass_kg for row in rows if row.lot not in named), []
    for lot in lots:
        rest = None if lot.mass_kg is None else max(lot.mass_kg - named[lot.lot], 0.0)
        if rest is None or rest > left or lot is lots[-1]:
            found.append(lot)
            left = 0.0 if rest is not None else left
        else:
            left -= rest
    return tuple(found)


def own_book(offer: Offer, book: Book, library: Library) -> Book:
    """The book with the nutrients of the offer's newest assayed lot as own figures of its feed."""
    for lot in reversed(lots_in_stock(offer, book)):
        figures = _own_figures(offer.feed, lot, [row for row in book.assays if row.lot == lot.lot], library)
        if figures:
            told = {row.nutrient for row in figures}
            kept = (row for row in book.own_feeds if row.feed != offer.feed or row.nutrient not in told)
            return replace(book, own_feeds=(*kept, *figures))
    return book


def _own_figures(feed: str, lot: Lot, rows: Sequence[Assay], library: Library) -> list[OwnFigure]:
    """The lot's assays of nutrients, several of one averaged; those on dry matter where they are of both bases."""
    found = []
    for nutrient in dict.fromkeys(row.nutrient for row in rows if not is_contaminant(row.nutrient, library)):
        of_it = [row for row in rows if row.nutrient == nutrient]
        same = [row for row in of_it if row.basis == of_it[0].basis]
        sd = sum(assay_sd(row, library) ** 2 for row in same) ** 0.5 / len(same)
        found.append(
            OwnFigure(
                same[0].place,
                feed,
                nutrient,
                fmean(row.value for row in same),
                same[0].unit,
                same[0].basis,
                sd or None,
                f"assay of lot {lot.lot}",
            )
        )
    return found


def _weighed(offer: Offer, since: date | None, book: Book) -> list[Weighed]:
    """What was weighed of the offer since a day; its feed's id speaks of it where no other offer has that feed."""
    alone = sum(row.feed == offer.feed for row in book.supplements) == 1
    names = {offer.offer, offer.feed} if alone else {offer.offer}
    went = (each for each in book.moved if each.kind is not FlowKind.COUNTED)
    rows = (*book.actual, *(Weighed(Place(), each.kind, each.on, each.name, each.kg, lot=each.lot) for each in went))
    return [row for row in rows if row.feed in names and (since is None or row.made_on is None or row.made_on >= since)]


def _mean_dry_matter(rows: Iterable[Assay]) -> float | None:
    found = [row.value for row in rows if row.nutrient == DRY_MATTER]
    return fmean(found) if found else None
