"""Books made from the demo: as a folder of CSV files or as a workbook, with a few cells changed."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rationlp.book import check_book
from rationlp.book.columns import SHEETS
from rationlp.book.reading.cells import Cell, Grid
from rationlp.book.settings import SETTING_BY_NAME
from rationlp.book.writing.workbook import typed
from rationlp.book.writing.write import demo_tables
from rationlp.errors import Problem, column_letter
from rationlp.library import Library


class Demo:
    """The tables of the demo book, to be changed and written. Rows are numbered as a spreadsheet shows them."""

    def __init__(self) -> None:
        self.tables: dict[str, list[list[Any]]] = {
            name: [list(row) for row in rows] for name, rows in demo_tables().items()
        }

    def set(self, sheet: str, row: int, column: str, value: Any) -> Demo:
        """Change a cell; a row beyond the last is added, blank but for this cell."""
        rows = self.tables[sheet]
        while len(rows) < row:
            rows.append([""] * len(rows[0]))
        rows[row - 1][rows[0].index(column)] = value
        return self

    def add(self, sheet: str, /, **cells: Any) -> Demo:
        """Add a row."""
        row = len(self.tables[sheet]) + 1
        for column, value in cells.items():
            self.set(sheet, row, column, value)
        return self

    def setting(self, name: str, value: Any) -> Demo:
        """Change a setting."""
        for number, row in enumerate(self.tables["farm"], start=1):
            if row[0] == name:
                return self.set("farm", number, "value", value)
        return self.add("farm", setting=name, value=value)

    def drop(self, *sheets: str) -> Demo:
        """Take sheets out."""
        for sheet in sheets:
            del self.tables[sheet]
        return self

    def clear(self, *sheets: str) -> Demo:
        """Leave nothing of sheets but the header."""
        for sheet in sheets:
            del self.tables[sheet][1:]
        return self

    def rename(self, sheet: str, name: str) -> Demo:
        """Rename a sheet."""
        self.tables[name] = self.tables.pop(sheet)
        return self

    def rename_column(self, sheet: str, column: str, name: str) -> Demo:
        """Rename a column."""
        header = self.tables[sheet][0]
        header[header.index(column)] = name
        return self

    def drop_column(self, sheet: str, column: str) -> Demo:
        """Take a column out."""
        index = self.tables[sheet][0].index(column)
        for row in self.tables[sheet]:
            del row[index]
        return self

    def grids(self, odd: tuple[str, int, int, str] | None = None) -> dict[str, Grid]:
        """The tables as the reader of CSV files gives them, `odd` (sheet, row, position, text) put in."""
        found = {}
        for name, rows in self.tables.items():
            cells = [
                [Cell(text or None, f"{column_letter(i)}{n}") for i, text in enumerate(row)]
                for n, row in enumerate(rows, start=1)
            ]
            if odd and odd[0] == name:
                _, row, index, text = odd
                cells[row - 1][index] = Cell(text or None, f"{column_letter(index)}{row}")
            found[name] = Grid(name, list(enumerate(cells, start=1)))
        return found

    def write_csv(self, path: Path, delimiter: str = ",", encoding: str = "utf-8") -> Path:
        """Write it as a folder of CSV files."""
        path.mkdir()
        for name, rows in self.tables.items():
            with (path / f"{name}.csv").open("w", encoding=encoding, newline="") as lines:
                csv.writer(lines, delimiter=delimiter).writerows(rows)
        return path

    def write_xlsx(self, path: Path) -> Path:
        """Write it as a workbook: numbers and dates as such wherever the column is one."""
        from openpyxl import Workbook

        book = Workbook()
        book.remove(book.active)
        for name, rows in self.tables.items():
            sheet = book.create_sheet(name)
            for number, row in enumerate(rows, start=1):
                for index, value in enumerate(row, start=1):
                    cell = self._cell(name, rows[0][index - 1], row, value) if number > 1 else value
                    if cell != "":
                        sheet.cell(number, index).value = cell
        book.save(path)
        return path

    @staticmethod
    def _cell(sheet: str, column: str, row: list[Any], value: Any) -> Any:
        if not isinstance(value, str):
            return value
        known = {known.name: known.kind for known in SHEETS[sheet].columns} if sheet in SHEETS else {}
        if sheet == "farm":
            del known["value"]
        setting = SETTING_BY_NAME.get(row[0]) if sheet == "farm" and column == "value" else None
        for kind in [setting.kind] if setting else [known[column]] if column in known else ["number", "date"]:
            try:
                if (cell := typed(value, kind)) != value:
                    return cell
            except ValueError:
                pass  # a date that is none stays text
        return value


@pytest.fixture
def demo() -> Demo:
    """The demo book, to be changed."""
    return Demo()


@pytest.fixture(params=["csv", "xlsx"])
def written(request: pytest.FixtureRequest, tmp_path: Path) -> Callable[[Demo], Path]:
    """Writes a changed demo, once as CSV files and once as a workbook."""

    def write(changed: Demo) -> Path:
        if request.param == "csv":
            return changed.write_csv(tmp_path / "book")
        return changed.write_xlsx(tmp_path / "book.xlsx")

    return write


@pytest.fixture
def brief() -> Callable[[list[Problem]], list[str]]:
    """Problems as `error bins!C2`, for comparing."""
    return lambda problems: [_place(problem) for problem in problems]


def _place(problem: Problem) -> str:
    return f"{problem.severity} {problem.sheet}{'!' if problem.cell else ''}{problem.cell}"


@pytest.fixture
def gives(demo: Demo, written: Callable[[Demo], Path], library: Library) -> Callable[..., None]:
    """Checks that a change of the demo gives exactly the problems expected: place, words of `found` and of `do`."""

    def check(change: Callable[[Demo], Any], expected: list[tuple[str, str, str]]) -> None:
        change(demo)
        problems = check_book(written(demo), library)
        assert [_place(problem) for problem in problems] == [place for place, _, _ in expected], problems
        for problem, (_, found, do) in zip(problems, expected, strict=True):
            assert found in problem.found
            assert do in problem.do
            assert problem.expected

    return check
