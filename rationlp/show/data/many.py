"""What came of one book of many: a line of JSON, or rows of a table."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from rationlp.files import csv_text

COLUMNS = (
    "book",
    "farm",
    "stage",
    "bin",
    "status",
    "verdict",
    "cost_per_tonne",
    "cost_per_gcal",
    "currency",
    "home_grown_share",
    "error",
)
TEXT = ("book", "farm", "stage", "bin", "error")


@dataclass(frozen=True, slots=True)
class BookResult:
    """What came of one book: its rations as `rationlp ration --format json` has them, or why there are none.

    `error` has a problem on each line. `version` is of the book's files, the library and the program: where it is the
    same, so are the rations. `units` are those the book is written in; costs are per metric tonne.
    """

    book: str
    ok: bool
    rations: tuple[Mapping[str, Any], ...] = ()
    error: str | None = None
    farm: str = ""
    currency: str = ""
    version: str = ""
    units: str = "metric"

    def short(self) -> BookResult:
        """The result with as much of each ration as a summary and a table need: a fiftieth of it."""
        short = [
            {name: ration[name] for name in (*COLUMNS, "failure") if name in ration}
            | {"verdict": {"verdict": ration["verdict"]["verdict"]}}
            for ration in self.rations
        ]
        return replace(self, rations=tuple(short))

    def line(self) -> str:
        """The result as one line of JSON."""
        found = {"schema_version": 1, **asdict(self)}
        return json.dumps(found, ensure_ascii=False, allow_nan=False)

    @classmethod
    def of_line(cls, line: str) -> BookResult:
        """The result that wrote this line. Raises ValueError."""
        try:
            found = json.loads(line)
            return cls(**{row.name: found[row.name] for row in fields(cls)} | {"rations": tuple(found["rations"])})
        except (TypeError, KeyError) as error:
            raise ValueError(f"no result of a book: {error}") from None


def as_csv(results: Sequence[BookResult]) -> str:
    """A row a ration; a book without rations has a row that says why."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for result in results:
        about = {"book": result.book, "farm": result.farm, "currency": result.currency, "error": result.error}
        for ration in result.rations or ({},):
            row = about | {name: ration[name] for name in COLUMNS if name in ration}
            row["verdict"] = ration["verdict"]["verdict"] if ration else ""
            writer.writerow({name: csv_text(value) if name in TEXT and value else value for name, value in row.items()})
    return text.getvalue()
