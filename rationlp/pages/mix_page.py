"""The page the crew mixes by."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from functools import partial

from openpyxl.formatting.rule import Rule
from openpyxl.styles import Font, PatternFill
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from rationlp.errors import given
from rationlp.pages import live
from rationlp.pages.cells import Page, day_form
from rationlp.pages.code import code_png
from rationlp.pages.live import BATCH, COUNT, DATE, Live
from rationlp.pages.style import BIG, WARN, Styles, height_of, mass_form, set_up_page
from rationlp.reasons import Severity
from rationlp.sheets.model import Line, MixSheet
from rationlp.sheets.order import SECTIONS
from rationlp.sheets.practice import LOOK, mixing_words
from rationlp.sheets.weights.scale import shown
from rationlp.sheets.weights.whole_program import Tool

WIDTHS = {"A": 5, "B": 28, "C": 13, "D": 13, "E": 8, "F": 12, "G": 9, "H": 12}
BOXES_WIDTH, WIDEST_BOX = 56, 20
LOT = "H"  # the column in which lots are written
FIRST_BOX = 9  # column I
HEAD_ROW = 12
QR_PT = 46  # height of a code a phone reads
BUCKET_HEADING = "In the bucket first, on the hand scale"
ONE = Fraction(1)


@dataclass(frozen=True, slots=True)
class Weighing:
    """Where a line stands: what the hidden sheet remembers, so that a filled-in page can be read back."""

    row: int
    line: Line


@dataclass(slots=True)
class Layout:
    """What was laid out where."""

    weighings: list[Weighing] = field(default_factory=list)
    checks: list[Live] = field(default_factory=list)
    first_row: int = HEAD_ROW + 1
    last_row: int = HEAD_ROW
    bucket: tuple[int, int] | None = None
    first_mixer: int = 0


class MixPage:
    """Writes one MixSheet on one worksheet."""

    def __init__(self, page: Page, sheet: MixSheet, styles: Styles):
        self.page, self.sheet, self.styles = page, sheet, styles
        self.layout = Layout()
        self.last = get_column_letter(FIRST_BOX + sheet.boxes - 1)
        self.widths = WIDTHS | {"C": self._figures(BIG), "D": self._figures(BIG - 3)}
        self.box_width = min(WIDEST_BOX, BOXES_WIDTH / sheet.boxes)
        self.width = sum(self.widths.values()) + self.box_width * sheet.boxes

    def _figures(self, size: float) -> float:
        """Width of a column of weights of `size` points: the longest of this page, and one figure more."""
        longest = max(len(shown(line.holds, self.sheet.scale.step)) for line in self.sheet.mixer)
        split = [
            len(shown(line.mass, self.sheet.scale.hand_step))
            for line in self.sheet.mixer
            if line.mass % self.sheet.scale.step
        ]
        return max(12.0, (max(longest, *split, 0) + 1) * size / 11 + 2)

    def write(self) -> Layout:
        """All of the page; returns where the weights stand."""
        self.page.widths(
            self.widths | {get_column_letter(FIRST_BOX + i): self.box_width for i in range(self.sheet.boxes)}
        )
        row = self._table(HEAD_ROW)
        row = self._after_table(row)
        row = self._labels(row)
        row = self._words(row)
        self._header()
        self._rules()
        area = f"A1:{self.last}{row - 1}"
        set_up_page(self.page.sheet, self.sheet.unit, area, f"{self.sheet.id}  book {self.sheet.book_version}")
        self.page.sheet.freeze_panes = f"C{HEAD_ROW + 1}"
        return self.layout

    # The head of the page ------------------------------------------------------------------------

    def _header(self) -> None:
        page, sheet, s, last = self.page, self.sheet, self.styles, self.last
        page.merged("A1:E1", sheet.stage_label, s["title"])
        page.merged(f"F1:{last}1", sheet.id, s["title right"])
        page.height(1, height_of(sheet.stage_label, sum(self.widths[letter] for letter in "ABCDE"), 20) + 4)
        page.merged("A2:E2", sheet.farm, s["words"])
        page.merged(f"F2:{last}2", f"ration {sheet.ration_id}  |  book {sheet.book_version}", s["words right"])
        grain = f"{sheet.bin_words}  |  {sheet.sample_words}"
        page.merged(f"A3:{last}3", grain, s["strong"])
        page.height(3, max(20, height_of(grain, sum(self.widths.values()), 12)))
        page.merged("A4:B4", f"Batch, {sheet.unit}", s["field"])
        page.number("C4", float(sheet.batch), s["input"])
        page.merged("D4:F4", "Batches of this size", s["field"])
        page.number("G4", sheet.count, s["input"], "0")
        holds = f"mixer holds {shown(sheet.capacity, sheet.scale.step, sheet.unit)}" if sheet.capacity else ""
        page.merged(f"H4:{last}4", holds, s["words in"])
        page.merged("A5:B5", "Date", s["field"])
        page.number("C5", sheet.made_on, s["input small"], day_form(sheet.date_format))
        page.merged("D5:F5", "All batches together", s["field"])
        total = float(sheet.batch * sheet.count)
        page.formula("G5", "ROUND(C4*G4,6)", total, s["plain"])
        page.merged(f"H5:{last}5", self._batch_words(), s["words in"])
        for row in (4, 5):
            page.height(row, 28)
        found = live.status(sheet, self.layout.checks, self.layout.first_row, self.layout.last_row, ONE)
        page.merge(f"A6:{last}6", s["strong"])
        page.formula("A6", found.formula, found.value, s["strong"])
        page.height(6, 33)
        self._verdict()

    def _batch_words(self) -> str:
        first = self.sheet.first_batch
        last = first + self.sheet.count - 1
        return (
            f"{self.sheet.unit}   batches {first} to {last}" if last > first else f"{self.sheet.unit}   batch {first}"
        )

    def _verdict(self) -> None:
        """Rows 7 to 11: whether it may be fed, what rounding costs, who eats it, for whom alone, carry-over."""
        sheet = self.sheet
        ask = sheet.verdict.severity is not Severity.FEED
        self._for_this_batch(7, sheet.verdict_words, "warn" if ask else "words", 12 if ask else 11)
        self._for_this_batch(8, sheet.rounding_words, "words", 11)
        self._wide(9, f"FOR {'; '.join(sheet.eaters)}", "strong", 12)
        large, _, why = sheet.only_for.partition(": ")
        self._wide(10, large, "only for", 26)
        self._wide(11, " ".join(filter(None, (why.capitalize(), *sheet.carry_over))), "warn", 12)

    def _wide(self, row: int, words: str, style: str, size: float) -> None:
        """Words across the page, in a row high enough for them; a narrow row where there are none."""
        if not words:
            self.page.height(row, 3)
            return
        self.page.merged(f"A{row}:{self.last}{row}", words, self.styles[style])
        self.page.height(row, height_of(words, self.width, size))

    def _for_this_batch(self, row: int, words: str, style: str, size: float) -> None:
        """Words across the page that say so where they are not of the batch that is set."""
        found = live.for_this_batch(self.sheet, words)
        self.page.merge(f"A{row}:{self.last}{row}", self.styles[style])
        self.page.formula(f"A{row}", found.formula, found.value, self.styles[style])
        self.page.height(row, height_of(words, self.width - 20, size))

    # The table -----------------------------------------------------------------------------------

    def _table(self, row: int) -> int:
        page, unit, s = self.page, self.sheet.unit, self.styles
        heads = ("", "Ingredient", f"Weigh, {unit}", f"Then reads, {unit}", "% of batch", "Weigh on", "Check", "Lot")
        for letter, head in zip("ABCDEFGH", heads, strict=True):
            page.text(f"{letter}{row}", head, s["head left" if letter == "B" else "head"])
        for i in range(self.sheet.boxes):
            words = f"Batch {self.sheet.first_batch + i}\nwrite weight or reading"
            page.text(f"{get_column_letter(FIRST_BOX + i)}{row}", words, s["head"])
        page.height(row, 46)
        row = self._bucket(row + 1)
        return self._mixer(row)

    def _bucket(self, row: int) -> int:
        if not self.sheet.bucket:
            return row
        self._section(row, BUCKET_HEADING, "the bucket holds")
        first = row + 1
        self.layout.bucket = (first, row + len(self.sheet.bucket))
        carriers = [first + i for i, line in enumerate(self.sheet.bucket) if line.part]
        for number, line in enumerate(self.sheet.bucket, 1):
            row += 1
            weight = live.weight(self.sheet, line, ONE)
            holds = live.bucket_holds(line, first, row, ONE)
            self._line(row, f"{number}", line, weight, holds, small=True)
        row += 1
        words = live.carrier(self.sheet, carriers)
        self.page.merge(f"A{row}:{self.last}{row}", self.styles["note"])
        self.page.formula(f"A{row}", words.formula, words.value, self.styles["note"])
        self.page.height(row, height_of(str(words.value), self.width, 10))
        return row + 1

    def _mixer(self, row: int) -> int:
        self.layout.first_mixer = row
        section = ""
        for number, line in enumerate(self.sheet.mixer, 1):
            if line.section != section:
                section = line.section
                if section == "liquid":
                    row = self._mix_dry(row)
                self._section(row, SECTIONS[section], "the mixer scale reads")
                row += 1
            weight = live.weight(self.sheet, line, ONE)
            if not line.offer:
                first, last = given(self.layout.bucket, "the place of the bucket")
                weight = live.bucket_weight(self.sheet, line, first, last, ONE)
            reads = live.mixer_reads(self.sheet, line, self.layout.first_mixer, row, ONE)
            self._line(row, _letter(number), line, weight, reads, small=False)
            row += 1
        self.layout.last_row = row - 1
        return self._total(row)

    def _section(self, row: int, words: str, reads: str) -> None:
        self.page.merged(f"A{row}:C{row}", words, self.styles["section"])
        self.page.merged(
            f"D{row}:{self.last}{row}",
            reads if row in (HEAD_ROW + 1, self.layout.first_mixer) else "",
            self.styles["section plain"],
        )
        self.page.height(row, 20)

    def _mix_dry(self, row: int) -> int:
        self.page.merged(
            f"A{row}:{self.last}{row}", f"Mix dry before the liquids: {mixing_words()}", self.styles["strong"]
        )
        self.page.height(row, 19)
        return row + 1

    def _line(self, row: int, number: str, line: Line, weight: Live, reads: Live, small: bool) -> None:
        page, s, end = self.page, self.styles, " small" if small else ""
        fine = self.sheet.scale.hand_step if small or line.tool is Tool.HAND else line.step or self.sheet.scale.step
        if not line.step:
            fine = min(fine, self.sheet.scale.hand_step)
        page.text(f"A{row}", number, s["count"])
        page.text(f"B{row}", line.name, s[f"name{end}"])
        # Where the mixer is filled up to a reading, the reading is the large figure.
        large, other = ("weight", "reads") if line.step or not line.offer else ("reads", "weight")
        page.formula(f"C{row}", weight.formula, weight.value, s[f"{large}{end}"], mass_form(fine))
        page.formula(
            f"D{row}",
            reads.formula,
            reads.value,
            s[f"{other}{end}"],
            mass_form(self.sheet.scale.hand_step if small else self.sheet.scale.step),
        )
        share = live.percent(row, self.sheet, line)
        page.formula(f"E{row}", share.formula, share.value, s["plain"], "0.000%" if small else "0.00%")
        how = live.how(line, row, ONE)
        if isinstance(how, Live):
            page.formula(f"F{row}", how.formula, how.value, s["how"])
        else:
            page.text(f"F{row}", how, s["how"])
        self._check(row, line)
        page.blank(f"{LOT}{row}", s["lot" if line.offer else "check"])
        for i in range(self.sheet.boxes):
            page.blank(f"{get_column_letter(FIRST_BOX + i)}{row}", s["box"])
        tall = max(height_of(line.name, WIDTHS["B"] - 2, 13 if small else 15), 25 if small else 36)
        how_words = how.value if isinstance(how, Live) else how
        page.height(row, max(tall, height_of(str(how_words), WIDTHS["F"] - 2, 12)))
        self.layout.weighings.append(Weighing(row, line))

    def _check(self, row: int, line: Line) -> None:
        found = live.check(self.sheet, line, row, ONE)
        if found is None:
            words = "fill up to the reading" if line.offer else ""
            self.page.text(f"G{row}", "", self.styles["check"])
            if words:
                self.page.text(f"F{row}", words, self.styles["how"])
            return
        self.layout.checks.append(found)
        self.page.formula(f"G{row}", found.formula, found.value, self.styles["check"])

    def _total(self, row: int) -> int:
        page, s, layout = self.page, self.styles, self.layout
        check = live.total_check(self.sheet, layout.first_mixer, layout.last_row)
        page.merged(f"A{row}:B{row}", "Total", s["section"])
        total = f"ROUND(SUM(C{layout.first_mixer}:C{layout.last_row}),6)"
        page.formula(f"C{row}", total, float(self.sheet.batch), s["weight"], mass_form(self.sheet.scale.step))
        page.merge(f"D{row}:{self.last}{row}", s["section"])
        page.formula(f"D{row}", check.formula, check.value, s["section"])
        page.height(row, 28)
        return row + 1

    # Under the table -----------------------------------------------------------------------------

    def _after_table(self, row: int) -> int:
        """Mixing time, then a row of boxes each for minutes, time, initials and the sample that is kept."""
        page, s = self.page, self.styles
        page.merged(f"A{row}:{self.last}{row}", f"MIX after the last ingredient: {mixing_words()}", s["strong"])
        page.height(row, height_of(mixing_words(), self.width - 30, 12))
        for words in ("Minutes mixed", "Sample kept (yes or no)", "Date and time, if not the date above", "Initials"):
            row += 1
            page.merged(f"A{row}:{LOT}{row}", words, s["field"])
            for i in range(self.sheet.boxes):
                page.blank(f"{get_column_letter(FIRST_BOX + i)}{row}", s["box"])
            page.height(row, 23)
        return row + 1

    def _labels(self, row: int) -> int:
        page, s = self.page, self.styles
        page.merged(f"A{row}:{self.last}{row}", "Labels: one for each batch, on its bin, bag or feeder", s["section"])
        beside_it = sum(self.widths[letter] for letter in "ABCDEFG")
        for number in range(1, min(self.sheet.count, self.sheet.boxes) + 1):
            row += 1
            found = live.label(self.sheet, number)
            page.merge(f"A{row}:G{row}", s["words wrap"])
            page.formula(f"A{row}", found.formula, found.value, s["words wrap"])
            page.merged(f"H{row}:{self.last}{row}", self.sheet.batch_id(number), s["title"])
            page.picture(f"{self.last}{row}", code_png(self.sheet.batch_id(number)), QR_PT - 4)
            page.height(row, max(height_of(str(found.value), beside_it - 8, 11), QR_PT))
        return row + 1

    def _words(self, row: int) -> int:
        notes = " ".join((*self.sheet.notes, *self.sheet.hints))
        if notes:
            self._for_this_batch(row, notes, "note", 10)
            row += 1
        cautions = "  *  ".join(self.sheet.cautions)
        for text, style, size in ((LOOK, "strong", 12), (self.sheet.grinding, "words", 11), (cautions, "fine", 14)):
            if text:
                self._wide(row, text, style, size)
                row += 1
        return row

    def _rules(self) -> None:
        """Warnings stand out, and the cells to fill in take only what makes sense."""
        sheet, layout = self.page.sheet, self.layout
        red = DifferentialStyle(font=Font(bold=True, color="FFFFFFFF"), fill=PatternFill("solid", bgColor=WARN))
        checks = f"G{layout.first_row}:G{layout.last_row}"
        sheet.conditional_formatting.add(checks, _rule(f"LEN(G{layout.first_row})>0", red))
        wrong = f"SUMPRODUCT((LEN($G${layout.first_row}:$G${layout.last_row})>0)*1)>0"
        capacity = f",$C$4>{live.literal(self.sheet.capacity)}" if self.sheet.capacity else ""
        sheet.conditional_formatting.add("A6", _rule(f"OR({wrong}{capacity})", red))
        for cell, rule in _entries().items():
            rule.add(cell)
            sheet.add_data_validation(rule)


def _rule(formula: str, look: DifferentialStyle) -> Rule:
    """A look that cells take while `formula` is true."""
    return Rule(type="expression", dxf=look, formula=[formula])


def _entries() -> dict[str, DataValidation]:
    """What may be entered, by cell: the mass of a batch, how many batches, the date."""
    entry = partial(DataValidation, showErrorMessage=True)
    number = partial(entry, formula1="0", errorTitle="Not possible")
    return {
        BATCH: number(type="decimal", operator="greaterThan", error="The mass of one batch, above 0."),
        COUNT: number(type="whole", operator="greaterThanOrEqual", error="How many batches: 0, 1, 2 ..."),
        DATE: entry(
            type="date",
            operator="greaterThan",
            formula1="32874",
            allow_blank=True,
            error="A date, such as 2025-11-03.",
            errorTitle="Not a date",
        ),
    }


def _letter(number: int) -> str:
    """A for the first thing into the mixer, so that nobody mistakes it for the numbered scoops of the bucket."""
    return get_column_letter(number)
