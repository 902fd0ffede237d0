"""What the farm's record gives a sheet when it is printed: numbers, never given twice, and the signature."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from rationlp.book.records import Book
from rationlp.ledger.kept import record_for
from rationlp.ledger.made_mix import printed_mix
from rationlp.ledger.shape import printed_entry
from rationlp.ledger.signatures import signature_words, signatures
from rationlp.ledger.weighed import NUMBER
from rationlp.rations.answer.ids import book_version
from rationlp.sheets.model import Pack


def numbered(pack: Pack, book: Book) -> Pack:
    """The pack with batch numbers of its own, one for every box, and with who signed each ration. Raises InputError."""
    boxes = sum(sheet.boxes for sheet in pack.sheets)
    if not boxes:
        return pack
    typed = [int(match[2]) for row in book.actual if (match := NUMBER.match(row.sheet.strip()))]
    first = record_for(book).give_numbers(boxes, after=max(typed, default=0))
    sheets, signed = [], signatures(book)
    for sheet in pack.sheets:
        words = signature_words(sheet.ration_id, sheet.made_on or date.today(), signed)
        sheets.append(replace(sheet, first_batch=first, signed=words))
        first += sheet.boxes
    return replace(pack, sheets=tuple(sheets))


def keep_printed(pack: Pack, book: Book) -> None:
    """Keep the mix of every sheet in the farm's record, so that it is known what was made. Raises InputError."""
    version = book_version(book)
    record_for(book).add(
        printed_entry(
            printed_mix(
                sheet.ration,
                book,
                id=sheet.id,
                book_version=version,
                made_on=sheet.made_on or date.today(),
                sheet=sheet.name,
                eaten_by=sheet.eaten_by,
                also_for=sheet.also_for,
            ),
            sheet.first_batch,
            sheet.boxes,
        )
        for sheet in pack.sheets
    )
