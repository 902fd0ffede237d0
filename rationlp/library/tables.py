"""Every table of the library: which model reads which file."""

from __future__ import annotations

from rationlp.library import records
from rationlp.library.dangers.records import DANGER_TABLES
from rationlp.library.records import LibraryRow

TABLES: dict[str, type[LibraryRow]] = {**records.TABLES, **DANGER_TABLES}
