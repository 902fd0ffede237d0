"""What a written book is made of: its rows as text, and the note of a column."""

from __future__ import annotations

from rationlp.book.column import Column, Sheet
from rationlp.book.columns import SHEETS
from rationlp.book.words import EXPLAINS

Tables = dict[str, list[list[str]]]
"""The rows of every sheet as text, the header row first."""


FILLED_FIRST = ("farm", "bins", "samples", "sorted", "assays", "supplements", "groups")
"""What nearly every farm fills in, in this order; the other sheets are for those who need them."""


def filling_order() -> tuple[Sheet, ...]:
    """The sheets in the order in which a person fills them in, those for some farms only at the end."""
    return tuple(SHEETS[name] for name in (*FILLED_FIRST, *(name for name in SHEETS if name not in FILLED_FIRST)))


def explanation(column: Column) -> str:
    """What stands under the heading of a new book; the reader passes over a row of these."""
    unit = f" In {column.unit_words()}." if column.unit_words() and column.kind != "percent" else ""
    must = " Must be filled in." if column.required else ""
    return f"{EXPLAINS} {column.note}{unit}{must}"


def column_note(column: Column) -> str:
    """The note of a column with its unit, range and choices."""
    parts = [column.note]
    if column.unit_words() and column.kind != "percent":
        parts.append(f"In {column.unit_words()}, or with its own unit.")
    if column.kind == "percent":
        parts.append("In percent: 12.5 means 12.5 %.")
    if column.choices:
        parts.append(f"One of: {', '.join(column.choices)}.")
    elif column.range_words() and column.kind not in ("length", "density", "mass"):
        parts.append(f"Must be {column.range_words()}.")
    return " ".join(parts)
