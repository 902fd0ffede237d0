"""A mix-sheet workbook that the crew filled in, read back: every fault of it at once, each with its cell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from openpyxl.utils import column_index_from_string, get_column_letter

from rationlp.actual.printed import (
    NOT_A_WORKBOOK,
    Filled,
    Printed,
    PrintedRow,
    Sheets,
    day_written,
    filled_sheets,
    is_hour,
    printed_sheets,
)
from rationlp.actual.readings import as_weights, readings_in
from rationlp.actual.slips import (
    Crossed,
    Doubt,
    Entry,
    a_row_off,
    crossed_rows,
    doubtful,
    on_the_wrong_sheet,
    with_their_vessel,
)
from rationlp.actual.uniformity import Uniformity, uniformity
from rationlp.book.records import Book
from rationlp.errors import InputError, Problem
from rationlp.finder import listed
from rationlp.ledger.made_mix import MadeMix, Origin, lots_in, newest_samples, weighed_parts
from rationlp.ledger.signatures import SIGN_SHEET
from rationlp.numbers import as_typed
from rationlp.sheets.practice import SAMPLES
from rationlp.sheets.record import MIXER_TEST, PURCHASES, RECORD
from rationlp.units import BOOK_MASS_UNIT, MASS_KG, parse_quantity, unclear_mass

TICKS = frozenset({"x", "ok", "yes", "y", "done", "\u2713", "\u2714", "\u2611"})
"""Words that say: weighed as printed."""


@dataclass(frozen=True, slots=True)
class ReadBack:
    """What a filled-in workbook says: batches made, the ration's id by the sheet's, lots by offer, the mixer test if
    one was typed in, and of each batch by its number the rows that have each other's weight."""

    made: tuple[MadeMix, ...]
    rations: Mapping[str, str]
    lots: Mapping[str, str]
    mixer_test: Uniformity | None
    book_version: str
    warnings: tuple[Problem, ...]
    crossed: Mapping[int, Sequence[Crossed]]


def read_back(path: Path, book: Book) -> ReadBack:
    """Read the workbook of mix sheets at `path`, written for `book`. Raises InputError with every problem."""
    try:
        sheets = filled_sheets(path)
    except FileNotFoundError:
        raise InputError(
            [Problem("error", path.name, "", "no such file", "a mix-sheet workbook", "Check the spelling.")]
        ) from None
    except (*NOT_A_WORKBOOK, OSError) as error:
        raise InputError(
            [
                Problem(
                    "error",
                    path.name,
                    "",
                    f"no workbook ({error})",
                    "a workbook written by `rationlp sheets`",
                    "Save it as .xlsx.",
                )
            ]
        ) from None
    printed, version = printed_sheets(sheets)
    if not printed:
        raise InputError([_no_record(path, sheets)])
    problems = list(_unlisted_lots(sheets, printed, book))
    lots = _lots(sheets) | _lots_on_sheets(sheets, printed)
    made: list[MadeMix] = []
    crossed: dict[int, Sequence[Crossed]] = {}
    for sheet in printed:
        if sheet.tab in sheets:
            others = {other.tab: other.asked for other in printed if other is not sheet and other.unit == sheet.unit}
            reader = _Reader(sheets[sheet.tab], sheet, others, version, book, lots, problems)
            made += reader.batches()
            crossed |= reader.crossed
    test = _mixer_test(sheets, problems)
    if any(problem.severity == "error" for problem in problems):
        raise InputError(problems)
    rations = {sheet.id: sheet.ration for sheet in printed if sheet.ration}
    return ReadBack(tuple(made), rations, lots, test, version, tuple(problems), crossed)


def _no_record(path: Path, sheets: Sheets) -> Problem:
    if any(tab.startswith(f"{SIGN_SHEET} ") for tab in sheets):
        do = f"Read it back with `rationlp ration BOOK --signed {path.name}`."
        return Problem("error", path.name, "", "a review copy", "a workbook written by `rationlp sheets`", do)
    return Problem(
        "error",
        path.name,
        "",
        f"no sheet {RECORD!r} as `rationlp sheets` writes it, or no mix sheet on it",
        "a workbook written by `rationlp sheets`",
        "Fill in that workbook, or write what was weighed on the sheet 'actual' of the farm book.",
    )


