"""The statement for the buyer of pork or eggs, as a page and as text."""

from __future__ import annotations

from html import escape
from pathlib import Path

from tabulate import tabulate

from rationlp.cautions import REVIEW
from rationlp.files import clean, write_whole_text
from rationlp.numbers import figure
from rationlp.trace.statement import Statement
from rationlp.units import BOOK_PRICE_MASS_KG

SHORT = {"metric": "t", "us": "short ton"}
STYLE = """
@page { margin: 15mm }
body { font: 11pt Arial, "Liberation Sans", sans-serif; color: #000; max-width: 180mm; margin: 0 auto; padding: 6mm }
h1 { font-size: 1.5em; margin: 0 0 0.3em } p { margin: 0.4em 0 }
table { border-collapse: collapse; width: 100% }
td, th { border: 0.6pt solid #000; padding: 0.2em 0.4em; text-align: left }
th { background: #ededed } td.n { text-align: right; white-space: nowrap }
.sign { margin-top: 3em; border-top: 0.6pt solid #000; width: 60% }
"""


def write_statement(statement: Statement, path: Path) -> None:
    """Write it as .html or as text, by the ending. Raises InputError."""
    page = path.suffix.casefold() == ".html"
    write_whole_text(path, _page(statement) if page else statement_text(statement))


def statement_text(statement: Statement) -> str:
    """The statement as text."""
    heads, rows = _heads(statement), _rows(statement)
    sides = ("left", "right", "right", "left", "left", "left")
    body = tabulate(rows, headers=heads, tablefmt="simple", disable_numparse=True, colalign=sides)
    notes = "\n".join(f"- {note}" for note in statement.notes)
    return f"{_title(statement)}\n\n{_first(statement)}\n\n{body}\n\n{notes}\n\n{REVIEW}\n"


def _page(statement: Statement) -> str:
    def text(words: str) -> str:
        return escape(clean(words))

    heads = "".join(f"<th>{text(head)}</th>" for head in _heads(statement))
    rows = "".join(
        "<tr>"
        + "".join(f"<td{' class=n' if index in (1, 2) else ''}>{text(cell)}</td>" for index, cell in enumerate(row))
        + "</tr>"
        for row in _rows(statement)
    )
    notes = "".join(f"<li>{text(note)}</li>" for note in statement.notes)
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f"<title>{text(_title(statement))}</title><style>{STYLE}</style></head><body>"
        f"<h1>{text(_title(statement))}</h1><p>{text(_first(statement))}</p>"
        f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table><ul>{notes}</ul>"
        f"<p><b>{text(REVIEW)}</b></p><p class=sign>Day, name, signature of the farm</p></body></html>\n"
    )


def _title(statement: Statement) -> str:
    return f"What {statement.group} ate: {statement.farm} {statement.season}".strip()


def _first(statement: Statement) -> str:
    start = f"{statement.start:%Y-%m-%d}" if statement.start else "a day that is not known"
    end = f"{statement.end:%Y-%m-%d}" if statement.end else "a day that is not known"
    count = len(statement.batches)
    return (
        f"{statement.head} head, from {start} to {end}: {_bulk(statement, statement.kg)} of feed in {count} "
        f"{'batch' if count == 1 else 'batches'} ({', '.join(_short(statement.batches))}), "
        f"{figure(100 * statement.home_grown_share, 3)} % of it home-grown."
    )


def _short(names: tuple[str, ...]) -> list[str]:
    return [*names[:4], f"and {len(names) - 4} more"] if len(names) > 5 else list(names)


def _heads(statement: Statement) -> tuple[str, ...]:
    return ("Feed", SHORT[statement.units], "% of the feed", "Grown or bought", "Organic", "Lots")


def _rows(statement: Statement) -> list[tuple[str, ...]]:
    return [
        (
            f"{line.label} ({line.words})" if line.words else line.label,
            figure(line.kg / BOOK_PRICE_MASS_KG[statement.units], 4),
            figure(100 * line.share, 3),
            "home-grown" if line.home_grown else "bought",
            line.organic,
            ", ".join(line.lots) or "-",
        )
        for line in statement.lines
    ]


def _bulk(statement: Statement, kg: float) -> str:
    return f"{figure(kg / BOOK_PRICE_MASS_KG[statement.units], 4)} {SHORT[statement.units]}"
