"""Impossible input gets its line with cell and cause, through the command a farmer runs."""

from __future__ import annotations

import numpy as np
import pytest
from command_line import run as rationlp

from rationlp.bins.evidence import library_grains
from rationlp.bins.findings.impossible import CHAFF, FAR, check_bins
from rationlp.bins.lots import known_crop

GOOD = {
    "farm": [{"setting": "name", "value": "test"}],
    "bins": [{"bin": "north", "mass": "40 t", "sale_price": 180, "moisture_pct": 12}],
    "samples": [{"sample": "n1", "bin": "north", "taken_on": "2025-09-01", "sorted_mass_g": 500}],
    "sorted": [
        {"sample": "n1", "crop": "wheat_hard", "mass_g": 300},
        {"sample": "n1", "crop": "barley_hulled", "mass_g": 200},
    ],
    "assays": [
        {"sample": "n1", "nutrient": "crude_protein", "value": 13.5, "unit": "%", "basis": "as_fed", "lab_sd": 0.3},
        {"sample": "n1", "nutrient": "ether_extract", "value": 1.7, "unit": "%", "basis": "as_fed", "lab_sd": 0.2},
    ],
}


def changed(sheet, row, **cells):
    rows = [dict(line) for line in GOOD[sheet]]
    rows[row] |= cells
    return {**GOOD, sheet: rows}


def run(book):
    return rationlp("bin", book)


def test_the_book_is_good_before_it_is_spoiled(write_book):
    done = run(write_book(GOOD))
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize(
    ("spoiled", "cell", "words"),
    [
        (changed("sorted", 1, mass_g=250), "samples!D2", "550 g"),  # shares of 110 percent
        (changed("assays", 0, value=60), "assays!C2", "no grain of the library has that"),
        (changed("assays", 0, value=1.35), "assays!C2", "crude_protein of 1.35 %"),
        (changed("assays", 1, value=82), "assays!C3", "ether_extract of 82 %"),
        (changed("bins", 0, moisture_pct=0), "bins!D2", "above 0"),
        (changed("assays", 0, lab_sd=-0.3), "assays!F2", "above 0"),
        (changed("assays", 0, nutrient="crude_protien"), "assays!B2", "crude_protein"),
        (changed("samples", 0, bin="nord"), "samples!B2", "north"),
        (changed("assays", 0, unit="IU/kg"), "assays!D2", "IU/kg"),
    ],
)
def test_an_impossible_entry_is_one_line_with_its_cell(write_book, spoiled, cell, words):
    done = run(write_book(spoiled))
    assert done.returncode == 1
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    lines = [line for line in done.stderr.splitlines() if line.startswith("error:")]
    assert any(cell in line and words in line for line in lines), done.stderr


def test_parts_that_add_up_to_more_than_all_of_it(write_book):
    rows = [
        {"sample": "n1", "nutrient": n, "value": v, "unit": "%", "basis": "as_fed", "lab_sd": 0.3}
        for n, v in (("crude_protein", 15.0), ("starch", 72.0), ("ash", 2.1), ("ether_extract", 2.0))
    ]
    done = run(write_book({**GOOD, "assays": rows}))
    assert done.returncode == 1
    assert "103.5 % of the dry matter" in done.stderr
    assert "assays!C5" in done.stderr


def test_a_bin_of_water_is_blamed_and_not_its_assays(write_book):
    """99 % for 9.9 %: by that dry matter an assay as fed would be more than there is."""
    done = run(write_book(changed("bins", 0, moisture_pct=99)))
    assert done.returncode == 1
    errors = [line for line in done.stderr.splitlines() if line.startswith("error:")]
    assert len(errors) == 1 and "bins!D2: found a moisture of 99 %" in errors[0], done.stderr


@pytest.mark.parametrize(("beyond", "problems"), [(0.5, 0), (1.5, 1)])
@pytest.mark.parametrize("nutrient", ["crude_protein", "starch"])
def test_an_assay_is_believed_as_far_as_its_error_goes(bin_book, library, nutrient, beyond, problems):
    """Above the richest lot of the richest grain there is, and below the poorest, thinned by chaff."""
    book, sd = bin_book(), 0.2
    crops = [known_crop(name, book, library) for name in library_grains(library)]
    known = [
        (crop.values[nutrient], FAR * float(np.linalg.norm(crop.loadings((nutrient,)))))
        for crop in crops
        if nutrient in crop.values
    ]
    highest = max(value + spread for value, spread in known)
    lowest = CHAFF * min(value**2 / (value + spread) for value, spread in known)
    for extreme, way in ((highest, 1), (lowest, -1)):
        value = extreme + way * beyond * FAR * sd
        if value > 0:
            assays = [(nutrient, value, "%", "dry_matter", sd)]
            made = bin_book({"n1": {"wheat_hard": 500}}, {"n1": assays}, name=f"book_{way}")
            assert len(check_bins(made, library)) == problems, (nutrient, value)
