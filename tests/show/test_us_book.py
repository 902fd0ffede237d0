"""A farm in US units, from the sample to the buyer's statement: no metric unit, and the mixes of a metric book."""

from __future__ import annotations

import re
from datetime import date

import pytest
from crew import fill_in
from openpyxl import load_workbook
from random_farms import read_sheets, write_sheets
from unit_words import METRIC, found

from rationlp.api import open_farm
from rationlp.units import LENGTH_M, MASS_KG

ONE = ("--stage", "sw_gro_25_50", "--bin", "north")
KG_OF_LB, KG_OF_TON, M_OF_FT = MASS_KG["lb"], 2000 * MASS_KG["lb"], LENGTH_M["ft"]


def words_in(path):
    """What a person reads in a file: the visible sheets of a workbook, the words of a page but for its sources."""
    if path.suffix == ".xlsx":
        pages = [sheet for sheet in load_workbook(path) if sheet.sheet_state == "visible"]
        cells = (cell.value for page in pages for row in page.iter_rows() for cell in row)
        return "\n".join(value for value in cells if isinstance(value, str))
    page = re.sub(r"<style.*?</style>|<script.*?</script>", " ", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    return re.sub(r"<[^>]*>", " ", page)


@pytest.mark.slow
def test_a_new_sample_of_a_us_book(run, us_farm):
    done = run("resample", us_farm, "--before", "n0", "--after", "n1", "--stage", "sw_gro_25_50", "--full")
    assert found(done.output, METRIC) == []


@pytest.mark.long
def test_what_was_weighed_and_eaten_on_a_us_farm(run, us_farm, tmp_path):
    sheet = tmp_path / "mix.xlsx"
    run("sheets", us_farm, "-o", sheet, *ONE, "--on", "2025-11-18")
    fill_in(sheet, [date(2025, 11, 18)], lots={"premix_pigs": "premix_1"})
    asked = [("actual", us_farm, sheet), ("trace", us_farm, "--lot", "premix_1", "--full")]
    asked.append(("trace", us_farm, "--group", "growers_early", "--statement"))
    for words in asked:
        done = run(*words)
        assert "growers_early" in done.output or words[0] == "actual"
        assert found(done.output.replace(str(sheet), ""), METRIC) == [], words


@pytest.mark.long
def test_a_year_and_a_week_of_a_us_farm(run, us_farm, tmp_path):
    for words in (("year", "--full"), ("year", "-o", tmp_path / "y.xlsx"), ("year",)):
        assert found(run(words[0], us_farm, *words[1:]).output, METRIC) == [], words
    run("sheets", us_farm, "-o", tmp_path / "w.xlsx", "--week", "2025-11-18")
    for name in ("y.xlsx", "w.xlsx"):
        assert found(words_in(tmp_path / name), METRIC) == []


def test_the_mistakes_of_a_us_book(run, us_farm, tmp_path):
    sheets = read_sheets(us_farm)
    sheets["bins"][0] |= {"mass": "900000", "moisture_pct": "0.13"}
    sheets["bins"][1] |= {"diameter": "180", "test_weight": "720"}
    sheets["supplements"][1]["price"] = "0.19"
    sheets["supplements"][2] |= {"price": "10.90", "per_mass": ""}
    sheets["supplements"][0] |= {"stock_mass": "a truck load"}
    sheets["groups"][0]["head"] = "two dozen"
    done = run("check", write_sheets(sheets, tmp_path / "farm"), "--full", code=(0, 1))
    assert len(done.output.splitlines()) > 5 and "1.5 tons or 50 lb" in done.output
    assert "Write the number alone." in done.output
    assert found(done.output, METRIC) == []


# The same farm in both systems ----------------------------------------------------------------------------------


def in_us_units(sheets):
    """The demo's sheets as the same farm would write them in a US book, to the last digit."""
    pounds = {"batch_mass", "mixer_capacity", "scale_step", "hand_scale_step", "hand_weigh_below", "hand_least"}
    for row in sheets["farm"]:
        if row["setting"] in pounds and row["value"]:
            row["value"] = repr(float(row["value"]) / KG_OF_LB)
        elif row["setting"] in ("mixing_cost", "selling_cost") and row["value"]:
            row["value"] = repr(float(row["value"]) * KG_OF_TON / 1000)
        elif row["setting"] == "units":
            row["value"] = "us"
    for row in (*sheets["bins"], *sheets["supplements"]):
        for name in ("sale_price", "price", "price_low", "price_high", "freight"):
            if row.get(name) and not row["per_mass"]:
                row[name] = repr(float(row[name]) * KG_OF_TON / 1000)
        for name in ("diameter", "wall_depth", "peak_height"):
            if row.get(name):
                row[name] = repr(float(row[name]) / M_OF_FT)
        if row.get("test_weight"):
            row["test_weight"] = f"{row['test_weight']} kg/m3"
    return sheets


@pytest.mark.slow
def test_a_us_and_a_metric_book_of_one_farm_give_the_same_mixes(tmp_path):
    ours = open_farm(write_sheets(read_sheets(), tmp_path / "metric"))
    theirs = open_farm(write_sheets(in_us_units(read_sheets()), tmp_path / "us"))
    metric, us = (farm.rations("sw_gro_25_50") for farm in (ours, theirs))
    for mine, other in zip(metric, us, strict=True):
        assert mine.id == other.id and mine.verdict.severity is other.verdict.severity
        assert mine.ration.cost_per_tonne == pytest.approx(other.ration.cost_per_tonne, rel=1e-9)
    assert ours.bin("south").tonnes == pytest.approx(theirs.bin("south").tonnes, rel=1e-9)
