"""A farm without bins or premix: what its screens say, each thing once and nothing empty."""

from __future__ import annotations

import csv

import pytest
from command_line import run

FARM = {
    "units": "us",
    "currency": "USD",
    "jurisdiction": "us",
    "batch_mass": "1000 lb",
    "scale_step": "1 lb",
    "hand_scale_step": "0.01 lb",
    "hand_weigh_below": "10 lb",
    "plan_from": "2026-12-01",
    "next_harvest_on": "2027-02-01",
}
OFFERS = {
    "corn": 180,
    "soybean_meal_48_dehulled_solvent": 420,
    "limestone_fine": 560,
    "dicalcium_phosphate": 1280,
    "salt": 360,
    "l_lysine_hcl": 2720,
    "dl_methionine": 4350,
}


@pytest.fixture(scope="module")
def book(tmp_path_factory, library):
    """Invented prices; hens and pigs from offers alone."""
    folder = tmp_path_factory.mktemp("farm") / "offers_only"
    folder.mkdir()
    sheets = {
        "farm": [("setting", "value"), *FARM.items()],
        "supplements": [("offer", "feed", "price"), *((feed, feed, price) for feed, price in OFFERS.items())],
        "groups": [
            ("group", "stage", "head", "from", "to"),
            ("hens", "hen_brown_mid_46_65", 300, "2026-12-01", "2027-01-31"),
            ("pigs", "sw_gro_50_75", 40, "2026-12-01", "2027-01-31"),
        ],
    }
    for name, rows in sheets.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)
    return folder


def test_sheets_say_each_reason_once(book, tmp_path):
    done = run("sheets", str(book), "-o", str(tmp_path / "sheets.xlsx"))
    assert done.returncode == 3, done.stderr
    words = " ".join(done.stdout.split())
    assert "No coarse limestone" in words and "2 DO NOT FEED" in words
    for once in ("No coarse limestone", "prints the nearest mix"):
        assert words.count(once) == 1


def test_a_year_has_no_table_of_no_bins_and_asks_nobody_for_what_its_reason_names(book):
    done = run("year", str(book))
    assert done.returncode == 3, done.stderr
    assert done.stdout.count("No premix is on offer") == 2
    assert "The bins" not in done.stdout and "which feed would mend it" not in done.stdout
    assert not any(line.strip() == "-" for line in done.stdout.splitlines())
