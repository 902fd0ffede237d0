"""Mix sheets for the terminal: what was written, and what needs a person's eye."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rationlp.book.records import Book
from rationlp.cautions import REVIEW
from rationlp.library import Library
from rationlp.numbers import money
from rationlp.reasons import HEADLINES, Severity
from rationlp.sheets.model import Line, MixSheet, Pack
from rationlp.sheets.weights.scale import shown
from rationlp.show.terminal import console, table
from rationlp.show.text.verdict import print_grouped

if TYPE_CHECKING:
    from rationlp.show.schema.mixed import SheetLine, SheetObject, SheetsDocument


def print_pack(pack: Pack, output: Path, library: Library) -> None:
    """One line for each sheet, then what misses, what cannot be mixed, and the cautions of the review."""
    out = console()
    made = table(
        f"Mix sheets of {pack.farm} {pack.season}, book {pack.book_version}".replace("  ", " "),
        [
            ("Sheet", "left"),
            ("Id", "left"),
            ("Verdict", "left"),
            (f"Batch, {pack.unit}", "right"),
            ("Batches", "right"),
            (f"Rounding, {pack.currency} a batch", "right"),
        ],
    )
    for sheet in pack.sheets:
        result = sheet.verdict.headline
        made.add_row(
            sheet.name,
            sheet.id,
            result,
            shown(sheet.batch, sheet.scale.step),
            str(sheet.count),
            money(max(sheet.extra_cost, 0)),
        )
    for absent in pack.unmade:
        made.add_row(absent.name, absent.id, f"{HEADLINES[Severity.STOP]}: no sheet", "", "", "")
    out.print(made)
    print_grouped(out, [(sheet.name, sheet.verdict) for sheet in pack.sheets], library, least=Severity.ASK)
    for words, names in _notes(pack).items():
        out.print(f"- {', '.join(names)}: {words}" if len(names) < len(pack.sheets) else f"- {words}")
    late = sorted((sheet for sheet in pack.sheets if sheet.only_for), key=lambda sheet: sheet.turn)
    if late and len(pack.sheets) > len(late):
        out.print(
            f"- Mix last, in this order: {', '.join(sheet.name for sheet in late)}; what to flush is on the sheets."
        )
    for absent in pack.unmade:
        for reason in absent.reasons:
            out.print(f"- {absent.name}: {reason}", strong=True)
    out.print(f"Written: {output}")
    out.print(REVIEW, strong=True)


def _notes(pack: Pack) -> dict[str, list[str]]:
    """Every note once, with the sheets it is for."""
    found: dict[str, list[str]] = {}
    for sheet in pack.sheets:
        for words in sheet.notes:
            found.setdefault(words, []).append(sheet.name)
    return found


def pack_document(pack: Pack, book: Book, output: Path | None = None) -> SheetsDocument:
    """`sheets --format json`; masses in the unit of the book, `output` empty where nothing was written."""
    return {
        "book": str(book.path),
        "farm": pack.farm,
        "book_version": pack.book_version,
        "currency": pack.currency,
        "unit": pack.unit,
        "output": str(output or ""),
        "review": REVIEW,
        "sheets": [_sheet(sheet) for sheet in pack.sheets],
        "unmade": [
            {
                "sheet": a.name,
                "id": a.id,
                "stage": a.stage,
                "bin": a.bin,
                "status": a.ration.status,
                "verdict": a.ration.verdict,
                "reasons": a.reasons,
            }
            for a in pack.unmade
        ],
        "cautions": pack.cautions,
    }


def _sheet(sheet: MixSheet) -> SheetObject:
    return {
        "sheet": sheet.name,
        "id": sheet.id,
        "ration": sheet.ration_id,
        "stage": sheet.stage,
        "bin": sheet.bin,
        "status": "misses" if sheet.misses else "optimal",
        "verdict": sheet.verdict,
        "batch": float(sheet.batch),
        "batches": sheet.count,
        "first_batch": sheet.first_batch,
        "rounding_cost_per_batch": sheet.extra_cost,
        "misses": sheet.misses,
        "eaten_by": sheet.eaters,
        "only_for": sheet.only_for,
        "carry_over": sheet.carry_over,
        "mix_as_number": sheet.turn,
        "counts_in_what_to_buy": sheet.counts,
        "notes": (*sheet.notes, *sheet.hints),
        "bucket": [_line(line) for line in sheet.bucket],
        "mixer": [{**_line(line), "then_reads": float(sheet.reads(line))} for line in sheet.mixer],
        "labels": [sheet.label_line(number) for number in range(1, sheet.count + 1)],
    }


def _line(line: Line) -> SheetLine:
    return {
        "section": line.section,
        "offer": line.offer or None,
        "label": line.name,
        "mass": float(line.mass),
        "holds": float(line.holds),
        "weigh_on": line.tool,
    }
