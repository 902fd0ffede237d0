"""The mix sheets as one page: every sheet prints on one piece of paper, A4 or Letter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from math import floor

from rationlp.farm import Farm
from rationlp.pages.analysis_pages import analysis_rows
from rationlp.pages.code import code_svg
from rationlp.pages.live import how
from rationlp.rations.answer.model import RequirementLine
from rationlp.reasons import HEADLINES, Severity
from rationlp.report.render import html, rendered
from rationlp.sheets.model import EACH_ONCE, NOTHING, Line, MixSheet, Pack, PurchaseLine
from rationlp.sheets.order import SECTIONS
from rationlp.sheets.practice import LIMIT_WORDS, LOOK, mixing_words
from rationlp.sheets.weights.scale import shown
from rationlp.sheets.weights.whole_program import Tool

ROOM_MM = 250.0
"""Height of the printed area on Letter, the shorter of the two papers, with something to spare."""
SIZES_PCT = range(75, 101, 5)
"""Sizes of letters that a sheet may be printed in; at the smallest all of them have 8 points or more."""


@dataclass(frozen=True, slots=True)
class WeighRow:
    """A thing to weigh as it stands on paper: masses in the book's unit, written in steps of the scale."""

    mark: str
    name: str
    mass: str
    reads: str
    percent: str
    told: str
    look: str


@dataclass(frozen=True, slots=True)
class Block:
    """Things weighed one after the other under one heading, and what to do then."""

    headings: tuple[str, ...]
    rows: tuple[WeighRow, ...]
    then: str = ""


@dataclass(frozen=True, slots=True)
class ToBuy:
    """A line of what to have ready, in the book's unit."""

    line: PurchaseLine
    needed: str
    packages: str
    stock: str
    short: bool


def sheets_page(pack: Pack, farm: Farm) -> str:
    """The whole page as text: at a glance, the sheets, what cannot be mixed, analyses, purchases, cautions."""
    step = pack.scale.step
    return rendered(
        "sheets.html",
        farm.settings,
        look="paper.css",
        title=f"Mix sheets of {pack.farm} {pack.season}".strip(),
        pack=pack,
        unit=pack.unit,
        blocks=blocks,
        size=size_pct,
        sheet_mm=sheet_mm,
        table_mm=table_mm,
        words_mm=words_mm,
        batches=batch_words,
        shown=lambda mass: shown(mass, step),
        code=lambda text: html(code_svg(text)),
        analysis=lambda sheet: analysis_rows([sheet], farm.library),
        mark=_mark,
        to_buy=tuple(_to_buy(pack)),
        mixing=mixing_words(),
        look_at=LOOK,
        nothing=NOTHING,
        stop=HEADLINES[Severity.STOP],
        each_once=EACH_ONCE,
        limits=LIMIT_WORDS,
    )


def batch_words(sheet: MixSheet) -> str:
    """Which batches the sheet is for."""
    first, last = sheet.first_batch, sheet.first_batch + sheet.count - 1
    return f"batch {first}" if first == last else f"batches {first} to {last}"


def blocks(sheet: MixSheet) -> Iterator[Block]:
    """What to weigh, in order: the bucket on the hand scale, then the mixer."""
    step, hand = sheet.scale.step, sheet.scale.hand_step
    if sheet.bucket:
        rows = [_row(str(n), line, sheet, shown(line.holds, hand), "small") for n, line in enumerate(sheet.bucket, 1)]
        yield Block(("In the bucket first, on the hand scale",), tuple(rows), sheet.carrier_told)
    letters = iter(range(len(sheet.mixer)))
    for section, lines in groupby(sheet.mixer, key=lambda line: line.section):
        dry = (f"Mix dry before the liquids: {mixing_words()}",) if section == "liquid" else ()
        rows = [
            _row(_letter(next(letters)), line, sheet, shown(sheet.reads(line), step), _look(line)) for line in lines
        ]
        yield Block((*dry, SECTIONS[section]), tuple(rows))


def _letter(place: int) -> str:
    return chr(65 + place) if place < 26 else str(place)


def _look(line: Line) -> str:
    return "fill" if line.offer and not line.step else ""


def _row(mark: str, line: Line, sheet: MixSheet, reads: str, look: str) -> WeighRow:
    fine = line.tool is Tool.HAND or not line.step or look == "small"
    told = "fill up to the reading" if look == "fill" else how(line, 0, line.mass / line.mass)
    return WeighRow(
        mark=mark,
        name=line.name,
        mass=shown(line.mass, sheet.scale.hand_step if fine else sheet.scale.step),
        reads=reads,
        percent=f"{float(100 * line.mass / sheet.batch):.{3 if look == 'small' else 2}f}",
        told=told if isinstance(told, str) else str(told.value),
        look=look,
    )


def _mark(line: RequirementLine | None) -> str:
    """How a requirement stands, in words."""
    if line is None:
        return ""
    if line.meets is False:
        over = line.maximum is not None and line.gives is not None and line.gives > line.maximum
        return "OVER" if over else "SHORT"
    return "by the premix" if line.met_by == "premix" else ""


def _to_buy(pack: Pack) -> Iterator[ToBuy]:
    hand = pack.scale.hand_step
    for line in pack.purchases:
        needed = line.needed(pack.batches)
        yield ToBuy(
            line=line,
            needed=shown(needed, hand),
            packages=f"{-(-needed // line.package)} x {shown(line.package, hand)}" if line.package else "",
            stock="" if line.stock is None else shown(line.stock, pack.scale.step),
            short=line.stock is not None and needed > line.stock,
        )


# What does not fit on a paper is printed smaller ---------------------------------------------------------------------


def size_pct(height_mm: float) -> int:
    """The size in per cent at which something so high at full size fits on one paper, as far as letters may shrink."""
    fits = floor(100 * min(1.0, ROOM_MM / height_mm))
    return max((size for size in SIZES_PCT if size <= fits), default=SIZES_PCT[0])


def sheet_mm(sheet: MixSheet) -> float:
    """About how high a mix sheet is at full size."""
    lines = [(line, 8.2) for line in sheet.bucket] + [(line, 10.2) for line in sheet.mixer]
    rows = sum(height + (4.5 if len(line.name) > 22 else 0) for line, height in lines)
    headings = sum(len(block.headings) + bool(block.then) for block in blocks(sheet))
    words = (sheet.verdict_words, sheet.rounding_words, *sheet.eaters, *sheet.carry_over, sheet.grinding)
    told = _lines_of(words) + _lines_of((*sheet.notes, *sheet.hints))
    labels = min(sheet.count, sheet.boxes)
    return (
        92
        + rows
        + 6.5 * headings
        + 5 * told
        + 16 * labels
        + 4 * _lines_of(("  *  ".join(sheet.cautions),), 125)
        + 16 * bool(sheet.only_for)
    )


def table_mm(rows: int) -> float:
    """About how high a table of so many lines is, with its heading."""
    return 38 + 4.6 * rows


def words_mm(texts: Iterable[str]) -> float:
    """About how high so many words are, with their heading."""
    return 30 + 5.4 * _lines_of(texts, 90)


def _lines_of(texts: Iterable[str], letters: int = 100) -> int:
    return sum(1 + len(text) // letters for text in texts if text)
