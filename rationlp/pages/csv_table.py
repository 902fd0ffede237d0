"""The pack as one table of text: a row for everything that stands on a page, for another program or a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from rationlp.files import csv_table
from rationlp.library.read import Library
from rationlp.pages.analysis_pages import analysis_rows
from rationlp.pages.cells import number_words
from rationlp.sheets.model import Line, MixSheet, Pack
from rationlp.sheets.practice import MIXING_TIMES

COLUMNS = (
    "part",
    "sheet",
    "id",
    "stage",
    "bin",
    "section",
    "step",
    "name",
    "label",
    "value",
    "unit",
    "then_reads",
    "percent",
    "weigh_on",
    "minimum",
    "maximum",
    "meets",
)
"""`part` says what a row is: sheet (a batch), verdict, reason, weigh, label, mixing, rounding, miss, note, analysis,
buy, unmade, caution. Of a verdict and of each of its reasons `section` is what it says: feed, ask or stop."""


def pack_table(pack: Pack, library: Library) -> str:
    """CSV text. Labels that a spreadsheet would take for a formula carry an apostrophe."""
    return csv_table(COLUMNS, _rows(pack, library))


def _rows(pack: Pack, library: Library) -> Iterator[dict[str, object]]:
    yield {"part": "caution", "label": pack.review}
    for sheet in pack.sheets:
        yield from _sheet_rows(sheet, pack, library)
    for absent in pack.unmade:
        for reason in absent.reasons:
            yield {
                "part": "unmade",
                "sheet": absent.name,
                "id": absent.id,
                "stage": absent.stage,
                "bin": absent.bin,
                "label": reason,
            }
    counts = pack.batches
    for line in pack.purchases:
        needed = line.needed(counts)
        yield {
            "part": "buy",
            "name": line.offer,
            "label": line.label,
            "value": _plain(needed),
            "unit": pack.unit,
            "section": line.supplier,
        }
    for words in pack.cautions[1:]:
        yield {"part": "caution", "label": words}


def _sheet_rows(sheet: MixSheet, pack: Pack, library: Library) -> Iterator[dict[str, object]]:
    head: dict[str, object] = {"sheet": sheet.name, "id": sheet.id, "stage": sheet.stage, "bin": sheet.bin}
    for row in (*_weighing_rows(sheet), *_word_rows(sheet, pack), *_analysis_rows(sheet, library)):
        yield head | row


def _weighing_rows(sheet: MixSheet) -> Iterator[dict[str, object]]:
    yield {
        "part": "sheet",
        "label": sheet.stage_label,
        "name": f"book {sheet.book_version}",
        "value": _plain(sheet.batch),
        "unit": sheet.unit,
        "step": sheet.count,
        "section": f"{sheet.bin_words} | {sheet.sample_words}",
    }
    verdict = sheet.verdict
    signed = f"{verdict.headline}. {sheet.signed}" if sheet.signed else verdict.headline
    yield {"part": "verdict", "section": verdict.severity.value, "label": signed}
    for reason in verdict.reasons:
        yield {
            "part": "reason",
            "section": reason.severity.value,
            "name": reason.nutrient or reason.feed,
            "label": reason.text,
            "value": reason.value,
            "unit": reason.unit,
        }
    told = (
        *(("only for", words) for words in (sheet.only_for,)),
        *(("eats", words) for words in sheet.eaters),
        *(("grinding", words) for words in (sheet.grinding,)),
        *(("carry-over", words) for words in sheet.carry_over),
    )
    for section, words in told:
        if words:
            yield {"part": "note", "section": section, "label": words}
    for number, line in enumerate(sheet.bucket, 1):
        yield _line_row(number, line, sheet, line.holds)
    if sheet.carrier_told:
        yield {"part": "note", "section": "bucket", "label": sheet.carrier_told}
    for number, line in enumerate(sheet.mixer, 1):
        yield _line_row(number, line, sheet, sheet.reads(line))


def _word_rows(sheet: MixSheet, pack: Pack) -> Iterator[dict[str, object]]:
    for time in MIXING_TIMES:
        low, high = time.minutes
        yield {"part": "mixing", "label": time.mixer, "minimum": low, "maximum": high, "unit": "min"}
    for number in range(1, sheet.count + 1):
        words = sheet.label_line(number)
        yield {"part": "label", "step": number, "name": sheet.batch_id(number), "label": words}
    cost = round(sheet.extra_cost, 4)
    yield {"part": "rounding", "value": cost, "unit": pack.currency, "label": sheet.rounding_words}
    for part, texts in (("miss", sheet.misses), ("note", (*sheet.notes, *sheet.hints))):
        for words in texts:
            yield {"part": part, "label": words}


def _analysis_rows(sheet: MixSheet, library: Library) -> Iterator[dict[str, object]]:
    for row in analysis_rows([sheet], library):
        line = row.requirement(sheet.ration)
        yield {
            "part": "analysis",
            "name": row.nutrient,
            "label": row.words,
            "unit": row.unit,
            "value": row.gives(sheet.ration),
            "minimum": line.minimum if line else None,
            "maximum": line.maximum if line else None,
            "meets": "" if line is None or line.meets is None else "yes" if line.meets else "no",
        }


def _line_row(number: int, line: Line, sheet: MixSheet, reads: Fraction) -> dict[str, object]:
    return {
        "part": "weigh",
        "section": line.section,
        "step": number,
        "name": line.offer,
        "label": line.name,
        "value": _plain(line.mass),
        "unit": sheet.unit,
        "then_reads": _plain(reads),
        "percent": f"{float(100 * line.mass / sheet.batch):.4f}",
        "weigh_on": line.tool or "pour in",
    }


def _plain(mass: Fraction) -> str:
    return number_words(float(mass))
