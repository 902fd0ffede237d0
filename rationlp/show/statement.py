"""The statement for the buyer of pork or eggs, in words."""

from __future__ import annotations

from datetime import date

from tabulate import tabulate

from rationlp.cautions import REVIEW
from rationlp.numbers import figure, plain
from rationlp.trace.statement import Statement
from rationlp.units import BOOK_MASS_UNIT, BOOK_PRICE_MASS_KG, MASS_KG

SHORT = {"metric": "t", "us": "short ton"}


def statement_text(statement: Statement, date_format: str = "%Y-%m-%d") -> str:
    """The statement as text, days as the book writes them."""
    sides = ("left", "right", "right", "left", "left", "left")
    heads, rows = statement_heads(statement), statement_rows(statement)
    body = tabulate(rows, headers=heads, tablefmt="simple", disable_numparse=True, colalign=sides)
    notes = "\n".join(f"- {note}" for note in statement.notes)
    first = statement_line(statement, date_format)
    return f"{statement_title(statement)}\n\n{first}\n\n{body}\n\n{notes}\n\n{REVIEW}\n"


def statement_title(statement: Statement) -> str:
    """Of which animals, of which farm."""
    return f"What {statement.group} ate: {statement.farm} {statement.season}".strip()


def statement_line(statement: Statement, date_format: str) -> str:
    """How many animals, how long, how much feed, how much of it home-grown."""

    def day(found: date | None) -> str:
        return found.strftime(date_format) if found else "a day that is not known"

    count = len(statement.batches)
    return (
        f"{statement.head} head, from {day(statement.start)} to {day(statement.end)}: "
        f"{_bulk(statement, statement.kg)} of feed in {count} "
        f"{'batch' if count == 1 else 'batches'} ({', '.join(_short(statement.batches))}), "
        f"{figure(100 * statement.home_grown_share, 3)} % of it home-grown."
    )


def _short(names: tuple[str, ...]) -> list[str]:
    return [*names[:4], f"and {len(names) - 4} more"] if len(names) > 5 else list(names)


def statement_heads(statement: Statement) -> tuple[str, ...]:
    """The heads of its table."""
    return ("Feed", BOOK_MASS_UNIT[statement.units], "% of the feed", "Grown or bought", "Organic", "Lots")


def statement_rows(statement: Statement) -> list[tuple[str, ...]]:
    """The lines of its table, the heaviest feed first."""
    return [
        (
            f"{line.label} ({line.words})" if line.words else line.label,
            plain(line.kg / MASS_KG[BOOK_MASS_UNIT[statement.units]], 4),
            figure(100 * line.share, 3),
            "home-grown" if line.home_grown else "bought",
            line.organic,
            ", ".join(line.lots) or "-",
        )
        for line in statement.lines
    ]


def _bulk(statement: Statement, kg: float) -> str:
    return f"{figure(kg / BOOK_PRICE_MASS_KG[statement.units], 4)} {SHORT[statement.units]}"
