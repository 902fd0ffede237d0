"""Every table of the library: which model reads which file."""

from __future__ import annotations

from rationlp.library import records
from rationlp.library.dangers.records import DANGER_TABLES
from rationlp.library.records import LibraryRow
from rationlp.library.trial_caps import Trial

TABLES: dict[str, type[LibraryRow]] = {**records.TABLES, "trials": Trial, **DANGER_TABLES}
