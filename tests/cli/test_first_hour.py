"""A person's first hour: a book with twelve ordinary mistakes, all told at once; corrected, the farm is fed from it."""

from __future__ import annotations

import json
from copy import deepcopy
from datetime import date

import pytest
from command_line import run
from crew import fill_in
from openpyxl import load_workbook
from openpyxl.utils import get_column_letter
from random_farms import read_sheets, write_sheets

FIRST_HOUR = ("farm", "bins", "samples", "sorted", "assays", "supplements", "lots", "groups")

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


def fill(path, sheets):
    """Type rows into the workbook that `new` wrote, below its headings and explanations; the cell of each."""
    workbook, cells = load_workbook(path), {}
    written = {row[0].value: row[0].row for row in workbook["farm"].iter_rows(max_col=1)}
    lines = [written[row["setting"]] for row in read_sheets()["farm"]]
    for name, rows in sheets.items():
        page = workbook[name]
        heads = {cell.value: cell.column for cell in page[1] if cell.value}
        for place, row in enumerate(rows):
            line = place + 3 if name != "farm" else lines[place]
            for column, typed in row.items():
                if typed not in ("", None):
                    page.cell(line, heads[column], typed)
                cells[name, place, column] = f"{get_column_letter(heads[column])}{line}"
    workbook.save(path)
    return cells


def correct(path, cells, sheets):
    """Type into each cell that `check` named what should have stood there."""
    workbook = load_workbook(path)
    for sheet, row, column, _ in MISTAKES:
        workbook[sheet][cells[sheet, row, column]] = sheets[sheet][row][column]
    workbook.save(path)


@pytest.mark.long
def test_a_first_hour_from_an_empty_book_to_what_the_pigs_ate(right, tmp_path):
    book, one = tmp_path / "farm.xlsx", ("--stage", "sw_gro_25_50", "--bin", "north")
    assert run("new", book).returncode == 0
    wrong = deepcopy(right)
    for sheet, row, column, typed in MISTAKES:
        wrong[sheet][row][column] = typed
    cells = fill(book, {name: wrong[name] for name in FIRST_HOUR})
    done = run("check", book, "--format", "json")
    told = {(each["sheet"], each["cell"]) for each in json.loads(done.stdout)["problems"]}
    assert done.returncode == 1
    assert {(sheet, cells[sheet, row, column]) for sheet, row, column, _ in MISTAKES} <= told
    correct(book, cells, right)
    sheet = tmp_path / "mix.xlsx"
    for words in (("check",), ("bin",), ("ration", *one), ("sheets", *one, "-o", sheet)):
        done = run(words[0], book, *words[1:])
        assert done.returncode == 0, (words, done.stdout, done.stderr)
    fill_in(sheet, [date(2025, 11, 18)], lots={"premix_pigs": "premix_1"})
    assert run("actual", book, sheet).returncode == 0
    traced = run("trace", book, "--lot", "premix_1")
    assert traced.returncode == 0 and "growers_early" in traced.stdout
