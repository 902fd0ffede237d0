"""What an organic certificate lets into the mix, with the rule for each feed that it keeps out."""

from __future__ import annotations

from collections.abc import Iterable

from rationlp.book.records import Book
from rationlp.library.read import Library
from rationlp.rations.candidates import Candidate

NAMES = {"us_organic": "US organic", "eu_organic": "EU organic"}
ALLOWED, WITH_LIMIT, IF_CERTIFIED, PROHIBITED = "allowed", "allowed_with_limit", "if_certified_organic", "prohibited"


def certified(candidates: Iterable[Candidate], book: Book, library: Library) -> tuple[list[Candidate], list[str]]:
    """The candidates that the book's certification allows, and a sentence for each one left out or limited.

    A feed whose status is not known is left out with a warning: unknown is not a yes. The farm's own bins are taken
    to be of the certified farm.
    """
    kept, notes = [], []
    for candidate in candidates:
        verdict, why = _verdict(candidate, book, library)
        if verdict in (ALLOWED, WITH_LIMIT):
            kept.append(candidate)
        if verdict != ALLOWED:
            notes.append(f"{NAMES[book.farm.certification]}: {candidate.label} {why}")
    return kept, notes


def _verdict(candidate: Candidate, book: Book, library: Library) -> tuple[str, str]:
    if candidate.group == "bin":
        return ALLOWED, ""
    offer = next(row for row in book.supplements if row.offer == candidate.name)
    feed = library.feeds.get(candidate.feed)
    status, rule = _status(feed, book.farm.certification) if feed else (IF_CERTIFIED, "a feed of the farm's own")
    if status == PROHIBITED:
        return PROHIBITED, f"is left out: {rule}."
    if status == ALLOWED:
        return ALLOWED, ""
    if status == WITH_LIMIT:
        return WITH_LIMIT, f"is allowed within limits: {rule}."
    if offer.organic:
        return ALLOWED, ""
    if offer.organic is None:
        return "unknown", f"is left out: the book does not say whether it is certified (column organic; {rule})."
    return PROHIBITED, f"is left out: the offer is not certified organic ({rule})."


def _status(feed, certification: str) -> tuple[str, str]:
    """The library's status word and the rule in words."""
    words, rule = (feed.us_organic, feed.us_organic_rule) if certification == "us_organic" else (feed.eu_organic, "")
    status = words.split(" ")[0].rstrip(";") if words else "unknown"
    detail = rule or words or "no rule known to the library"
    return (status if status in (ALLOWED, WITH_LIMIT, IF_CERTIFIED, PROHIBITED) else IF_CERTIFIED), detail
