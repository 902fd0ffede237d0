"""What was really weighed, for the terminal, as JSON and as a table."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from rationlp.actual.judge import Judgement
from rationlp.actual.report import ActualReport, as_rows
from rationlp.actual.stock import stock_words
from rationlp.actual.uniformity import Uniformity
from rationlp.book.records import Book, Settings
from rationlp.cautions import REVIEW
from rationlp.feeds.stock import Stock
from rationlp.files import csv_table
from rationlp.library import Library
from rationlp.numbers import figure
from rationlp.reasons import Severity
from rationlp.sheets.practice import LIMIT_WORDS
from rationlp.show.terminal import Terminal, console, table
from rationlp.show.text.verdict import print_reasons
from rationlp.units import BOOK_MASS_UNIT, MASS_KG

if TYPE_CHECKING:
    from rationlp.show.schema.mixed import ActualDocument, JudgedBatch

COLUMNS = (
    "part",
    "sheet",
    "batch",
    "made_on",
    "stage",
    "bin",
    "verdict",
    "name",
    "label",
    "unit",
    "value",
    "asked",
    "minimum",
    "maximum",
    "meets",
)


def print_review(review: ActualReport, book: Book, library: Library) -> None:
    """Each batch with its verdict, then stock and mixer tests."""
    out = console()
    unit = BOOK_MASS_UNIT[book.farm.units]
    for judgement in review.judgements:
        _print_judgement(out, judgement, unit, library)
    if review.stocks:
        _print_stocks(out, review.stocks, book.farm, unit)
    for test in review.uniformity:
        print_test(out, test)
    out.print(REVIEW, strong=True)


def _mass(kg: float | None, unit: str) -> str:
    return "" if kg is None else figure(kg / MASS_KG[unit], 5)


def _print_judgement(out: Terminal, j: Judgement, unit: str, library: Library) -> None:
    out.rule(f"{j.stage_label}: batch {j.made.batch}, {_mass(j.made.total_kg, unit)} {unit}")
    out.print(f"{j.verdict.headline}.", strong=True)
    print_reasons(out, j.verdict, library)
    for words in j.remedies:
        out.print(f"- {words}", strong=True)
    _print_lines(out, j, unit)
    _print_requirements(out, j)
    out.print(f"Label: {j.label_line}")
    if j.verdict.severity is not Severity.FEED:
        for words in j.cautions[1:]:
            out.print(f"- {words}")


def _print_lines(out: Terminal, j: Judgement, unit: str) -> None:
    heads = [("Feed", "left"), ("Offer", "left"), (f"Asked, {unit}", "right"), (f"Weighed, {unit}", "right")]
    made = table("What went in", [*heads, ("Off %", "right")])
    for line in j.lines:
        off = "" if line.off_pct is None else f"{line.off_pct:+.1f}"
        made.add_row(line.label, line.offer, _mass(line.asked_kg, unit), _mass(line.weighed_kg, unit), off)
    out.print(made)


def _print_requirements(out: Terminal, j: Judgement) -> None:
    heads = [("Nutrient", "left"), ("Unit", "left"), ("Minimum", "right"), ("Maximum", "right"), ("Supplies", "right")]
    held = table("The ration as mixed, as fed", [*heads, ("Met", "left")])
    for line in j.ration.requirements:
        word = "MISSED" if line.meets is False else "not known" if line.gives is None else ""
        if line.met_by == "premix" and not word:
            word = "by the premix"
        held.add_row(line.label, line.unit, figure(line.minimum), figure(line.maximum), figure(line.gives), word)
    out.print(held)


def _print_stocks(out: Terminal, stocks: tuple[Stock, ...], farm: Settings, unit: str) -> None:
    made = table(
        "Drawn down",
        [
            ("What", "left"),
            ("Name", "left"),
            (f"There was, {unit}", "right"),
            (f"Taken, {unit}", "right"),
            (f"Left, {unit}", "right"),
            (f"On the farm, {unit}", "right"),
            ("Batches", "right"),
            ("To know", "left"),
        ],
    )
    for stock in stocks:
        made.add_row(
            stock.label,
            stock.name,
            _mass(stock.start_kg, unit),
            _mass(stock.taken_kg, unit),
            _mass(stock.left_kg, unit),
            _mass(stock.on_farm_kg, unit),
            str(stock.batches),
            stock_words(stock, farm),
        )
    out.print(made)


def print_test(out: Terminal, test: Uniformity) -> None:
    """A mixer test against its limits."""
    out.rule(f"Mixer test, {test.tracer}: CV {test.cv_pct:.1f} %")
    out.print(
        f"{len(test.values)} samples, mean {figure(test.mean)}, standard deviation {figure(test.sd)}. {test.advice}",
        strong=True,
    )
    for name, limit, passes in test.passes:
        out.print(f"- {name}: at most {limit:g} %: {'kept' if passes else 'PASSED OVER'}")
    for words in (*test.notes, LIMIT_WORDS[-1]):
        out.print(f"- {words}")


def review_document(review: ActualReport, book: Book) -> ActualDocument:
    """`actual --format json`; masses in kg."""
    return {
        "book": str(book.path),
        "farm": book.farm.name,
        "review": REVIEW,
        "batches": [_judgement(j) for j in review.judgements],
        "stock": [
            {
                "name": s.name,
                "label": s.label,
                "is_bin": s.is_bin,
                "start_kg": s.start_kg,
                "taken_kg": s.taken_kg,
                "left_kg": s.left_kg,
                "on_farm_kg": s.on_farm_kg,
                "delivered_kg": s.delivered_kg,
                "sold_kg": s.sold_kg,
                "thrown_away_kg": s.thrown_away_kg,
                "batches": s.batches,
                "note": stock_words(s, book.farm),
            }
            for s in review.stocks
        ],
        "mixer_tests": [
            {
                "tracer": t.tracer,
                "values": t.values,
                "mean": t.mean,
                "sd": t.sd,
                "cv_pct": t.cv_pct,
                "advice": t.advice,
                "limits": [{"limit": n, "at_most_pct": m, "kept": k} for n, m, k in t.passes],
                "notes": t.notes,
            }
            for t in review.uniformity
        ],
        "lots": dict(review.lots),
        "warnings": review.warnings,
    }


def _judgement(j: Judgement) -> JudgedBatch:
    return {
        "sheet": j.made.sheet,
        "batch": j.made.batch,
        "made_on": j.made.made_on,
        "stage": j.made.stage,
        "bin": j.made.bin,
        "verdict": j.verdict,
        "total_kg": j.made.total_kg,
        "size": j.size,
        "lines": [
            {
                "offer": w.offer,
                "label": w.label,
                "asked_kg": w.asked_kg,
                "weighed_kg": w.weighed_kg,
                "off_pct": w.off_pct,
                "fault": w.words or None,
            }
            for w in j.lines
        ],
        "faults": j.faults,
        "remedies": j.remedies,
        "cautions": j.cautions,
        "label": j.label_line,
        "ration": j.ration,
    }


def review_table(review: ActualReport) -> str:
    """CSV text: a row for every line, requirement, sentence, stock and sample."""
    return csv_table(COLUMNS, _rows(review))


def rows_for_book(review: ActualReport, book: Book) -> str:
    """CSV text with the columns of the book's sheet `actual`."""
    unit_kg = MASS_KG[BOOK_MASS_UNIT[book.farm.units]]
    names = ("sheet", "made_on", "batch", "feed", "lot", "mass")
    return csv_table(names, (dict(zip(names, row, strict=True)) for row in as_rows(review, unit_kg, book.farm)))


