"""Rows of `actual` that count, sell or throw away: read with their faults, apart from the weights of mixes."""

from __future__ import annotations

import csv
import shutil
from datetime import date
from pathlib import Path

import pytest

from rationlp.book import open_book, read_book
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


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("North bin (mill yard)", "north"),
        ("Swine vitamin and trace mineral premix", "premix_pigs"),
        ("Soybean meal 48 %, bulk", "soy48_bulk"),
        ("maize", "corn_bought"),
    ],
)
def test_what_was_weighed_is_read_by_the_label_its_sheet_prints(book_with, library, typed, name):
    """The words of the mix sheet were unknown on the sheet of what was weighed by it."""
    book, _ = open_book(book_with(("sw_gro_25_50 north", "2025-11-03", typed, "", "10")), library)
    assert [row.feed for row in book.actual] == [name]


def test_a_word_for_two_offers_is_asked(book_with, library):
    with pytest.raises(BookError, match="which may be soy48_bulk or soy48_bags"):
        open_book(book_with(("sw_gro_25_50 north", "2025-11-03", "soybean meal 48", "", "10")), library)
