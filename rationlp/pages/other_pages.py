"""The pages beside the mix sheets: all rations at a glance, what to buy, a mixer test, cautions, and why not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil

from openpyxl.utils import get_column_letter

from rationlp.pages import live
from rationlp.pages.cells import Page, day_form, in_formula
from rationlp.pages.style import Styles, height_of, mass_form, set_up_page
from rationlp.reasons import HEADLINES, Severity
from rationlp.sheets.model import EACH_ONCE, NOTHING, MixSheet, NoSheet, Pack, PurchaseLine
from rationlp.sheets.practice import ADVICE_WORDS, LIMIT_WORDS, SAMPLES
from rationlp.units import BOOK_PRICE_MASS_KG

PRICE_MASS = {"kg": (BOOK_PRICE_MASS_KG["metric"], "tonne"), "lb": (BOOK_PRICE_MASS_KG["us"], "short ton")}
NOT_MIXED = f"{HEADLINES[Severity.STOP]}: see its page"
GLANCE = "All rations"
GLANCE_HEAD = 5  # the row of its headings
FIRST_HELPER = 15  # column O
LONGEST_SUM = 150  # terms in one formula; more go into hidden columns


@dataclass(frozen=True, slots=True)
class Tab:
    """A mix sheet, the tab it stands on, and its row on the page of all rations."""

    sheet: MixSheet
    title: str
    glance_row: int

    def cell(self, address: str) -> str:
        """A reference to one of its cells."""
        return in_formula(self.title) + address


def write_glance(page: Page, pack: Pack, tabs: list[Tab], unmade: Mapping[str, NoSheet], styles: Styles) -> None:
    """All rations in one table; batch sizes and numbers are those of the mix sheets."""
    heads = [
        "Mix sheet",
        "Animals",
        "From",
        "Id",
        "Verdict",
        f"Batch, {pack.unit}",
        "Batches",
        f"Together, {pack.unit}",
        f"{pack.currency} a {PRICE_MASS[pack.unit][1]}",
        f"{pack.currency} a batch",
        "Home-grown %",
        f"{pack.unit} per head and day",
        "In To buy: 1, else 0",
    ]
    page.widths(dict(zip("ABCDEFGHIJKLM", (32, 44, 11, 13, 26, 9, 9, 11, 11, 11, 10, 10, 10), strict=True)))
    page.merged("A1:M1", f"Rations of {pack.farm} {pack.season}".strip(), styles["title"])
    page.height(1, 28)
    page.merged("A2:M2", pack.review, styles["warn"])
    page.merged(
        "A3:M3", f"Book version {pack.book_version}. Batch and number are set on each mix sheet.", styles["words"]
    )
    for letter, head in zip("ABCDEFGHIJKLM", heads, strict=True):
        page.text(f"{letter}{GLANCE_HEAD}", head, styles["head"])
    page.height(GLANCE_HEAD, 30)
    for tab in tabs:
        _glance_row(page, tab.glance_row, tab, pack, styles)
    row = GLANCE_HEAD + len(tabs)
    for title, absent in unmade.items():
        row += 1
        for letter, words in zip("ABCD", (title, absent.stage_label, absent.bin, absent.id), strict=True):
            page.text(f"{letter}{row}", words, styles["cell"])
        page.text(f"E{row}", NOT_MIXED, styles["cell warn"])
        for letter in "FGHIJKLM":
            page.blank(f"{letter}{row}", styles["cell"])
        _link(page, f"A{row}", title)
    page.sheet.freeze_panes = f"B{GLANCE_HEAD + 1}"
    set_up_page(page.sheet, pack.unit, f"A1:M{row}", f"book {pack.book_version}", landscape=True)


def _glance_row(page: Page, row: int, tab: Tab, pack: Pack, styles: Styles) -> None:
    sheet, ration = tab.sheet, tab.sheet.ration
    for letter, words in zip("ABCD", (tab.title, sheet.stage_label, sheet.bin, sheet.id), strict=True):
        page.text(f"{letter}{row}", words, styles["cell"])
    page.height(row, height_of(sheet.stage_label, 42, 11))
    _link(page, f"A{row}", tab.title)
    ask = sheet.verdict.severity is not Severity.FEED
    page.text(f"E{row}", HEADLINES[sheet.verdict.severity], styles["cell warn" if ask else "cell"])
    batch, count = float(sheet.batch), sheet.count
    page.formula(f"F{row}", tab.cell(live.BATCH), batch, styles["cell right"], mass_form(sheet.scale.step))
    page.formula(f"G{row}", tab.cell(live.COUNT), count, styles["cell right"], "0")
    page.formula(
        f"H{row}", f"ROUND(F{row}*G{row},6)", round(batch * count, 6), styles["cell right"], mass_form(sheet.scale.step)
    )
    price_kg, _ = PRICE_MASS[pack.unit]
    price = (ration.cost_per_tonne or 0.0) * price_kg / 1000
    page.number(f"I{row}", round(price, 4), styles["cell right"], "#,##0.00")
    per_unit = price * sheet.scale.kg / price_kg
    page.formula(
        f"J{row}", f"ROUND(F{row}*{per_unit!r},4)", round(batch * per_unit, 4), styles["cell right"], "#,##0.00"
    )
    page.number(f"K{row}", round(100 * (ration.home_grown_share or 0.0), 2), styles["cell right"], "0.0")
    page.number(f"L{row}", _in_unit(ration.feed_kg_per_head_per_day, pack), styles["cell right"], "0.000")
    page.number(f"M{row}", int(sheet.counts), styles["input small"], "0")


def _in_unit(kilograms: float | None, pack: Pack) -> float | None:
    return None if kilograms is None else kilograms / pack.scale.kg


def _link(page: Page, cell: str, title: str) -> None:
    page.sheet[cell].hyperlink = f"#{in_formula(title)}A1"


# What to buy ------------------------------------------------------------------------------------


def write_purchases(page: Page, pack: Pack, tabs: list[Tab], styles: Styles) -> None:
    """What all batches together take of every offer; it follows the batch and the number set on each mix sheet."""
    unit, (_, price_word) = pack.unit, PRICE_MASS[pack.unit]
    heads = [
        "Feed",
        "Offer",
        "Supplier",
        "Price of",
        f"{pack.currency} a {price_word}",
        f"Package, {unit}",
        f"Needed, {unit}",
        "Packages",
        f"To have, {unit}",
        pack.currency,
        f"There is, {unit}",
        "Enough?",
        "Lot or delivery",
    ]
    letters = "ABCDEFGHIJKLM"
    page.widths(dict(zip(letters, (34, 20, 25, 13, 12, 10, 13, 10, 13, 12, 12, 13, 16), strict=True)))
    page.merged("A1:M1", "What to have ready and what to buy", styles["title"])
    page.height(1, 28)
    page.merged(
        "A2:M2",
        f"{EACH_ONCE} To mix from another bin, change the 1 and 0 under In To buy on the page {GLANCE}.",
        styles["words"],
    )
    for letter, head in zip(letters, heads, strict=True):
        page.text(f"{letter}4", head, styles["head"])
    page.height(4, 30)
    by_name = {tab.sheet.name: tab for tab in tabs}
    row = 4
    for line in pack.purchases:
        row += 1
        _purchase_row(page, row, line, pack, by_name, styles)
    row += 1
    page.merged(f"A{row}:I{row}", "Bought feed together (own grain not counted)", styles["section"])
    bought = [4 + i for i, line in enumerate(pack.purchases, 1) if not line.is_bin]
    total = "+".join(f"J{number}" for number in bought) or "0"
    value = sum(page.values.number(page.sheet.title, f"J{number}") for number in bought)
    page.formula(f"J{row}", f"ROUND({total},2)", round(value, 2), styles["cell bold"], "#,##0.00")
    page.sheet.freeze_panes = "B5"
    set_up_page(page.sheet, unit, f"A1:M{row}", f"book {pack.book_version}", landscape=True)


def _purchase_row(
    page: Page, row: int, line: PurchaseLine, pack: Pack, by_name: dict[str, Tab], styles: Styles
) -> None:
    right, fine = styles["cell right"], mass_form(pack.scale.hand_step)
    price_kg, _ = PRICE_MASS[pack.unit]
    for letter, words in zip("ABC", (line.label, line.offer, line.supplier), strict=True):
        page.text(f"{letter}{row}", words, styles["cell"])
    page.height(row, max(height_of(line.label, 32, 11), height_of(line.supplier, 23, 11), 18))
    page.number(f"D{row}", line.quoted_on, right, day_form(pack.date_format))
    page.number(f"E{row}", round(line.price_per_tonne * price_kg / 1000, 4), right, "#,##0.00")
    page.number(f"F{row}", float(line.package) if line.package else None, right, fine)
    needed = line.needed(pack.batches)
    page.formula(f"G{row}", f"ROUND({_sum_of_needs(page, row, line, by_name)},6)", round(float(needed), 6), right, fine)
    have = needed
    if line.package:
        number = ceil(needed / line.package)
        have = number * line.package
        page.formula(f"H{row}", f"ROUNDUP(ROUND(G{row}/F{row},9),0)", number, right, "0")
        page.formula(f"I{row}", f"ROUND(H{row}*F{row},6)", float(have), right, fine)
    else:
        page.blank(f"H{row}", right)
        page.formula(f"I{row}", f"G{row}", round(float(have), 6), right, fine)
    per_unit = line.price_per_tonne / 1000 * pack.scale.kg
    page.formula(
        f"J{row}", f"ROUND(I{row}*{per_unit!r},2)", round(float(have) * per_unit + 1e-12, 2), right, "#,##0.00"
    )
    page.number(f"K{row}", float(line.stock) if line.stock is not None else None, right, fine)
    short = line.stock is not None and needed > line.stock
    words = "not enough"
    page.formula(
        f"L{row}", f'IF(AND(ISNUMBER(K{row}),G{row}>K{row}),"{words}","")', words if short else "", styles["cell warn"]
    )
    page.blank(f"M{row}", styles["input small"])


def _sum_of_needs(page: Page, row: int, line: PurchaseLine, by_name: dict[str, Tab]) -> str:
    """What all batches take, by the page of all rations; in several cells where one formula would be too long."""
    terms, values = [], []
    for name, mass in line.needs:
        tab = by_name[name]
        row_of = f"{in_formula(GLANCE)}H{tab.glance_row}*{in_formula(GLANCE)}M{tab.glance_row}"
        terms.append(f"{live.literal(mass)}*{row_of}/{live.literal(tab.sheet.batch)}")
        values.append(float(mass * tab.sheet.count * tab.sheet.counts))
    if len(terms) <= LONGEST_SUM:
        return "+".join(terms)
    cells = []
    for number, start in enumerate(range(0, len(terms), LONGEST_SUM)):
        letter = get_column_letter(FIRST_HELPER + number)
        page.sheet.column_dimensions[letter].hidden = True
        piece = slice(start, start + LONGEST_SUM)
        page.formula(f"{letter}{row}", "+".join(terms[piece]), sum(values[piece]))
        cells.append(f"{letter}{row}")
    return "+".join(cells)


# The others -------------------------------------------------------------------------------------


def write_unmade(page: Page, absent: NoSheet, unit: str, styles: Styles) -> None:
    """A ration that nobody may mix, and why."""
    page.widths(dict.fromkeys("ABCDEF", 17.0))
    rows = [
        ("title", 20, f"{absent.stage_label}  |  {absent.bin}  |  {absent.id}"),
        ("words", 11, absent.farm),
        ("warn", 12, NOTHING),
        *(("strong", 12, reason) for reason in absent.reasons),
        ("note", 10, "  *  ".join(absent.ration.cautions)),
    ]
    for row, (style, size, words) in enumerate(rows, 1):
        page.merged(f"A{row}:F{row}", words, styles[style])
        page.height(row, height_of(words, 102, size) + 4)
    set_up_page(page.sheet, unit, f"A1:F{len(rows)}", f"{absent.id}  book {absent.book_version}")


def write_cautions(page: Page, pack: Pack, styles: Styles) -> None:
    """Every caution that belongs to the rations and bins of this pack."""
    page.widths({"A": 5, "B": 115})
    page.merged("A1:B1", "Cautions", styles["title"])
    page.height(1, 28)
    row = 2
    for row, words in enumerate(pack.cautions, 2):
        page.number(f"A{row}", row - 1, styles["count"])
        page.text(f"B{row}", words, styles["strong" if row == 2 else "words wrap"])
        page.height(row, height_of(words, 115, 12 if row == 2 else 11) + 4)
    set_up_page(page.sheet, pack.unit, f"A1:B{row}", f"book {pack.book_version}")


def write_mixer_test(page: Page, pack: Pack, styles: Styles) -> None:
    """A form for the uniformity of one batch: samples in, coefficient of variation and what to do out."""
    page.widths({"A": 14, "B": 20, "C": 70})
    page.merged("A1:C1", "Mixer test", styles["title"])
    page.height(1, 28)
    page.merged(
        "A2:C2",
        f"{SAMPLES} samples of about 450 g (1 lb) from {SAMPLES} places in one batch, or evenly "
        "while it runs out; one tracer, "
        "such as salt by chloride strip. Type what was found; the figures below "
        "follow.",
        styles["words wrap"],
    )
    page.height(2, 34)
    for row, words in ((3, "Tracer"), (4, "Mixer"), (5, "Minutes mixed"), (6, "Date")):
        page.text(f"A{row}", words, styles["field"])
        page.blank(f"B{row}", styles["input small"])
    page.number("B6", None, styles["input small"], day_form(pack.date_format))
    first, last = 8, 7 + SAMPLES
    for number in range(1, SAMPLES + 1):
        page.text(f"A{first + number - 1}", f"Sample {number}", styles["field"])
        page.blank(f"B{first + number - 1}", styles["input small"])
    values = f"B{first}:B{last}"
    enough = f"AND(COUNT({values})>1,SUM({values})>0)"
    row = last + 2
    for words, formula, form in (
        ("Samples", f"COUNT({values})", "0"),
        ("Mean", f'IF({enough},AVERAGE({values}),"")', "0.####"),
        ("CV, %", f'IF({enough},100*STDEV({values})/AVERAGE({values}),"")', "0.0"),
    ):
        page.text(f"A{row}", words, styles["field"])
        page.formula(f"B{row}", formula, 0 if words == "Samples" else "", styles["weight small"], form)
        row += 1
    cv = f"B{row - 1}"
    verdict = '""'
    for limit, advice in reversed(ADVICE_WORDS):
        verdict = f'"{advice}"' if limit is None else f'IF({cv}<={limit:g},"{advice}",{verdict})'
    page.merge(f"A{row}:C{row}", styles["strong"])
    page.formula(f"A{row}", f'IF(ISNUMBER({cv}),{verdict},"")', "", styles["strong"])
    page.height(row, 34)
    for words in LIMIT_WORDS:
        row += 1
        page.merged(f"A{row}:C{row}", words, styles["note"])
        page.height(row, height_of(words, 104, 10))
    set_up_page(page.sheet, pack.unit, f"A1:C{row}", f"book {pack.book_version}")
