"""What a written book is made of: its rows as text, and the note of a column."""

from __future__ import annotations

from rationlp.book.column import Column

Tables = dict[str, list[list[str]]]
"""The rows of every sheet as text, the header row first."""


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
