"""The pack as one self-contained HTML page: every sheet prints on one piece of paper, A4 or Letter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape

from rationlp.files import clean
from rationlp.library.read import Library
from rationlp.pages.analysis_pages import analysis_rows
from rationlp.pages.code import code_svg
from rationlp.pages.live import how
from rationlp.rations.answer.model import RequirementLine
from rationlp.reasons import HEADLINES, Severity
from rationlp.sheets.model import EACH_ONCE, NOTHING, Line, MixSheet, NoSheet, Pack
from rationlp.sheets.order import SECTIONS
from rationlp.sheets.practice import LIMIT_WORDS, LOOK, mixing_words
from rationlp.sheets.scale import shown
from rationlp.sheets.whole_program import Tool

STYLE = """
@page { margin: 9mm 10mm }
* { box-sizing: border-box }
body { font: 11pt Arial, "Liberation Sans", sans-serif; color: #000; margin: 0 auto; max-width: 190mm; padding: 4mm }
section { break-after: page; padding: 0.4em 0 }
section:last-of-type { break-after: auto }
h1 { font-size: 1.5em; margin: 0 }
h1 b { float: right; white-space: nowrap; padding-left: 1em }
h2 { font-size: 1.1em; margin: 0.5em 0 0.2em }
p { margin: 0.2em 0 }
.warn { font-weight: bold; border: 2pt solid #000; padding: 0.2em 0.5em }
.big { font-size: 1.35em; font-weight: bold }
table { border-collapse: collapse; width: 100%; margin: 0.3em 0 }
td, th { border: 0.6pt solid #000; padding: 0.15em 0.4em; text-align: left; vertical-align: middle }
th { background: #ededed; font-size: 0.85em }
td.n, th.n { text-align: right; white-space: nowrap }
tr.head td { background: #ededed; font-weight: bold }
table.mix td.name { font-size: 1.2em }
table.mix td.w { font-size: 1.75em; font-weight: bold; text-align: right; white-space: nowrap }
table.mix td.r { font-size: 1.5em; text-align: right; white-space: nowrap }
table.mix tr.small td.name { font-size: 1.05em }
table.mix tr.small td.w { font-size: 1.3em }
table.mix tr.small td.r { font-size: 1.05em }
table.mix tr.fill td.w { font-size: 1.5em; font-weight: normal }
table.mix tr.fill td.r { font-size: 1.75em; font-weight: bold }
.only { font-size: 1.9em }
td.box { width: 24mm }
td.lot { width: 18mm }
.label { display: flex; align-items: center; gap: 3mm }
.fine { font-size: 0.85em; line-height: 1.15 }
table.dense td, table.dense th { font-size: 0.78em; padding: 0.05em 0.3em }
@media print { body { padding: 0; max-width: none } }
"""
CODE_MM = 14.0
ROOM_MM = 256.0
"""Height of the printed area on Letter, the shorter of the two papers, with something to spare."""


def pack_html(pack: Pack, library: Library) -> str:
    """The whole page as text."""
    title = f"Mix sheets of {pack.farm} {pack.season}".strip()
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en"><head><meta charset="utf-8">',
        f"<title>{_t(title)}</title>",
        f"<style>{STYLE}</style></head><body>",
        *_glance(pack, title),
    ]
    for sheet in pack.sheets:
        parts += _mix(sheet)
    for absent in pack.unmade:
        parts += _unmade(absent)
    for sheet in pack.sheets:
        parts += _analysis(sheet, pack, library)
    if pack.sheets:
        parts += _purchases(pack)
    parts += _cautions(pack)
    return "\n".join([*parts, "</body></html>\n"])


def _section(height_mm: float) -> str:
    """The start of a page; what would be higher than the paper is printed smaller."""
    size = min(1.0, ROOM_MM / height_mm)
    return f'<section style="font-size: {size:.3f}em">' if size < 1 else "<section>"


def _t(text: object) -> str:
    return escape(clean(text))


def _row(cells: Iterable[tuple[str, object]], tag: str = "td", kind: str = "") -> str:
    """A row of (class, text)."""
    made = "".join(
        f'<{tag} class="{cls}">{_t(text)}</{tag}>' if cls else f"<{tag}>{_t(text)}</{tag}>" for cls, text in cells
    )
    return f'<tr class="{kind}">{made}</tr>' if kind else f"<tr>{made}</tr>"


def _glance(pack: Pack, title: str) -> Iterator[str]:
    lines = sum(2 if len(page.stage_label) > 24 or len(page.name) > 18 else 1 for page in pack.pages)
    yield f"{_section(36 + 5.6 * lines)}<h1>{_t(title)}</h1>"
    yield f"<p class=warn>{_t(pack.review)}</p><p>Book version {pack.book_version}.</p>"
    yield "<table class=dense>" + _row(
        [
            ("", "Mix sheet"),
            ("", "Animals"),
            ("", "Id"),
            ("", "Verdict"),
            ("n", f"Batch, {pack.unit}"),
            ("n", "Batches"),
            ("n", pack.units.per_mass),
            ("n", "Home-grown %"),
        ],
        "th",
    )
    for sheet in pack.sheets:
        ration = sheet.ration
        result = sheet.verdict.headline
        yield _row(
            [
                ("", sheet.name),
                ("", sheet.stage_label),
                ("", sheet.id),
                ("", result),
                ("n", shown(sheet.batch, sheet.scale.step)),
                ("n", sheet.count),
                ("n", pack.units.price(ration.cost_per_tonne)),
                ("n", f"{100 * (ration.home_grown_share or 0):.1f}"),
            ]
        )
    for absent in pack.unmade:
        yield _row(
            [
                ("", absent.name),
                ("", absent.stage_label),
                ("", absent.id),
                ("", f"{HEADLINES[Severity.STOP]}: see its page"),
                *[("", "")] * 4,
            ]
        )
    yield "</table></section>"


def _mix(sheet: MixSheet) -> Iterator[str]:
    unit = sheet.unit
    yield f"{_section(_height_mm(sheet))}<h1><b>{_t(sheet.id)}</b>{_t(sheet.stage_label)}</h1>"
    yield f"<p>{_t(sheet.farm)} | ration {sheet.ration_id} | book {sheet.book_version} | {_t(sheet.name)}</p>"
    yield f"<p><b>{_t(sheet.bin_words)} | {_t(sheet.sample_words)}</b></p>"
    day = f"{sheet.made_on:%Y-%m-%d}" if sheet.made_on else "____-__-__"
    first, last = sheet.first_batch, sheet.first_batch + sheet.count - 1
    batch = shown(sheet.batch, sheet.scale.step, unit)
    yield f"<p class=big>Batch {batch} &nbsp; {_numbers(first, last)} &nbsp; date {day}</p>"
    ask = sheet.verdict.severity is not Severity.FEED
    yield f"<p{' class=warn' if ask else ''}>{_t(sheet.verdict_words)}</p>"
    yield f"<p>{_t(sheet.rounding_words)}</p><p><b>FOR {_t('; '.join(sheet.eaters))}</b></p>"
    if sheet.only_for:
        large, why = sheet.only_for.split(": ", 1)
        yield f"<p class=warn><span class=only>{_t(large)}</span><br>{_t(' '.join((why, *sheet.carry_over)))}</p>"
    elif sheet.carry_over:
        yield f"<p class=warn>{_t(' '.join(sheet.carry_over))}</p>"
    yield "<table class=mix>"
    heads = [("", ""), ("", "Ingredient"), ("n", f"Weigh, {unit}"), ("n", f"Then reads, {unit}"), ("n", "%")]
    boxes = [("box", f"Batch {first + i}: weight or reading") for i in range(sheet.boxes)]
    yield _row([*heads, ("", "Weigh on"), ("lot", "Lot"), *boxes], "th")
    yield from _bucket(sheet)
    yield from _mixer(sheet)
    yield "</table>"
    yield from _under_the_table(sheet)


def _bucket(sheet: MixSheet) -> Iterator[str]:
    if sheet.bucket:
        yield _heading("In the bucket first, on the hand scale", sheet)
        for number, line in enumerate(sheet.bucket, 1):
            yield _weigh(str(number), line, sheet, shown(line.holds, sheet.scale.hand_step), "small")
        yield f'<tr><td colspan="{7 + sheet.boxes}">{_t(sheet.carrier_told)}</td></tr>'


def _under_the_table(sheet: MixSheet) -> Iterator[str]:
    """Mixing time, boxes for the batch as a whole, labels, words."""
    yield f"<p><b>MIX after the last ingredient: {_t(mixing_words())}</b></p><table>"
    for words in ("Minutes mixed", "Sample kept (yes or no)", "Date and time", "Initials"):
        yield _row([("", words), *[("box", "")] * sheet.boxes])
    yield "</table><h2>Labels</h2>"
    for number in range(1, min(sheet.count, sheet.boxes) + 1):
        code = code_svg(sheet.batch_id(number), CODE_MM)
        yield f"<div class=label>{code}<p>{_t(sheet.label_line(number))}</p></div>"
    yield f"<p><b>{_t(LOOK)}</b> {_t(sheet.grinding)}</p>"
    if sheet.notes or sheet.hints:
        yield f"<p>{_t(' '.join((*sheet.notes, *sheet.hints)))}</p>"
    yield f"<p class=fine>{_t('  *  '.join(sheet.cautions))}</p></section>"


def _numbers(first: int, last: int) -> str:
    return f"batch {first}" if first == last else f"batches {first} to {last}"


def _height_mm(sheet: MixSheet) -> float:
    """About how high the page is at full size: what does not fit is printed smaller."""
    sections = (
        len({line.section for line in sheet.mixer})
        + bool(sheet.bucket)
        + any(line.section == "liquid" for line in sheet.mixer)
    )
    lines = [(line, 8.2) for line in sheet.bucket] + [(line, 10.6) for line in sheet.mixer]
    rows = sum(height + (5.5 if len(line.name) > 20 else 0) for line, height in lines)
    words = sum(
        len(text)
        for text in (
            sheet.verdict_words,
            *sheet.eaters,
            *sheet.carry_over,
            sheet.grinding,
            *sheet.notes,
            *sheet.hints,
            sheet.rounding_words,
            sheet.carrier_told,
        )
    )
    fine = sum(len(text) for text in sheet.cautions)
    labels = min(sheet.count, sheet.boxes) * (CODE_MM + 2.0)
    full = (
        46
        + 6.8 * sections
        + rows
        + 11
        + 5.2 * (words // 95 + 2)
        + 12
        + 4 * 6.5
        + 7
        + labels
        + 10
        + 4.2 * (fine // 115 + 1)
        + 16 * bool(sheet.only_for)
    )
    return 0.84 * full


def _mixer(sheet: MixSheet) -> Iterator[str]:
    section = ""
    for number, line in enumerate(sheet.mixer):
        if line.section != section:
            section = line.section
            if section == "liquid":
                yield _heading(f"Mix dry before the liquids: {mixing_words()}", sheet)
            yield _heading(SECTIONS[section], sheet)
        kind = "fill" if line.offer and not line.step else ""
        yield _weigh(
            chr(65 + number) if number < 26 else str(number),
            line,
            sheet,
            shown(sheet.reads(line), sheet.scale.step),
            kind,
        )
    yield _row([("", ""), ("", "Total"), ("w", shown(sheet.batch, sheet.scale.step)), *[("", "")] * (4 + sheet.boxes)])


def _weigh(number: str, line: Line, sheet: MixSheet, reads: str, kind: str) -> str:
    fine = line.tool is Tool.HAND or not line.step or kind == "small"
    step = sheet.scale.hand_step if fine else sheet.scale.step
    words = "fill up to the reading" if kind == "fill" else how(line, 0, line.mass / line.mass)
    text = words if isinstance(words, str) else words.value
    percent = f"{float(100 * line.mass / sheet.batch):.{3 if kind == 'small' else 2}f}"
    cells = [
        ("n", number),
        ("name", line.name),
        ("w", shown(line.mass, step)),
        ("r", reads),
        ("n", percent),
        ("", text),
    ]
    return _row([*cells, ("lot", ""), *[("box", "")] * sheet.boxes], kind=kind)


def _heading(words: str, sheet: MixSheet) -> str:
    return f'<tr class="head"><td colspan="{7 + sheet.boxes}">{_t(words)}</td></tr>'


def _unmade(absent: NoSheet) -> Iterator[str]:
    yield f"<section><h1><b>{_t(absent.id)}</b>{_t(absent.stage_label)}</h1>"
    yield f"<p>{_t(absent.farm)} | {_t(absent.name)}</p><p class=warn>{NOTHING}</p>"
    yield "".join(f"<p>{_t(reason)}</p>" for reason in absent.reasons)
    yield f"<p class=fine>{_t('  *  '.join(absent.ration.cautions))}</p></section>"


def _mark(line: RequirementLine | None) -> str:
    if line is None:
        return ""
    if line.meets is False:
        over = line.maximum is not None and line.gives is not None and line.gives > line.maximum
        return "OVER" if over else "SHORT"
    return "by the premix" if line.met_by == "premix" else ""


def _analysis(sheet: MixSheet, pack: Pack, library: Library) -> Iterator[str]:
    rows = analysis_rows([sheet], library)
    yield f"{_section(42 + 4.6 * len(rows))}<h1><b>{_t(sheet.id)}</b>Calculated analysis, as fed</h1>"
    yield f"<p>{_t(sheet.stage_label)} | {_t(sheet.name)}</p>"
    yield f"<p class=warn>{_t(pack.review)}</p><table class=dense>"
    yield _row([("", "Nutrient"), ("", "Unit"), ("n", "Minimum"), ("n", "Supplies"), ("n", "Maximum"), ("", "")], "th")
    for row in rows:
        line = row.requirement(sheet.ration)
        low, high = (line.minimum, line.maximum) if line else (None, None)
        yield _row(
            [
                ("", row.words),
                ("", row.unit),
                ("n", _figure(low)),
                ("n", _figure(row.gives(sheet.ration))),
                ("n", _figure(high)),
                ("", _mark(line)),
            ]
        )
    yield "</table></section>"


def _figure(value: float | None) -> str:
    return "" if value is None else f"{value:,.4g}" if abs(value) < 1e4 else f"{value:,.0f}"


def _purchases(pack: Pack) -> Iterator[str]:
    counts = pack.batches
    yield f"{_section(30 + 9 * len(pack.purchases))}<h1>What to have ready and what to buy</h1>"
    yield f"<p>{_t(EACH_ONCE)}</p><table class=dense>"
    yield _row(
        [
            ("", "Feed"),
            ("", "Offer"),
            ("", "Supplier"),
            ("n", f"Needed, {pack.unit}"),
            ("n", "Packages"),
            ("n", f"There is, {pack.unit}"),
            ("", ""),
        ],
        "th",
    )
    for line in pack.purchases:
        needed = line.needed(counts)
        packages = f"{-(-needed // line.package)} x {shown(line.package, pack.scale.hand_step)}" if line.package else ""
        stock = shown(line.stock, pack.scale.step) if line.stock is not None else ""
        short = line.stock is not None and needed > line.stock
        yield _row(
            [
                ("", line.label),
                ("", line.offer),
                ("", line.supplier),
                ("n", shown(needed, pack.scale.hand_step)),
                ("n", packages),
                ("n", stock),
                ("", "not enough" if short else ""),
            ]
        )
    yield "</table></section>"


def _cautions(pack: Pack) -> Iterator[str]:
    height = 20 + sum(1.5 + 4.8 * (1 + len(words) // 95) for words in pack.cautions) + 45
    yield f"{_section(height)}<h1>Cautions</h1>" + "".join(f"<p>{_t(words)}</p>" for words in pack.cautions)
    yield "<h2>Mixer test</h2>" + "".join(f"<p>{_t(words)}</p>" for words in LIMIT_WORDS) + "</section>"
