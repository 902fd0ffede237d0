"""`rationlp bin` as a person or a program meets it."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict
from pathlib import Path

import numpy as np
import pytest
from command_line import run

from rationlp.farm import Farm
from rationlp.show.data.as_json import bin_document
from rationlp.show.data.frames import bin_frame

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "rationlp" / "book" / "demo_book"


def rationlp(*arguments):
    return run("bin", *arguments)


@pytest.fixture(scope="module")
def north():
    done = rationlp(DEMO, "--bin", "north", "--format", "json", "--precision", "5")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)["bins"][0]


@pytest.mark.slow
def test_json_has_the_keys_of_the_interface_and_what_stands_beside_them(north):
    assert north["tonnes"] == 42.0
    assert north["sample"] == "n1"
    assert {"crop", "share", "sd", "sorted_share"} <= north["crops"][0].keys()
    assert sum(crop["share"] for crop in north["crops"]) == pytest.approx(1)
    for line in north["nutrients"]:
        assert {"nutrient", "unit", "value", "sd", "from", "from_sort", "assay", "low_90", "high_90"} <= line.keys()
        assert line["from"] in ("assay", "library", "both")
        assert line["sd"] >= 0
        assert line["low_90"] <= line["value"] <= line["high_90"]
    agreement = north["agreement"]
    assert {"chi_square", "degrees", "p_value", "verdict"} <= agreement.keys()
    assert agreement["verdict"] == "agree"
    assert agreement["degrees"] == 2
    assert all(isinstance(finding, str) for finding in north["findings"])


@pytest.mark.slow
def test_covariance_as_fed_is_a_covariance_and_agrees_with_every_sd(north):
    names, matrix = north["covariance"]["nutrients"], np.array(north["covariance"]["matrix"])
    assert matrix.shape == (len(names), len(names))
    assert {"dry_matter", "crude_protein", "sid_lysine_pig", "ne_pig"} <= set(names)
    assert matrix == pytest.approx(matrix.T)
    sds = {line["nutrient"]: line["sd"] for line in north["nutrients"]}
    assert np.sqrt(np.diag(matrix)) == pytest.approx([sds[name] for name in names])
    scale = np.where(np.diag(matrix) > 0, np.sqrt(np.diag(matrix)), 1)
    assert np.linalg.eigvalsh(matrix / np.outer(scale, scale)).min() > -1e-9


def test_nothing_to_compare_is_said_everywhere_and_has_no_p_value(bin_book, library):
    """In the JSON, the frame behind CSV and Python, and the text."""
    farm = Farm(bin_book(), library)
    estimates = farm.bins(("north",))
    found = json.loads(json.dumps(bin_document(farm, estimates)["bins"][0]["agreement"], default=asdict))
    assert (found["verdict"], found["p_value"]) == ("not compared", None)
    frame = bin_frame(estimates)
    (row,) = frame[frame["part"] == "agreement"].to_dict("records")
    assert (row["name"], row["value"]) == ("not compared", None) or np.isnan(row["value"])


@pytest.mark.slow
def test_a_bin_nobody_assayed_is_not_said_to_disagree(write_book):
    """The first screen said DO NOT AGREE of a hand sort beside which there was no laboratory's figure."""
    sheets = {
        "farm": [{"setting": "name", "value": "sorted alone"}],
        "bins": [{"bin": "b", "mass": "10 t", "sale_price": 150, "moisture_pct": 12}],
        "samples": [{"sample": "s", "bin": "b"}],
        "sorted": [{"sample": "s", "crop": "triticale", "mass_g": 300}],
    }
    text = rationlp(write_book(sheets), "--bin", "b").stdout
    assert "sample s" in text and "AGREE" not in text.upper()


@pytest.mark.slow
def test_json_of_the_plan(north):
    precision = north["precision"]
    assert precision["wanted_pct"] == 5.0
    assert precision["increments"] == 29
    assert {plan["nutrient"] for plan in precision["plans"]} >= {"sid_lysine_pig"}
    assert all(plan["level"] > 0 for plan in precision["plans"])


@pytest.mark.slow
def test_text_shows_sort_beside_estimate_with_plus_or_minus(north):
    done = rationlp(DEMO, "--bin", "north", "--precision", "5", "--full")
    assert done.returncode == 0
    assert done.stderr == ""
    text = done.stdout
    for words in (
        "Hand sort %",
        "Estimate %",
        "Sort + library",
        "±",
        "agrees with hand sort and library",
        "nutritionist",
    ):
        assert words in text
    assert "Stay out of the bin" in text
    assert "N95" in text
    assert "probes or cuts" in text
    triticale = next(line for line in text.splitlines() if line.startswith("Triticale"))
    assert triticale.split()[1:] == ["50.55", "1.09", "51.04", "4.61"]  # of n1, 8 probes, and n0, 3


@pytest.mark.slow
def test_csv_is_one_long_table():
    done = rationlp(DEMO, "--bin", "north", "--format", "csv", "--precision", "5")
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert {row["part"] for row in rows} == {"bin", "crop", "nutrient", "agreement", "finding", "plan"}
    protein = next(
        row for row in rows if row["bin"] == "north" and row["name"] == "crude_protein" and row["part"] == "nutrient"
    )
    assert float(protein["sd"]) > 0
    assert float(protein["assay"]) == pytest.approx(14.9, abs=1e-3)  # as fed, at the dry matter it was found at


@pytest.mark.slow
def test_sown_shares_help_where_nothing_was_sorted(write_book):
    sheets = {
        "farm": [{"setting": "name", "value": "unsorted"}],
        "bins": [{"bin": "b", "mass": "10 t", "sale_price": 150, "moisture_pct": 12}],
    }
    seed = [{"bin": "b", "crop": "triticale", "mass": 120}, {"bin": "b", "crop": "peas_field", "mass": 80}]
    plain = json.loads(rationlp(write_book(sheets, "plain"), "--format", "json").stdout)["bins"][0]
    done = rationlp(write_book({**sheets, "sown": seed}, "sown"), "--format", "json")
    sown = json.loads(done.stdout)["bins"][0]
    assert {crop["crop"]: round(crop["share"], 9) for crop in sown["crops"]} == {"triticale": 0.6, "peas_field": 0.4}
    protein = {
        name: next(n for n in found["nutrients"] if n["nutrient"] == "crude_protein")
        for name, found in (("plain", plain), ("sown", sown))
    }
    assert protein["sown"]["sd"] < protein["plain"]["sd"]
    assert sown["evidence"] == "none"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"bin": "b", "crop": "triticale"}, "no mass"),
        ({"bin": "b", "crop": "dandelion", "mass": 3}, "dandelion"),
        ({"bin": "c", "crop": "triticale", "mass": 3}, "'c'"),
        ({"bin": "b", "crop": "triticale", "mass": -3}, "-3"),
    ],
)
def test_a_sown_row_that_cannot_be_read_is_told(write_book, row, words):
    book = write_book(
        {
            "farm": [{"setting": "name", "value": "x"}],
            "bins": [{"bin": "b", "mass": "10 t", "sale_price": 150}],
            "sown": [{"bin": "b", "crop": "rye", "mass": 1}, row],
        }
    )
    done = rationlp(book)
    assert done.returncode == 1
    assert "sown!" in done.stderr
    assert words in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("precision", ["0", "-1", "wide"])
def test_a_precision_that_is_none_is_wrong_usage(precision):
    done = rationlp(DEMO, "--precision", precision)
    assert done.returncode == 2
    assert done.stdout == ""
