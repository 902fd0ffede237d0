"""The statement for the buyer of pork or eggs as a page."""

from __future__ import annotations

from rationlp.book.records import Settings
from rationlp.cautions import REVIEW
from rationlp.report.render import rendered
from rationlp.show.statement import statement_heads, statement_line, statement_rows, statement_title
from rationlp.trace.statement import Statement


def statement_page(statement: Statement, settings: Settings) -> str:
    """The statement as a page to print and sign."""
    return rendered(
        "statement.html",
        settings,
        look="paper.css",
        title=statement_title(statement),
        first=statement_line(statement, settings.date_format),
        heads=statement_heads(statement),
        rows=statement_rows(statement),
        notes=statement.notes,
        review=REVIEW,
    )
