"""Days are written in one form everywhere: that of the book, in every answer, on every paper."""

from __future__ import annotations

import re

import pytest
from openpyxl import load_workbook
from random_farms import read_sheets, write_sheets

pytestmark = pytest.mark.slow

ISO = re.compile(r"\d{4}-\d\d-\d\d")
ONE = ("--stage", "sw_gro_25_50", "--bin", "north")


@pytest.fixture(scope="module")
def farm(us_farm, tmp_path_factory):
    """The US farm, which writes days as an American does, with a bin on hold, a signature and a count of its stock."""
    sheets = read_sheets(us_farm)
    none = {"herd": [], "arrivals": [], "assays": [row for row in sheets["assays"] if not row.get("lot")]}
    for row in sheets["farm"]:
        row["value"] = "MM/DD/YYYY" if row["setting"] == "date_format" else row["value"]
    return write_sheets(sheets | none, tmp_path_factory.mktemp("days") / "farm")


def _words(path):
    """What a person reads in a file."""
    if path.suffix == ".xlsx":
        pages = [sheet for sheet in load_workbook(path) if sheet.sheet_state == "visible"]
        cells = [cell for page in pages for row in page.iter_rows() for cell in row]
        assert {cell.number_format for cell in cells if getattr(cell, "is_date", False)} <= {r"mm\/dd\/yyyy"}
        return "\n".join(cell.value for cell in cells if isinstance(cell.value, str))
    return re.sub(r"<style.*?</style>|<script.*?</script>", " ", path.read_text(encoding="utf-8"), flags=re.DOTALL)


@pytest.mark.parametrize(
    "words",
    [
        ("bin", "--full"),
        ("ration", *ONE, "--full"),
        ("resample", "--before", "n0", "--after", "n1", "--stage", "sw_gro_25_50", "--full"),
        ("trace", "--full"),
        ("sheets", *ONE, "--on", "11/18/2025", "-o", "mix.csv"),
        ("sheets", *ONE, "--on", "11/18/2025", "-o", "mix.html"),
        ("sheets", *ONE, "-o", "blank.xlsx"),
        pytest.param(("year", "--full"), marks=pytest.mark.long),
        pytest.param(("ration", *ONE, "--review", "copy.xlsx"), marks=pytest.mark.long),
    ],
    ids=lambda words: " ".join(words),
)
def test_days_are_written_as_the_book_writes_them(run, farm, tmp_path, words):
    asked = [tmp_path / word if word.endswith((".csv", ".html", ".xlsx")) else word for word in words]
    told = run(words[0], farm, *asked[1:]).output
    papers = [_words(path) for path in tmp_path.iterdir()]
    for text in (told, *papers):
        assert [match for match in ISO.findall(text) if not _published(text, match)] == []
    if words[0] == "sheets":
        assert any("made 11/18/2025" in paper or "__/__/____" in paper for paper in papers)


def _published(text: str, day: str) -> bool:
    """Whether a day is of a source, which is named as its publisher does, or typed into a text of the book."""
    return any(f"{words} {day}" in text for words in ("price of", "seen", "neighbour's peas,"))
