"""Rows of `actual` that count, sell or throw away: read with their faults, apart from the weights of mixes."""

from __future__ import annotations

import csv
import shutil
from datetime import date
from pathlib import Path

import pytest

from rationlp.book import read_book
from rationlp.book.records import FlowKind
from rationlp.errors import BookError

DEMO = Path(__file__).parents[2] / "demo" / "stillwater_bend"


@pytest.fixture
def book_with(tmp_path):
    """The demo as CSV with these rows (sheet, made_on, feed, lot, mass) added to `actual`."""

    def made(*rows: tuple[str, ...]) -> Path:
        folder = tmp_path / "book"
        shutil.copytree(DEMO, folder)
        with (folder / "actual.csv").open("w", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(["sheet", "made_on", "feed", "lot", "mass"])
            writer.writerows(rows)
        return folder

    return made


def test_they_are_read_by_bin_and_offer(book_with):
    book = read_book(
        book_with(
            ("Counted", "2025-11-03", "north", "", "30 t"),
            ("thrown away", "2025-11-04", "soy48_bulk", "L7", "40"),
            ("sold", "2025-11-04", "bin:south", "", "1000"),
        )
    )
    assert book.actual == ()
    assert [(each.name, each.kind, each.on, each.kg, each.lot) for each in book.moved] == [
        ("north", FlowKind.COUNTED, date(2025, 11, 3), 30000.0, ""),
        ("soy48_bulk", FlowKind.THROWN_AWAY, date(2025, 11, 4), 40.0, "L7"),
        ("south", FlowKind.SOLD, date(2025, 11, 4), 1000.0, ""),
    ]


def test_every_fault_is_told(book_with):
    folder = book_with(
        ("counted", "", "north", "", "30 t"),
        ("counted", "2025-11-03", "soy48_bulk", "L7", "40"),
        ("sold", "2025-11-03", "north", "", ""),
        ("thrown_away", "2025-11-03", "somewhere", "", "5"),
    )
    with pytest.raises(BookError) as caught:
        read_book(folder)
    assert [problem.cell for problem in caught.value.problems] == ["B2", "D3", "E4", "C5"]
    assert all(problem.sheet == "actual" for problem in caught.value.problems)
