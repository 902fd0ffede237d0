"""The first screens of books of unlike kinds: 40 lines of 100 columns for every command that has an answer.

A farm of more than ten groups and two bins may have a line more for each further ration.
"""

from __future__ import annotations

import textwrap

import pytest
from demo_farms import us_sheets
from random_farms import Sheets, random_farm, read_sheets, write_sheets

from rationlp.show.first.screen import END_LINES, WIDTH, lines_for

pytestmark = pytest.mark.slow

QUICK = ("check", "bin")
SLOW = ("ration", "offers", "resample", "year", "trace")
ONE = ("one group",)  # quick to calculate
NONE: Sheets = {name: [] for name in ("herd", "arrivals", "lots", "actual", "signed")}


def _set(sheets: Sheets, **settings: str) -> Sheets:
    farm = [row | {"value": settings.get(row["setting"], row["value"])} for row in sheets["farm"]]
    return sheets | {"farm": farm}


def _few_offers() -> Sheets:
    offers = [row for row in read_sheets()["supplements"] if row["offer"] in ("corn_bought", "limestone", "salt")]
    return read_sheets() | NONE | {"supplements": offers}


def _no_bins() -> Sheets:
    return read_sheets() | NONE | {name: [] for name in ("bins", "samples", "sorted", "assays", "sown")}


def _one_group() -> Sheets:
    return read_sheets() | NONE | {"groups": read_sheets()["groups"][:1]}


BOOKS = {
    "the demo": read_sheets,
    "US units": us_sheets,
    "one group": _one_group,
    "no bins": _no_bins,
    "few offers": _few_offers,
    "law of the EU": lambda: _set(read_sheets() | NONE, jurisdiction="eu"),
    "organic": lambda: _set(read_sheets(), certification="us_organic"),
    "sure": lambda: _set(_one_group(), confidence_pct="90"),
    "random 1": lambda: random_farm(1),
    "random 2": lambda: random_farm(2),
}


CASES = [
    pytest.param(
        name, command, marks=() if command in QUICK or (name in ONE and command == "ration") else pytest.mark.long
    )
    for name in BOOKS
    for command in (*QUICK, *SLOW)
]


@pytest.mark.slow
@pytest.mark.parametrize(("name", "command"), CASES)
def test_every_first_screen_fits(run, tmp_path, name, command):
    sheets = BOOKS[name]()
    rations = len({row["stage"] for row in sheets["groups"]}) * max(len(sheets["bins"]), 1)
    done = run(command, write_sheets(sheets, tmp_path / "farm"), code=(0, 1, 2, 3, 4))
    told = done.stdout.splitlines()
    if command == "check":  # a problem stands in one line, however long, for those that search for it
        told = [part for line in told for part in textwrap.wrap(line, WIDTH)]
    assert done.exit_code not in (0, 3) or len(told) <= lines_for(rations) + END_LINES
    assert [line for line in told if len(line) > WIDTH] == []


def test_a_book_without_bins_says_so(run, tmp_path):
    assert "no bins" in run("bin", write_sheets(_no_bins(), tmp_path / "farm")).stdout