class _Reader:
    """Reads the boxes of one mix sheet."""

    def __init__(
        self,
        sheet: Filled,
        printed: Printed,
        others: Mapping[str, Mapping[str, float]],
        version: str,
        book: Book,
        lots: Mapping[str, str],
        problems: list[Problem],
    ):
        self.sheet, self.printed, self.version, self.book, self.problems = sheet, printed, version, book, problems
        self.others, self.lots = others, lots
        self.crossed: dict[int, Sequence[Crossed]] = {}

    def batches(self) -> list[MadeMix]:
        """A batch for every column with anything in it."""
        if not self._rows_stand():
            return []
        made = []
        factor = self._factor()
        for box in range(self.printed.boxes):
            letter = get_column_letter(column_index_from_string(self.printed.first_box) + box)
            if factor and any(self.sheet[f"{letter}{row.row}"] is not None for row in self.printed.rows):
                found = self._batch(box, letter, factor)
                if found is not None:
                    made.append(found)
        return made

    def _rows_stand(self) -> bool:
        """Whether every row still names the ingredient it was printed with."""
        stand = True
        for row in self.printed.rows:
            seen = self.sheet[f"B{row.row}"]
            if seen != row.label:
                stand = False
                self._error(
                    f"B{row.row}",
                    f"{seen!r}" if seen else "nothing",
                    f"{row.label!r}, as the sheet was printed",
                    "Rows were moved: put them back, or write the sheet again and fill in that one.",
                )
        return stand

    def _factor(self) -> float | None:
        """The batch on the sheet over the one it was printed for."""
        batch = self.sheet[self.printed.batch_cell]
        if isinstance(batch, int | float) and not isinstance(batch, bool) and batch > 0:
            return batch / self.printed.batch
        self._error(self.printed.batch_cell, repr(batch), f"the mass of a batch in {self.printed.unit}", "Type it.")
        return None

    def _batch(self, box: int, letter: str, factor: float) -> MadeMix | None:
        unit, unit_kg = self.printed.unit, MASS_KG[self.printed.unit]
        weighed: dict[str, float] = {}
        target: dict[str, float] = {}
        typed = [self._entry(f"{letter}{row.row}", row, row.mass * factor) for row in self.printed.rows]
        entries = [entry for entry in typed if entry is not None]
        moved = a_row_off(typed, [row.mass * factor for row in self.printed.rows], unit)
        if len(entries) < len(typed):
            self._doubt(moved)
            return None
        places = [row.place(factor) for row in self.printed.rows]
        bins = tuple(filter(None, self.printed.bin.split("+")))
        doubts = moved or on_the_wrong_sheet(entries, bins, self.others, unit)
        doubts += with_their_vessel(entries, unit)
        doubts += [_other_readings(last, unit, other) for last, other in readings_in(entries, places, unit)]
        readings = as_weights(entries, places)
        entries = readings.weights
        for last in readings.read:
            words = f"{as_typed(last.mass)} as the last of figures that rise"
            do = "They are taken as the scale's readings; if they are not, type what each weighed."
            self.problems.append(Problem("warning", self.printed.tab, last.cell, words, "weights or readings", do))
        if readings.hardly_told:
            names = listed([entry.label for entry in readings.hardly_told])
            words = f"readings of the mixer scale, which hardly show {names}"
            do = "They count as weighed as printed; if their weights were noted, type these in every box."
            cell = readings.hardly_told[0].cell
            self.problems.append(Problem("warning", self.printed.tab, cell, words, "what the hand scale showed", do))
        for row, entry in zip(self.printed.rows, entries, strict=True):
            target[row.offer] = target.get(row.offer, 0.0) + entry.asked * unit_kg
            weighed[row.offer] = weighed.get(row.offer, 0.0) + entry.mass * unit_kg
        self._doubt(doubts or doubtful(entries, [place.reads for place in places], unit))
        lots = {offer: {self.lots[offer]: mass} for offer, mass in weighed.items() if offer in self.lots}
        number = self.printed.first_batch + box
        self.crossed[number] = tuple(crossed_rows(entries, unit_kg))
        day = self._day(letter)
        return MadeMix(
            id=self.printed.id,
            stage=self.printed.stage,
            stage_label=self.printed.stage,
            bins=bins,
            samples=newest_samples(self.book, bins, day),
            made_on=day,
            origin=Origin.WEIGHED,
            sheet=self.printed.name,
            book_version=self.version,
            parts=weighed_parts(weighed, target, self.book, lots),
            number=number,
            where=f"{self.printed.tab}!{letter}",
        )

    def _entry(self, cell: str, row: PrintedRow, asked: float) -> Entry | None:
        """What was typed for one ingredient; None, with a problem, if that is no mass."""
        value, unit = self.sheet[cell], self.printed.unit
        expected = f"what the scale showed for {row.label}, about {as_typed(asked)} {unit}"
        if value is None or (isinstance(value, str) and not value.strip()):
            self._error(cell, "no weight", expected, "Type it; 0 if it was left out, x if it was weighed as printed.")
            return None
        if isinstance(value, str):
            return self._typed(cell, value.strip(), row, asked, expected)
        if isinstance(value, bool) or not isinstance(value, int | float):
            self._error(cell, repr(value), expected, "Type a number.")
            return None
        if value < 0:
            self._error(cell, as_typed(value), f"{expected}, not below 0", "Correct it.")
            return None
        return Entry(cell, row.label, float(value), asked, False, row.offer, row.in_bucket)

    def _typed(self, cell: str, text: str, row: PrintedRow, asked: float, expected: str) -> Entry | None:
        """Words: a tick, a mass with its unit, or a number typed as text."""
        if text.casefold() in TICKS:
            return Entry(cell, row.label, asked, asked, True, row.offer, row.in_bucket)
        system = "metric" if self.printed.unit == BOOK_MASS_UNIT["metric"] else "us"
        if which := unclear_mass(text, system):
            self._error(cell, repr(text), *which)
            return None
        try:
            mass = parse_quantity(text, MASS_KG, self.printed.unit) / MASS_KG[self.printed.unit]
        except ValueError as error:
            self._error(
                cell, str(error), expected, "Type a number, a number with its unit, or x for weighed as printed."
            )
            return None
        if mass < 0:
            self._error(cell, repr(text), f"{expected}, not below 0", "Correct it.")
            return None
        return Entry(cell, row.label, mass, asked, text[-1].isalpha(), row.offer, row.in_bucket)

    def _day(self, letter: str) -> date | None:
        """The day of a batch: the one under its column, else the one of the sheet; a warning if there is none."""
        initials = max(row.row for row in self.printed.rows)
        below = (f"{letter}{row}" for row in range(initials + 1, initials + 9) if self._is_date_row(row))
        for cell in (*below, self.printed.date_cell):
            written = self.sheet[cell]
            if written is None or is_hour(written):
                continue
            day = day_written(written, self.book.farm)
            if day is None:
                example = self.book.farm.day(date(2025, 11, 3))
                self._error(cell, repr(written), f"a date such as {example}", "Type the day of mixing.")
            return day
        cell = self.printed.date_cell
        self.problems.append(
            Problem(
                "warning",
                self.printed.tab,
                cell,
                "no date",
                "the day of mixing",
                "Type it: without it the batch cannot be traced.",
            )
        )
        return None

    def _is_date_row(self, row: int) -> bool:
        return str(self.sheet[f"A{row}"] or "").startswith("Date and time")

    def _doubt(self, doubts: Sequence[Doubt]) -> None:
        for cell, found, expected, do in doubts:
            self._error(cell, found, expected, do)

    def _error(self, cell: str, found: str, expected: str, do: str) -> None:
        problem = Problem("error", self.printed.tab, cell, found, expected, do)
        if problem not in self.problems:
            self.problems.append(problem)