def _rows(review: ActualReport) -> Iterator[dict[str, Any]]:
    for j in review.judgements:
        yield from _judgement_rows(j)
    for s in review.stocks:
        yield {"part": "stock", "name": s.name, "label": s.label, "unit": "kg", "value": s.left_kg, "asked": s.start_kg}
    for t in review.uniformity:
        yield {"part": "mixer_test", "name": t.tracer, "label": t.advice, "unit": "% CV", "value": t.cv_pct}


def _judgement_rows(j: Judgement) -> Iterator[dict[str, Any]]:
    head = {
        "sheet": j.made.sheet,
        "batch": j.made.batch,
        "made_on": j.made.made_on,
        "stage": j.made.stage,
        "bin": j.made.bin,
        "verdict": str(j.verdict.severity),
    }
    yield head | {"part": "batch", "label": j.verdict.headline, "unit": "kg", "value": j.made.total_kg}
    for w in j.lines:
        words = {"part": "weighed", "name": w.offer, "label": w.label, "unit": "kg"}
        yield head | words | {"value": w.weighed_kg, "asked": w.asked_kg}
    for r in j.ration.requirements:
        words = {"part": "requirement", "name": r.nutrient, "label": r.label, "unit": r.unit}
        yield head | words | {"value": r.gives, "minimum": r.minimum, "maximum": r.maximum, "meets": r.meets}
    reasons = [reason.text for reason in j.verdict.reasons]
    for part, texts in (("reason", reasons), ("fault", j.faults), ("remedy", j.remedies), ("caution", j.cautions)):
        for text in texts:
            yield head | {"part": part, "label": text}
    yield head | {"part": "label", "label": j.label_line}
