"""A farm in US units reads no metric unit, a metric one no US unit, on any screen, sheet or page."""

from __future__ import annotations

import re

import pytest
from openpyxl import load_workbook
from unit_words import METRIC, US, found

from rationlp.book.records import Settings
from rationlp.book_units import units_of

ONE = ("--stage", "sw_gro_25_50", "--bin", "north")
COMMANDS = [
    ("bin",),
    ("bin", "--full", "--bin", "south"),
    ("bin", "--bin", "north", "--precision", "5"),
    ("ration",),
    ("ration", "--full", *ONE),
    ("ration", *ONE, "--set", "confidence_pct=90", "--full"),
    ("ration", "--concentrate", *ONE),
    ("ration", "--frontier", *ONE),
    ("offers", *ONE),
    ("offers",),
    ("offers", "--full", *ONE),
    ("offers", *ONE, "--compare", "soy48_bulk", "--compare", "soy48_bags", "--draws", "20"),
    ("offers", *ONE, "--sweep", "soy48_bulk:300:500:5"),
    ("offers", *ONE, "--price", "lysine=1"),
    ("ration", *ONE, "--set", "batch_mass=-3"),
]


@pytest.mark.slow
@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_a_us_book_reads_no_metric_unit(run, us_farm, words):
    done = run(words[0], us_farm, *words[1:], code=(0, 2, 3))
    assert found(done.output, METRIC) == []


@pytest.mark.slow
@pytest.mark.parametrize("words", [COMMANDS[0], COMMANDS[3], COMMANDS[8]], ids=" ".join)
def test_a_metric_book_reads_no_us_unit(run, metric_farm, words):
    done = run(words[0], metric_farm, *words[1:])
    assert found(done.output, US) == []


@pytest.mark.slow
@pytest.mark.parametrize("ending", [".html", ".csv", ".xlsx"])
def test_the_sheets_of_a_us_book(run, us_farm, tmp_path, ending):
    place = tmp_path / f"mix{ending}"
    done = run("sheets", us_farm, "-o", place, *ONE, "--days", 7, "--mixer-volume", "60 ft3", "--full")
    assert found(done.output.replace(str(place), ""), METRIC) == []
    if ending == ".xlsx":
        cells = (cell.value for sheet in load_workbook(place) for row in sheet.iter_rows() for cell in row)
        text = "\n".join(str(value) for value in cells if isinstance(value, str))
    else:
        text = re.sub(r"<style.*?</style>|<[^>]*>", " ", place.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert found(text, METRIC) == []


@pytest.mark.slow
def test_the_review_copy_of_a_us_book(run, us_farm, tmp_path):
    place = tmp_path / "review.xlsx"
    run("ration", us_farm, *ONE, "--review", place)
    text = "\n".join(
        str(cell.value) for sheet in load_workbook(place) for cell in sheet[1] if isinstance(cell.value, str)
    )
    assert "USD/ton" in text and found(text, METRIC) == []


def test_one_formatter():
    us, metric = units_of(Settings(units="us")), units_of(Settings())
    assert us.temperature(10) == "50 °F" and metric.temperature(21) == "21 °C"
    assert us.density(669.3) == "52 lb/bu" and metric.density(669.3) == "669 kg/m3"
    assert us.volume(166.5).startswith("5,880 ft3 (4,725 bu)") and metric.volume(166.5) == "166.5 m3"
    assert us.bulk(111.5) == "122.9 tons" and us.weight(58.79) == "129.6 lb"


def test_less_than_a_ton_is_told_in_pounds_or_kilograms():
    """A bin of 400 lb had 0.2 tons. 400 lb are 0.181436948 t (NIST Handbook 44, appendix C)."""
    us, metric = units_of(Settings(units="us")), units_of(Settings())
    assert us.stock(0.181436948) == "400 lb" and us.stock(0.181436948, 0.00907) == "400 lb ± 20 lb"
    assert metric.stock(0.3, 0.0123) == "300 kg ± 12 kg" and metric.stock(42.0, 3.0) == "42.00 t ± 3.0 t"
