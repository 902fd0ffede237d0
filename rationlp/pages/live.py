"""Formulas of a mix page, each beside what Python says it comes to for a batch of any size.

The tests change the batch on the sheet, let a spreadsheet program calculate, and compare with these.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from rationlp.pages.cells import number_words, quoted
from rationlp.sheets.model import CARRIER_MASS, Line, MixSheet, blank_day
from rationlp.sheets.weights.scale import nearest_to, shown
from rationlp.sheets.weights.whole_program import Tool

BATCH, COUNT, DATE = "C4", "G4", "C5"
ROUND_TO = 6  # decimals of a weight in a formula


@dataclass(frozen=True, slots=True)
class Live:
    """A formula and its value."""

    formula: str
    value: float | str


def literal(mass: Fraction | float) -> str:
    """A number as a formula takes it."""
    return repr(int(mass)) if mass == int(mass) else repr(float(mass))


def weight(sheet: MixSheet, line: Line, factor: Fraction) -> Live:
    """The weight of a line, in proportion to the batch."""
    formula = f"ROUND({literal(line.mass)}*{BATCH}/{literal(sheet.batch)},{ROUND_TO})"
    return Live(formula, round(float(line.mass * factor), ROUND_TO))


def bucket_weight(sheet: MixSheet, line: Line, first: int, last: int, factor: Fraction) -> Live:
    """All of the bucket: the sum of its scoops in rows `first` to `last`."""
    return Live(f"ROUND(SUM(C{first}:C{last}),{ROUND_TO})", round(float(line.mass * factor), ROUND_TO))


def bucket_holds(line: Line, first: int, row: int, factor: Fraction) -> Live:
    """What the bucket holds after a scoop."""
    return Live(f"ROUND(SUM(C${first}:C{row}),{ROUND_TO})", round(float(line.holds * factor), ROUND_TO))


def mixer_reads(sheet: MixSheet, line: Line, first: int, row: int, factor: Fraction) -> Live:
    """What the mixer scale shows, to its step, once the line is in."""
    step = literal(sheet.scale.step)
    formula = f"ROUND(ROUND(ROUND(SUM(C${first}:C{row}),{ROUND_TO})/{step},0)*{step},{ROUND_TO})"
    return Live(formula, round(float(sheet.reads(line, factor)), ROUND_TO))


def percent(row: int, sheet: MixSheet, line: Line) -> Live:
    """The weight as a share of the batch, whatever its size."""
    return Live(f"IF({BATCH}>0,C{row}/{BATCH},0)", float(line.mass / sheet.batch))


def how(line: Line, row: int, factor: Fraction) -> Live | str:
    """What to weigh on; in packages and a rest where the ingredient comes in packages."""
    if line.tool is None:
        return "pour in"
    if line.package is None or line.part or line.mass < line.package:
        return str(line.tool)
    package = literal(line.package)
    mass = round(float(line.mass * factor), ROUND_TO)
    if line.tool is Tool.PACKAGES:
        number = number_words(round(mass / float(line.package), 3))
        return Live(
            f'ROUND(C{row}/{package},3)&" whole packages of {package}"', f"{number} whole packages of {package}"
        )
    whole = int(round(mass / float(line.package), 6))
    rest = number_words(round(mass - float(line.package) * whole, 3))
    formula = (
        f'INT(ROUND(C{row}/{package},6))&" x {package} and "'
        f'&ROUND(C{row}-{package}*INT(ROUND(C{row}/{package},6)),3)&" on the {line.tool}"'
    )
    return Live(formula, f"{whole} x {package} and {rest} on the {line.tool}")


def check(sheet: MixSheet, line: Line, row: int, factor: Fraction) -> Live | None:
    """What is wrong with a weight when the batch is changed: between two steps, or now for the other scale."""
    if not line.step:
        return None
    step = literal(line.step)
    off = f"ABS(C{row}/{step}-ROUND(C{row}/{step},0))>0.000001"
    near = f'"nearest "&ROUND(ROUND(ROUND(C{row}/{step},{ROUND_TO}),0)*{step},{ROUND_TO})'
    mass = line.mass * factor
    value = f"nearest {number_words(float(nearest_to(mass, line.step)))}" if mass % line.step else ""
    other = _other_scale(sheet, line)
    if other is None:
        return Live(f'IF({off},{near},"")', value)
    condition, words, is_other = other
    if not value and is_other(mass):
        value = words
    return Live(f'IF({off},{near},IF(C{row}{condition},{quoted(words)},""))', value)


def _other_scale(sheet: MixSheet, line: Line) -> tuple[str, str, Callable[[Fraction], bool]] | None:
    """When a weight leaves its scale altogether: condition on the cell, words, the same condition in Python."""
    below = sheet.scale.hand_below
    if line.part or line.tool is Tool.PACKAGES or not below:
        return None
    if line.tool is Tool.HAND:
        return f">={literal(below)}", "use the mixer scale", lambda mass: mass >= below
    return f"<{literal(below)}", "use the hand scale", lambda mass: mass < below


def status(sheet: MixSheet, checks: list[Live], first: int, last: int, factor: Fraction) -> Live:
    """The line at the top: whether every weight of this batch can be weighed, and whether the mixer holds it."""
    wrong = sum(bool(check.value) for check in checks)
    count = f"SUMPRODUCT((LEN(G{first}:G{last})>0)*1)"
    fine = "Every weight is a whole division of its scale."
    wrong_words = " weights are between steps of their scale: see Check. For weights that are not: --batch "
    formula = f'IF({count}=0,{quoted(fine)},{count}&{quoted(wrong_words)}&{BATCH}&" {sheet.unit}")'
    batch = sheet.batch * factor
    value = f"{wrong}{wrong_words}{number_words(float(batch))} {sheet.unit}" if wrong else fine
    if sheet.capacity is None:
        return Live(formula, value)
    over = f" MORE THAN THE MIXER HOLDS ({shown(sheet.capacity, sheet.scale.step, sheet.unit)})!"
    formula += f'&IF({BATCH}>{literal(sheet.capacity)},{quoted(over)},"")'
    return Live(formula, value + (over if batch > sheet.capacity else ""))


def total_check(sheet: MixSheet, first: int, last: int) -> Live:
    """Whether the weights add up to the batch."""
    slack = literal(sheet.scale.hand_step / 2)
    formula = f'IF(ABS(SUM(C{first}:C{last})-{BATCH})<={slack},"the whole batch","NOT THE BATCH")'
    return Live(formula, "the whole batch")


def label(sheet: MixSheet, number: int) -> Live:
    """The label of a batch, with the date of the sheet once there is one."""
    day = day_in_words(DATE, sheet.date_format)
    before, after = sheet.label_line(number, "\0").split("\0")
    formula = f"{quoted(before)}&IF(ISNUMBER({DATE}),{day},{quoted(blank_day(sheet.date_format))})&{quoted(after)}"
    return Live(formula, sheet.label_line(number))


def day_in_words(cell: str, date_format: str) -> str:
    """The day in a cell as the book writes days, the same in a spreadsheet program of any language."""
    months = ",".join(quoted(f"{date(2000, month, 1):%B}") for month in range(1, 13))
    parts = {
        "%Y": f"YEAR({cell})",
        "%y": f"RIGHT(YEAR({cell}),2)",
        "%m": f'RIGHT("0"&MONTH({cell}),2)',
        "%d": f'RIGHT("0"&DAY({cell}),2)',
        "%B": f"CHOOSE(MONTH({cell}),{months})",
        "%b": f"LEFT(CHOOSE(MONTH({cell}),{months}),3)",
    }
    found = re.findall(r"%.|[^%]+", date_format)
    return "&".join(parts.get(part, quoted(part)) for part in found)


def for_this_batch(sheet: MixSheet, words: str, factor: Fraction = Fraction(1)) -> Live:
    """Words that are true of the batch the sheet was calculated for; of another they say so."""
    batch = shown(sheet.batch, sheet.scale.step, sheet.unit)
    other = f"Calculated for a batch of {batch}, not for this one: "
    formula = f'IF({BATCH}={literal(sheet.batch)},"",{quoted(other)})&{quoted(words)}'
    return Live(formula, words if factor == 1 else other + words)


def carrier(sheet: MixSheet, rows: Sequence[int]) -> Live:
    """How much of the bucket is carrier, by the weights of its scoops in `rows`."""
    if not rows:
        return Live(quoted(sheet.carrier_words), sheet.carrier_words)
    mass = sum((line.mass for line in sheet.bucket if line.part), Fraction(0))
    before, after = sheet.carrier_words.split(CARRIER_MASS)
    cells = "+".join(f"C{row}" for row in rows)
    words = number_words(round(float(mass), 3))
    return Live(
        f'{quoted(before)}&ROUND({cells},3)&" {sheet.unit}"&{quoted(after)}', f"{before}{words} {sheet.unit}{after}"
    )
