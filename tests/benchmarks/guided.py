"""What is typed into cells, drawn by what it makes the program do: coverage-guided fuzzing.

    python tests/benchmarks/guided.py [RUNS [SEED]]

Texts for every column of the book, in every notation, until RUNS were tried or one of them is no value of the column
and no fault told either. Needs `atheris` (libFuzzer; Linux and macOS), which no extra asks for. The same seed and runs
draw the same texts.
"""

from __future__ import annotations

import math
import sys
from importlib import import_module
from typing import Any

atheris: Any = import_module("atheris")

with atheris.instrument_imports(include=["rationlp.book.reading", "rationlp.finder", "rationlp.units"]):
    from rationlp.book.columns import SHEETS
    from rationlp.book.reading.cells import Cell
    from rationlp.book.reading.notation import CellFault, Notation
    from rationlp.book.reading.values import read_cell

COLUMNS = [column for sheet in SHEETS.values() for column in sheet.columns]
NOTATIONS = [
    Notation(units, date_format=day) for units in ("metric", "us") for day in ("%Y-%m-%d", "%d.%m.%Y", "%m/%d/%Y")
]
LONGEST = 40
"""Characters of a text: longer ones are refused by their length."""


def once(drawn: bytes) -> None:
    """Read one text as one column."""
    source = atheris.FuzzedDataProvider(drawn)
    column = COLUMNS[source.ConsumeIntInRange(0, len(COLUMNS) - 1)]
    notation = NOTATIONS[source.ConsumeIntInRange(0, len(NOTATIONS) - 1)]
    try:
        found = read_cell(Cell(source.ConsumeUnicode(LONGEST), "B2"), column, notation)
    except CellFault as fault:
        assert fault.expected and fault.do, "a fault that says nothing"
    else:
        assert not isinstance(found, float) or math.isfinite(found), f"{found} is no number of {column.name}"


def main(runs: str = "100000", seed: str = "1") -> None:
    """Until all runs are done; a text that breaks it is printed, with exit code 77."""
    atheris.Setup([sys.argv[0], f"-runs={runs}", f"-seed={seed}", "-max_len=200"], once)
    atheris.Fuzz()


if __name__ == "__main__":
    main(*sys.argv[1:])
