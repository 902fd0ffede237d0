"""The first screens of ten books of unlike kinds: 40 lines of 100 columns for every command that has an answer."""

from __future__ import annotations

import pytest
from demo_farms import us_sheets
from random_farms import Sheets, random_farm, read_sheets, write_sheets

from rationlp.show.first.screen import LINES, WIDTH

COMMANDS = (("check",), ("bin",), ("ration",), ("offers",), ("resample",), ("year",), ("trace",))
NONE: Sheets = {name: [] for name in ("herd", "arrivals", "lots", "actual", "signed")}


def _set(sheets: Sheets, **settings: str) -> Sheets:
    farm = [row | {"value": settings.get(str(row["setting"]), row["value"])} for row in sheets["farm"]]
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
    "few offers": _few_offers,
    "no bins": _no_bins,
    "law of the EU": lambda: _set(read_sheets() | NONE, jurisdiction="eu"),
    "organic": lambda: _set(read_sheets(), certification="us_organic"),
    "sure": lambda: _set(_one_group(), confidence_pct="90"),
    "random 1": lambda: random_farm(1),
    "random 2": lambda: random_farm(2),
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
        odd += [line for line in (*told, *done.stderr.splitlines()) if len(line) > WIDTH]
    assert (long, odd) == ([], [])
