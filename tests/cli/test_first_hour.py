"""A person's first hour: a book with twelve ordinary mistakes, all told at once; corrected, the farm is fed from it."""

from __future__ import annotations

import json
from copy import deepcopy

import pytest
from command_line import run
from random_farms import read_sheets, write_sheets

MISTAKES = [
    ("farm", 0, "setting", "curency"),
    ("bins", 0, "mass", "quite full"),
    ("bins", 1, "filled_on", "31.31.2025"),
    ("samples", 0, "bin", "nrth"),
    ("sorted", 1, "crop", "tritcale"),
    ("sorted", 7, "mass_g", "-117"),
    ("assays", 1, "unit", "pounds"),
    ("supplements", 0, "price", ""),
    ("supplements", 2, "feed", "soybeen meel"),
    ("lots", 0, "offer", "corn_baught"),
    ("groups", 0, "stage", "sow"),
    ("groups", 1, "head", "many"),
]
"""Sheet, row, column, and what stands there instead."""


@pytest.fixture(scope="module")
def right():
    """Two groups of the demo farm."""
    sheets = read_sheets()
    sheets["groups"] = [row for row in sheets["groups"] if row["stage"] in ("sw_gro_25_50", "broiler_0_3")]
    return sheets


def test_twelve_mistakes_are_told_at_once_each_with_its_cell_and_what_to_do(right, tmp_path):
    sheets = deepcopy(right)
    for sheet, row, column, typed in MISTAKES:
        sheets[sheet][row][column] = typed
    book = write_sheets(sheets, tmp_path / "farm")
    done = run("check", book, "--format", "json")
    problems = [each for each in json.loads(done.stdout)["problems"] if each["severity"] == "error"]
    assert done.returncode == 1
    for sheet, row, column, typed in MISTAKES:
        cells = {f"{letter}{row + 2}" for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"}
        told = [each for each in problems if each["sheet"] == sheet and each["cell"] in cells]
        assert told, (sheet, row, column, typed, [(each["sheet"], each["cell"]) for each in problems])
        assert all(each["do"] and each["expected"] for each in told)


@pytest.mark.long
def test_corrected_the_book_gives_bin_ration_and_sheets(right, tmp_path):
    book = write_sheets(right, tmp_path / "farm")
    one = ("--stage", "sw_gro_25_50", "--bin", "north")
    for words in (("check",), ("bin",), ("ration", *one), ("sheets", *one, "-o", tmp_path / "mix.xlsx")):
        assert run(words[0], book, *words[1:]).returncode == 0, words