def _other_readings(last: Entry, unit: str, other: str) -> Doubt:
    return (
        last.cell,
        f"{as_typed(last.mass)} as the last of figures that rise",
        f"readings in {unit}; these look like {other}",
        f"Type each with its unit ({as_typed(last.mass)} {other}).",
    )


def _lots(book: Sheets) -> dict[str, str]:
    """What was written beside the offers as lot or delivery."""
    if PURCHASES not in book:
        return {}
    rows = book[PURCHASES].rows(13, first=5)
    return {str(row[1]): str(row[-1]) for row in rows if row[1] and row[-1] is not None}


def _lots_on_sheets(book: Sheets, printed: list[Printed]) -> dict[str, str]:
    """What was written in the column for lots of the mix sheets, by offer; several of one offer one after another."""
    found: dict[str, dict[str, None]] = {}
    for sheet in printed:
        for row in sheet.rows if sheet.lot_column and sheet.tab in book else ():
            value = book[sheet.tab][f"{sheet.lot_column}{row.row}"]
            if value is not None and str(value).strip():
                found.setdefault(row.offer, {})[str(value).strip()] = None
    return {offer: ", ".join(lots) for offer, lots in found.items()}


def _unlisted_lots(sheets: Sheets, printed: list[Printed], book: Book) -> Iterator[Problem]:
    """A warning for each lot on a mix sheet that is not among those the book has of its offer."""
    for sheet in printed:
        for row in sheet.rows if sheet.lot_column and sheet.tab in sheets else ():
            cell = f"{sheet.lot_column}{row.row}"
            listed = [lot.lot for lot in book.lots if lot.offer == row.offer]
            unlisted = [lot for lot in lots_in(str(sheets[sheet.tab][cell] or "")) if lot not in listed]
            if listed and unlisted:
                yield Problem(
                    "warning",
                    sheet.tab,
                    cell,
                    f"lot {', '.join(unlisted)} of {row.offer}, which the book does not have",
                    f"one of {', '.join(listed)}",
                    "Write it as on the sheet 'lots', a comma between two, or enter the delivery there.",
                )


def _mixer_test(book: Sheets, problems: list[Problem]) -> Uniformity | None:
    """The samples typed on the page for the mixer test."""
    if MIXER_TEST not in book:
        return None
    sheet = book[MIXER_TEST]
    values: list[float] = []
    for row in range(8, 8 + SAMPLES):
        value = sheet[f"B{row}"]
        if value is None:
            continue
        if isinstance(value, bool) or not isinstance(value, int | float):
            problems.append(
                Problem(
                    "error", MIXER_TEST, f"B{row}", repr(value), "what the sample holds of the tracer", "Type a number."
                )
            )
        else:
            values.append(float(value))
    if not values:
        return None
    try:
        return uniformity(str(sheet["B3"] or "tracer"), values)
    except InputError as error:
        problems += [Problem(p.severity, MIXER_TEST, "B8", p.found, p.expected, p.do) for p in error.problems]
        return None
