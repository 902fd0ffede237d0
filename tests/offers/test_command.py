"""`rationlp offers` as a person or a program meets it."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from xml.etree import ElementTree

import pytest
from command_line import run as rationlp

from rationlp.api import open_farm
from rationlp.offers import study as study_of_offers

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo" / "stillwater_bend.xlsx"
ONE = ("--stage", "sw_gro_25_50", "--bin", "north")


@pytest.fixture(scope="module")
def document():
    done = rationlp("offers", DEMO, "--format", "json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


KEYS = {
    "stage",
    "bin",
    "offer",
    "price",
    "in_mix",
    "share",
    "enters_below",
    "mix_stays_from",
    "mix_stays_to",
    "cost_without",
}


@pytest.mark.slow
def test_json_has_the_keys_of_the_interface(document):
    assert {"offers", "sweep"} <= document.keys()
    assert document["sweep"] == []
    assert {(o["stage"], o["bin"]) for o in document["offers"]} == {(r["stage"], r["bin"]) for r in document["rations"]}
    for offer in document["offers"]:
        assert offer.keys() >= KEYS
        assert offer["in_mix"] == (offer["share"] > 0)
        low, high = offer["mix_stays_from"], offer["mix_stays_to"]
        assert low is None or low <= offer["price"] + 1e-6
        assert high is None or high >= offer["price"] - 1e-6
        if not offer["in_mix"]:
            assert high is None
            assert offer["enters_below"] == low
        elif offer["enters_below"] is not None:
            assert offer["enters_below"] >= high - 1e-6


@pytest.mark.slow
def test_offers_agree_with_the_rations(document):
    rations = json.loads(rationlp("ration", DEMO, "--format", "json").stdout)["rations"]
    shares = {(r["stage"], r["bin"], line["offer"]): line["share"] for r in rations for line in r["mix"]}
    reduced = {(r["stage"], r["bin"], line["offer"]): line["reduced_cost"] for r in rations for line in r["mix"]}
    for offer in document["offers"]:
        key = offer["stage"], offer["bin"], offer["offer"]
        assert offer["share"] == pytest.approx(shares[key], abs=1e-6)
        if not offer["in_mix"] and offer["enters_below"] is not None:
            # the reduced cost is that of one basis: never more than the price must really fall
            assert offer["price"] - offer["enters_below"] >= reduced[key] - 1e-5


@pytest.mark.slow
def test_sweep_as_json_csv_and_plots(tmp_path):
    ask = (*ONE, "--sweep", "soy48_bulk:300:500:5")
    swept = json.loads(rationlp("offers", DEMO, *ask, "--format", "json").stdout)
    (sweep,) = swept["sweep"]
    assert [point["price"] for point in sweep["points"]] == [300, 350, 400, 450, 500]
    assert len(sweep["pieces"]) == len(sweep["breakpoints"]) + 1
    assert swept["offers"]
    table = rationlp("offers", DEMO, *ask, "--format", "csv", "-o", tmp_path / "soy.csv")
    rows = list(csv.DictReader(io.StringIO(table.stdout)))
    assert [float(row["cost_per_tonne"]) for row in rows] == pytest.approx(
        [p["cost_per_tonne"] for p in sweep["points"]]
    )
    assert (tmp_path / "soy.csv").read_text() == table.stdout
    for row in rows:
        assert sum(float(value) for name, value in row.items() if name.startswith("share of")) == pytest.approx(1)
    for name in ("soy.png", "soy.svg"):
        done = rationlp("offers", DEMO, *ask, "-o", tmp_path / name)
        assert done.returncode == 0, done.stderr
        assert "the mix changes here" in done.stdout
    assert (tmp_path / "soy.png").read_bytes().startswith(b"\x89PNG")
    svg = ElementTree.parse(tmp_path / "soy.svg")
    words = " ".join(text for element in svg.iter() if (text := (element.text or "").strip()))
    assert "soy48_bulk, USD/t" in words
    assert "sw_gro_25_50 from north" in words


@pytest.mark.slow
def test_a_grid_as_a_plot(tmp_path):
    plot = tmp_path / "grid.png"
    done = rationlp(
        "offers", DEMO, *ONE, "--sweep", "soy48_bulk:300:500:5", "--sweep", "peas_neighbour:150:250:3", "-o", plot
    )
    assert done.returncode == 0, done.stderr
    assert "peas_neighbour down, soy48_bulk across" in done.stdout
    assert plot.stat().st_size > 5000


@pytest.mark.slow
def test_text_names_what_matters():
    done = rationlp(
        "offers", DEMO, "--what-if", "flaxseed", "--compare", "soy48_bulk", "--compare", "soy_pressed", "--full"
    )
    assert done.returncode == 0, done.stderr
    for words in (
        "All groups from north",
        "Second best",
        "Bin grain as feed",
        "Bin north (42.00 t): feed",
        "Flaxseed",
        "Quotes for the offers named",
        "comes in",
        "nutritionist",
    ):
        assert words in done.stdout, words


@pytest.mark.slow
def test_draws_without_a_bar_where_nobody_watches():
    done = rationlp("offers", DEMO, *ONE, "--draws", 500)
    assert done.returncode == 0
    assert "500 draws" in done.stdout
    assert "good in" in done.stdout
    assert done.stderr == ""
    again = rationlp("offers", DEMO, *ONE, "--draws", 500)
    assert again.stdout == done.stdout


@pytest.mark.slow
@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("--sweep", "soja:1:2:3"), 2, "soy48_bulk"),
        (("--what-if", "flaxseeed"), 2, "flaxseed"),
        (("--compare", "soy48_bulk"), 2, "two offers"),
        (("-o", "sweep.png"), 2, "needs --sweep"),
        (("--sweep", "bran:1:2:3", "-o", "sweep.pdf"), 2, ".png"),
        (("--draws", "-1"), 2, "--draws"),
        (("--sweep", "bran:100:200:3", "-o", "/no/such/folder/x.png"), 2, "/no/such/folder"),
    ],
)
def test_mistakes_have_their_exit_code(arguments, code, words):
    done = rationlp("offers", DEMO, *ONE, *arguments)
    assert done.returncode == code, done.stderr
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


@pytest.mark.slow
def test_a_stage_that_cannot_be_met_exits_3_and_says_why(write_book):
    book = write_book(
        {
            "farm": [{"setting": "name", "value": "bare"}],
            "supplements": [
                {"offer": "corn", "feed": "corn", "price": 200},
                {"offer": "salt", "feed": "salt", "price": 200},
            ],
        }
    )
    done = rationlp("offers", book, "--stage", "sw_gro_25_50")
    assert done.returncode == 3
    assert "DO NOT FEED; nothing can be said of its offers." in done.stdout
    assert "STOP: Protein is short: SID lysine, pigs is" in done.stdout and "STOP: No premix is on offer" in done.stdout
    as_json = json.loads(rationlp("offers", book, "--stage", "sw_gro_25_50", "--format", "json").stdout)
    assert as_json["offers"] == []
    assert as_json["rations"][0]["status"] == "nearest"
    assert as_json["rations"][0]["shortfalls"]
    assert as_json["rations"][0]["verdict"]["verdict"] == "stop"


@pytest.mark.slow
def test_a_ration_to_ask_about_says_so_before_the_money_and_at_its_own_table():
    """The peak layer of the demo lacks vitamin A: the words and the reason of `ration` stand in `offers` too."""
    asked = ("--stage", "hen_peak", "--bin", "north")
    said = rationlp("ration", DEMO, *asked, "--format", "json")
    (ration,) = json.loads(said.stdout)["rations"]
    done = rationlp("offers", DEMO, *asked)
    assert done.returncode == said.returncode == 0
    assert ration["verdict"]["words"] == "ASK A NUTRITIONIST FIRST" and "may be fed" not in done.stdout
    top, _, below = rationlp("offers", DEMO, *asked, "--full").stdout.partition("what to buy")
    assert ration["verdict"]["words"] in top and ration["verdict"]["words"] in below
    assert ration["verdict"]["words"] in done.stdout.splitlines()[0]
    for reason in ration["verdict"]["reasons"]:
        if reason["verdict"] == "ask":
            assert f"ASK: {reason['text']}" in " ".join(done.stdout.split())


def test_a_bar_is_drawn_on_a_terminal_only(monkeypatch):
    """The steps are counted either way; the bar needs a person at stderr and work that takes a while."""
    from rationlp.cli import progress as module

    class Screen(io.StringIO):
        def isatty(self):
            return True

    for screen, drawn in ((Screen(), True), (io.StringIO(), False)):
        monkeypatch.setattr(module.sys, "stderr", screen)
        monkeypatch.setattr(module, "PATIENCE_S", 0.0)
        with module.progress("Asking") as begin:
            done = begin(3)
            for _ in range(3):
                done()
        assert ("Asking" in screen.getvalue()) == drawn


@pytest.mark.slow
def test_mixes_that_cost_the_same_are_sought_only_where_they_are_told(monkeypatch):
    """The first screen has no room for them; all else is the same without."""
    farm, sought = open_farm(DEMO), []
    real = study_of_offers.equal_mixes
    monkeypatch.setattr(study_of_offers, "equal_mixes", lambda *asked: sought.append(asked) or real(*asked))
    told = farm.offers("sw_gro_25_50", "north")
    assert len(sought) == 1
    brief = farm.offers("sw_gro_25_50", "north", equals=False)
    assert len(sought) == 1 and not brief.equals
    assert brief.worths == told.worths and brief.purchases == told.purchases
