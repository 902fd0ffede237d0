"""The first screens of books of unlike kinds: 40 lines of 100 columns for every command that has an answer."""

from __future__ import annotations

import pytest
from demo_farms import us_sheets
from random_farms import Sheets, read_sheets, write_sheets

from rationlp.show.first.screen import LINES, WIDTH

COMMANDS = (("check",), ("bin",), ("ration",), ("offers",), ("resample",), ("year",), ("trace",))
NONE: Sheets = {name: [] for name in ("herd", "arrivals", "lots", "actual", "signed")}


def _no_bins() -> Sheets:
    return read_sheets() | NONE | {name: [] for name in ("bins", "samples", "sorted", "assays", "sown")}


def _one_group() -> Sheets:
    return read_sheets() | NONE | {"groups": read_sheets()["groups"][:1]}


BOOKS = {
    "the demo": read_sheets,
    "US units": us_sheets,
    "one group": _one_group,
    "no bins": _no_bins,
}
QUICK = ("one group",)


@pytest.mark.parametrize(
    "name", [name if name in QUICK else pytest.param(name, marks=pytest.mark.long) for name in BOOKS]
)
def test_every_first_screen_fits(run, tmp_path, name):
    book, long, odd = write_sheets(BOOKS[name](), tmp_path / "farm"), [], []
    for words in COMMANDS:
        done = run(*words, book, code=(0, 1, 2, 3, 4))
        told = done.stdout.splitlines()
        if done.exit_code in (0, 3) and len(told) > LINES:
            long.append((words, len(told)))
        odd += [line for line in told if len(line) > WIDTH]
    assert (long, odd) == ([], [])
