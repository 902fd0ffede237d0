"""What the farm's record gives a sheet when it is printed: numbers, never given twice, the signature, and what of the
last mix must not reach its animals."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from rationlp.book.records import Book, Offer, Place
from rationlp.errors import BookError
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate
from rationlp.feeds.labels import label_meanings
from rationlp.ledger.kept import last_in_mixer, record_for
from rationlp.ledger.made_mix import MadeMix, printed_mix
from rationlp.ledger.shape import printed_entry
from rationlp.ledger.signatures import signature_words, signatures
from rationlp.ledger.weighed import NUMBER
from rationlp.rations.answer.ids import book_version
from rationlp.sheets.carry_over import Residue, after, residue
from rationlp.sheets.eaters import HIGH_CALCIUM_PCT, lays
from rationlp.sheets.model import Pack


def numbered(pack: Pack, farm: Farm) -> Pack:
    """The pack with batch numbers of its own, one for every box, with who signed each ration, and with what to do after
    the last mix of the record. Raises InputError."""
    book = farm.book
    boxes = sum(sheet.boxes for sheet in pack.sheets)
    if not boxes:
        return pack
    typed = [int(match[2]) for row in book.actual if (match := NUMBER.match(row.sheet.strip()))]
    last: dict[date, list[Residue]] = {}
    for day in {sheet.made_on or date.today() for sheet in pack.sheets}:
        last[day] = [_left_by(made, farm) for made in last_in_mixer(book, day)]
    first = record_for(book).give_numbers(boxes, after=max(typed, default=0))
    sheets, signed = [], signatures(book)
    for sheet in pack.sheets:
        day = sheet.made_on or date.today()
        words = signature_words(sheet.ration_id, day, signed, book.farm.date_format)
        sheets.append(after(replace(sheet, first_batch=first, signed=words), last[day], farm))
        first += sheet.boxes
    return replace(pack, sheets=tuple(sheets))


def _left_by(made: MadeMix, farm: Farm) -> Residue:
    """What a mix of the record leaves in the mixer, by its labels then and now, and by today's figures of its feeds.

    Where a feed of it has none any more, the feed of laying birds counts as rich in calcium.
    """
    meanings = {
        part.offer: label_meanings(Offer(Place(), part.offer, part.feed, part.label), farm.book, farm.library)
        for part in made.parts
    }
    gives, lacking = {"calcium": 0.0, "zinc": 0.0}, False
    for part in made.parts:
        known = _candidate(part.offer, part.feed, farm)
        lacking = lacking or known is None
        for nutrient in gives if known else ():
            gives[nutrient] += part.share * (known.values.get(nutrient, 0.0) if known else 0.0)
    if lacking and lays(made.stage, farm.library):
        gives["calcium"] = max(gives["calcium"], 2 * HIGH_CALCIUM_PCT)
    day = f" of {farm.settings.day(made.made_on)}" if made.made_on else ""
    found = residue(made.stage_label, made.stage, meanings, gives, farm.library)
    return replace(found, when=f"{day}, batch {made.batch}")


def _candidate(offer: str, feed: str, farm: Farm) -> Candidate | None:
    """What a part of a mix is today; None where neither book nor library knows it any more."""
    for candidate in farm.candidates:
        if candidate.name == offer:
            return candidate
    try:
        if offer in {row.bin for row in farm.book.bins}:
            return farm.bin_candidate(offer)
        return farm.as_if_offered(feed) if feed in farm.library.feeds else None
    except BookError:
        return None


def keep_printed(pack: Pack, book: Book) -> None:
    """Keep the mix of every sheet in the farm's record, so that it is known what was made. Raises InputError."""
    version, today = book_version(book), date.today()
    entries = []
    for sheet in pack.sheets:
        made = printed_mix(
            sheet.ration,
            book,
            id=sheet.id,
            book_version=version,
            made_on=sheet.made_on or today,
            sheet=sheet.name,
        )
        made = replace(made, eaten_by=tuple(sheet.eaten_by), also_for=tuple(sheet.also_for))
        entries.append(printed_entry(made, sheet.first_batch, sheet.boxes))
    record_for(book).add(entries)
