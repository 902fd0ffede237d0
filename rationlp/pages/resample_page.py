"""What a new sample changes, as a sheet of a workbook."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rationlp.book.records import Book, Sample, Settings
from rationlp.book_units import BookUnits, units_of
from rationlp.cautions import REVIEW
from rationlp.errors import Problem, RequestError
from rationlp.files import saved, write_whole_bytes
from rationlp.incoming import workbook_of
from rationlp.pages.cells import Page, Values, title_of
from rationlp.resample.change import MixAt, MixChange, Resample
from rationlp.resample.moved import Moved
from rationlp.units import BOOK_MASS_UNIT, Z90

if TYPE_CHECKING:
    from openpyxl.styles import Font
    from openpyxl.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

ENDING = ".xlsx"
WIDTHS = {"A": 30, "B": 14, "C": 11, "D": 11, "E": 11, "F": 11, "G": 14, "H": 12, "I": 11, "J": 40}
SIZE = 11
"""Points of its words; across a sheet of paper on its side they are printed at nine."""
PCT, MONEY, PLAIN = "0.00", "#,##0.00", "0.####"


def check_place(path: Path) -> None:
    """Raise RequestError unless `path` is the name of a workbook, and one that can be opened if it is there."""
    if path.suffix.casefold() != ENDING:
        words = "a workbook to add a sheet to, or a new one"
        raise RequestError([Problem("error", "-o", "", f"{path.name!r}", words, "Choose a name that ends in .xlsx.")])
    if path.exists():
        _open(path)


def _open(path: Path) -> Workbook:
    from zipfile import BadZipFile

    from openpyxl import load_workbook

    try:
        return load_workbook(workbook_of(path))
    except (OSError, BadZipFile, LookupError, ValueError, TypeError, AttributeError, EOFError) as error:
        raise RequestError(
            [
                Problem(
                    "error",
                    "-o",
                    "",
                    f"{path.name}, which is no workbook ({error})",
                    "a workbook to add a sheet to, or a new one",
                    "Choose another name.",
                )
            ]
        ) from None


def write_page(found: Resample, book: Book, path: Path) -> None:
    """Add the sheet to the workbook at `path`, or make one; a sheet of the same two samples is written anew.

    The file appears whole or not at all. Raises RequestError.
    """
    from openpyxl import Workbook
    from openpyxl.worksheet.properties import PageSetupProperties

    from rationlp.pages.style import PAPER

    workbook = _open(path) if path.exists() else Workbook()
    if not path.exists():
        del workbook[workbook.sheetnames[0]]
    name = f"resample {found.move.before.sample} {found.move.after.sample}"
    wanted = title_of(name, ())
    if wanted in workbook.sheetnames:
        workbook.remove(workbook[wanted])
    sheet: Worksheet = workbook.create_sheet(title_of(name, workbook.sheetnames))
    _Writer(Page(sheet, Values())).write(found, book)
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", PAPER[BOOK_MASS_UNIT[book.farm.units]]
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    write_whole_bytes(path, lambda: saved(workbook.save))


class _Writer:
    """Fills a page from the top down."""

    def __init__(self, page: Page):
        from openpyxl.styles import Alignment, Font

        from rationlp.pages.style import FONT

        self.page, self.row = page, 1
        self.bold: Font = Font(name=FONT, size=SIZE, bold=True)
        self.plain: Font = Font(name=FONT, size=SIZE)
        self.top: Alignment = Alignment(vertical="top")
        self.wrapped: Alignment = Alignment(horizontal="left", vertical="top", indent=1, wrap_text=True)
        page.widths(WIDTHS)

    def write(self, found: Resample, book: Book) -> None:
        """Everything, in the order a person reads it."""
        move = found.move
        before, after = _named(move.before, book.farm), _named(move.after, book.farm)
        self.words(f"Bin {move.bin}: sample {before}, then {after}", strong=True)
        self.words(f"{book.farm.name} {book.farm.season}".strip())
        self.words(REVIEW, strong=True)
        self.words(move.sentence)
        again = [f"{change.stage} {change.bin}" for change in found.changes if change.reprint]
        self.words(f"Mix sheets to print again: {', '.join(again) or 'none'}", strong=True)
        self.row += 1
        self.rations(found.changes, book)
        for stage in found.not_judged:
            self.words(f"{stage.stage}: {stage.why}", strong=True)
        self.moved("Crops, % by mass", [line for line in move.lines if line.kind == "crop"], 100.0)
        self.moved("Nutrients as fed", [line for line in move.lines if line.kind == "nutrient"], 1.0)
        for change in found.changes:
            self.change(change)

    def words(self, text: str, strong: bool = False) -> None:
        if text:
            first, *_, last = WIDTHS
            cell = self.page.merged(f"{first}{self.row}:{last}{self.row}", text)
            cell.alignment = self.wrapped
            cell.font = self.bold if strong else self.plain
            self._high_enough([(text, sum(WIDTHS.values()))])
            self.row += 1

    def _high_enough(self, texts: Sequence[tuple[str, float]]) -> None:
        """Make the row as high as its texts are in columns of these widths."""
        from rationlp.pages.style import height_of

        self.page.height(self.row, max(height_of(text, width, SIZE) for text, width in texts))

    def line(self, cells: Sequence[object], forms: Sequence[str], strong: bool = False) -> None:
        """One row: text and numbers, each number in its form."""
        for letter, value, form in zip(WIDTHS, cells, forms, strict=False):
            if value is None or value == "":
                continue
            place = f"{letter}{self.row}"
            if isinstance(value, int | float) and not isinstance(value, bool):
                cell = self.page.number(place, value, form=form)
                cell.alignment = self.top
            else:
                cell = self.page.text(place, value)
                cell.alignment = self.wrapped
            cell.font = self.bold if strong else self.plain
        texts = [
            (str(cell), width) for cell, width in zip(cells, WIDTHS.values(), strict=False) if isinstance(cell, str)
        ]
        self._high_enough(texts)
        self.row += 1

    def rations(self, changes: tuple[MixChange, ...], book: Book) -> None:
        """Every mix in use at a glance."""
        units = units_of(book.farm)
        heads = [
            "Mix in use",
            "Bin",
            "Old mix",
            "Chance then %",
            "Chance now %",
            f"Old {units.per_mass}",
            f"New {units.per_mass}",
            f"Smallest {units.per_mass}",
            "% exchanged",
            "What it misses",
        ]
        self.line(heads, [""] * len(heads), strong=True)
        for c in changes:
            costs = [_price(at, units) for at in (c.old_now, c.new, c.smallest)]
            self.line(
                [
                    f"{c.stage_label} ({c.stage})",
                    c.bin,
                    "holds" if c.old_now.holds else "misses",
                    c.old_then.chance_pct,
                    c.old_now.chance_pct,
                    *costs,
                    None if c.exchanged is None else 100 * c.exchanged,
                    ", ".join(c.old_now.missed),
                ],
                ["", "", "", "0", "0", MONEY, MONEY, MONEY, PCT, ""],
            )
        self.row += 1

    def moved(self, title: str, lines: list[Moved], times: float) -> None:
        """Crops or nutrients in both samples."""
        self.line([title, "Unit", "Before", "After", "Change", "± of chance (9 in 10)", ""], [""] * 7, strong=True)
        for m in lines:
            self.line(
                [
                    m.label,
                    m.unit,
                    times * m.before,
                    times * m.after,
                    times * m.change,
                    times * Z90 * m.sd,
                    "moved" if m.more_than_chance else "within chance",
                ],
                ["", "", PLAIN, PLAIN, PLAIN, PLAIN, ""],
            )
        self.row += 1

    def change(self, change: MixChange) -> None:
        """One mix: shares before and after."""
        self.words(f"{change.stage_label} ({change.stage}) from {change.bin}: {change.advice}", strong=True)
        self.words(f"Old mix: {change.from_kept or 'calculated from the old sample'}")
        self.line(["Feed", "Offer", "Old %", "New %", "Smallest change %"], [""] * 5, strong=True)
        for share in change.shares:
            values = [None if v is None else 100 * v for v in (share.old, share.new, share.smallest)]
            self.line([share.label, share.offer, *values], ["", "", "0.000", "0.000", "0.000"])
        self.line(
            ["Home-grown %", "", *(_grown(at) for at in (change.old_now, change.new, change.smallest))],
            ["", "", PCT, PCT, PCT],
        )
        self.row += 1


def _named(sample: Sample, farm: Settings) -> str:
    return f"{sample.sample} of {farm.day(sample.taken_on)}" if sample.taken_on else sample.sample


def _grown(at: MixAt | None) -> float | None:
    return None if at is None or at.ration.home_grown_share is None else 100 * at.ration.home_grown_share


def _price(at: MixAt | None, units: BookUnits) -> float | None:
    """What the mix costs, for the mass that the book's prices are for."""
    cost = at.ration.cost_per_tonne if at else None
    return None if cost is None else units.price_value(cost)
