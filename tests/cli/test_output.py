"""The command line as a person or a program meets it: streams, exit codes, the keys of the interface."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from command_line import run as rationlp

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo" / "stillwater_bend.xlsx"
FOLDER = ROOT / "demo" / "stillwater_bend"


@pytest.fixture(scope="module")
def demo_json():
    """All rations of the demo workbook."""
    done = rationlp("ration", DEMO, "--format", "json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)  # nothing else may stand on stdout, the solver's banner least of all


RATION_KEYS = {
    "stage",
    "bin",
    "status",
    "cost_per_tonne",
    "cost_per_gcal",
    "home_grown_share",
    "mix",
    "requirements",
    "limits",
    "shortfalls",
    "cautions",
}
MIX_KEYS = {"offer", "feed", "share", "price_per_tonne", "reduced_cost"}
REQUIREMENT_KEYS = {"nutrient", "unit", "minimum", "maximum", "gives", "meets", "binding", "shadow_price"}
LIMIT_KEYS = {"feed", "max_pct", "gives_pct", "reason", "source"}


@pytest.mark.slow
def test_ration_json_has_the_keys_of_the_interface(demo_json):
    assert {"book", "currency", "rations"} <= demo_json.keys()
    assert len(demo_json["rations"]) == 36
    for ration in demo_json["rations"]:
        assert ration.keys() >= RATION_KEYS
        assert ration["status"] == "optimal"
        assert all(line.keys() >= MIX_KEYS for line in ration["mix"])
        assert all(line.keys() >= REQUIREMENT_KEYS for line in ration["requirements"])
        assert all(line.keys() >= LIMIT_KEYS for line in ration["limits"])
        assert sum(line["share"] for line in ration["mix"]) == pytest.approx(1, abs=1e-6)
        cost = sum(line["share"] * line["price_per_tonne"] for line in ration["mix"])
        assert ration["cost_per_tonne"] == pytest.approx(cost, rel=1e-6)
        assert any("nutritionist" in caution for caution in ration["cautions"])
        assert {line["binding"] for line in ration["requirements"]} <= {None, "minimum", "maximum"}


@pytest.mark.slow
def test_workbook_and_folder_give_the_same_rations(demo_json):
    folder = json.loads(rationlp("ration", FOLDER, "--format", "json").stdout)
    assert [r["cost_per_tonne"] for r in folder["rations"]] == [r["cost_per_tonne"] for r in demo_json["rations"]]


@pytest.mark.slow
def test_ration_text_and_csv():
    text = rationlp("ration", DEMO, "--stage", "hen_brown_110", "--bin", "north", "--full")
    assert text.returncode == 0
    assert "nutritionist" in text.stdout
    assert "Calcium" in text.stdout
    table = rationlp("ration", DEMO, "--stage", "hen_brown_110", "--bin", "north", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(table.stdout)))
    assert {row["table"] for row in rows} == {"summary", "mix", "requirements", "limits", "ratios", "reasons"}
    shares = [float(row["share"]) for row in rows if row["table"] == "mix"]
    assert sum(shares) == pytest.approx(1)


@pytest.mark.slow
def test_bin_json_has_the_keys_of_the_interface():
    done = rationlp("bin", DEMO, "--format", "json")
    assert done.returncode == 0, done.stderr
    bins = json.loads(done.stdout)["bins"]
    assert [row["bin"] for row in bins] == ["north", "south"]
    for row in bins:
        assert row.keys() >= {"bin", "tonnes", "sample", "crops", "nutrients", "agreement", "findings"}
        assert sum(crop["share"] for crop in row["crops"]) == pytest.approx(1)
        assert all(crop.keys() >= {"crop", "share", "sd", "sorted_share"} for crop in row["crops"])
        assert all(n.keys() >= {"nutrient", "unit", "value", "sd", "from"} for n in row["nutrients"])


def test_check_json_of_a_clean_book():
    done = rationlp("check", DEMO, "--format", "json")
    assert done.returncode == 0
    assert json.loads(done.stdout)["problems"] == []


@pytest.mark.slow
def test_a_stage_that_cannot_be_met_exits_3_and_prints_the_nearest(write_book):
    book = write_book(
        {
            "farm": [{"setting": "name", "value": "bare"}],
            "supplements": [
                {"offer": "corn", "feed": "corn", "price": 200},
                {"offer": "salt", "feed": "salt", "price": 200},
            ],
        }
    )
    done = rationlp("ration", book, "--stage", "sw_gro_25_50", "--format", "json")
    assert done.returncode == 3
    (ration,) = json.loads(done.stdout)["rations"]
    assert ration["status"] == "nearest"
    assert {shortfall["nutrient"] for shortfall in ration["shortfalls"]} >= {"sid_lysine_pig", "calcium"}
    assert ration["remedies"]


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("ration", DEMO, "--stage", "sw_gro_25_5O"), 2, "sw_gro_25_50"),
        (("ration", DEMO, "--bin", "nord"), 2, "north"),
        (("ration", ROOT / "no_such.xlsx"), 1, "no_such.xlsx"),
        (("ration",), 2, "BOOK"),
        (("mix", DEMO), 2, "No such command"),
        (("ration", DEMO, "--format", "xml"), 2, "text"),
    ],
)
def test_mistakes_have_their_exit_code_and_no_traceback(arguments, code, words):
    done = rationlp(*arguments)
    assert done.returncode == code
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
