"""`rationlp year` as people and programs meet it, on the demo and on two invented farms for a whole season."""

from __future__ import annotations

import json
from collections import defaultdict
from datetime import date
from math import ceil

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator
from openpyxl import load_workbook
from random_farms import random_farm, write_sheets
from season_farms import metric_organic_farm, us_farm

from rationlp import open_farm
from rationlp.cli.app import app
from rationlp.errors import InputError
from rationlp.show.data.as_json import json_fields
from rationlp.show.data.year import year_document
from rationlp.show.schema.made import schema_of

DEMO = "demo/stillwater_bend"
KEYS = {
    "mixes": {"mix", "stage", "bins", "parts", "tonnes"},
    "uses": {"month", "bin", "group", "mix", "tonnes"},
    "purchases": {"month", "offer", "tonnes", "packages", "cost"},
    "stocks": {"month", "bin", "tonnes", "sd"},
    "runs_out": {"bin", "on", "earliest", "latest"},
    "worth_of_last_tonne": {"bin", "value"},
}


def run(*arguments):
    return CliRunner().invoke(app, ["year", *map(str, arguments)])


def document_of(farm, **asked):
    found = json.loads(json.dumps(year_document(farm.year(**asked), farm.book), default=json_fields))
    assert not list(Draft202012Validator(schema_of("year")).iter_errors(found | {"schema_version": 1}))
    return found


@pytest.fixture(scope="session")
def demo_farm():
    return open_farm(DEMO)


@pytest.fixture(scope="session")
def demo_document(demo_farm):
    return document_of(demo_farm, draws=5)


def balances(document, farm):
    """Every balance of a plan, from its JSON and the book alone."""
    mixes = {mix["mix"]: mix for mix in document["mixes"]}
    eaten, drawn, bought = defaultdict(float), defaultdict(float), defaultdict(float)
    told = set()
    for use in document["uses"]:
        shares = {part["offer"]: part["share"] for part in mixes[use["mix"]]["parts"]}
        if use["bin"] is not None:
            assert use["tonnes"] == pytest.approx(shares[use["bin"]] * use["mix_tonnes"], abs=1e-3)
        key = (use["month"], use["group"], use["mix"])
        if key not in told:
            told.add(key)
            eaten[use["mix"]] += use["mix_tonnes"]
            for name, share in shares.items():
                (drawn if name in {row.bin for row in farm.book.bins} else bought)[use["month"], name] += (
                    share * use["mix_tonnes"]
                )
    for name, tonnes in eaten.items():
        assert tonnes == pytest.approx(mixes[name]["tonnes"], abs=1e-3)
        assert sum(part["share"] for part in mixes[name]["parts"]) == pytest.approx(1, abs=1e-9)
    needed = {(row["month"], row["offer"]): row["tonnes"] for row in document["purchases"]}
    assert needed == pytest.approx({key: t for key, t in bought.items() if t > 1e-9}, abs=1e-3)
    for bin_ in {row["bin"] for row in document["stocks"]}:
        left = farm.bin(bin_).tonnes
        for row in (row for row in document["stocks"] if row["bin"] == bin_):
            left -= drawn[row["month"], bin_]
            assert row["tonnes"] == pytest.approx(left, abs=1e-3)
            assert left > -1e-3
    for offer in farm.book.supplements:
        rows = [row for row in document["purchases"] if row["offer"] == offer.offer]
        used = sum(row["tonnes"] for row in rows)
        assert offer.stock_kg is None or used <= offer.stock_kg / 1000 + 1e-3
        assert not offer.until_date or all(date.fromisoformat(row["order_by"]) <= offer.until_date for row in rows)
        if offer.package_kg:
            assert sum(row["packages"] for row in rows) == ceil(used * 1000 / offer.package_kg - 1e-6)
    mixing = (farm.settings.mixing_cost or 0.0) * (1000 / 907.18474 if farm.settings.units == "us" else 1)
    selling = (farm.settings.selling_cost or 0.0) * (1000 / 907.18474 if farm.settings.units == "us" else 1)
    prices = {row.bin: max((row.sale_price_per_tonne or 0.0) - selling, 0.0) for row in farm.book.bins}
    prices |= {row.offer: row.price_per_tonne for row in farm.book.supplements}
    cost = sum(
        mix["tonnes"] * (mixing + sum(part["share"] * prices[part["offer"]] for part in mix["parts"]))
        for mix in document["mixes"]
    )
    assert document["cost"] == pytest.approx(cost, rel=1e-6, abs=1e-3)


def test_the_json_has_the_promised_keys_and_its_balances_hold(demo_document, demo_farm):
    for name, keys in KEYS.items():
        assert demo_document[name]
        assert all(keys <= set(row) for row in demo_document[name])
    assert {"currency", "from", "to", "cost", "home_grown_share", "verdict"} <= set(demo_document)
    assert demo_document["draws"]["count"] == 5
    balances(demo_document, demo_farm)


def test_a_bin_is_empty_on_the_day_its_uses_add_up_to_it(demo_document, demo_farm):
    for row in demo_document["runs_out"]:
        used = sum(use["tonnes"] for use in demo_document["uses"] if use["bin"] == row["bin"])
        assert (row["on"] is not None) == (used >= demo_farm.bin(row["bin"]).tonnes - 1e-3)
        if row["on"]:
            before = sum(
                u["tonnes"] for u in demo_document["uses"] if u["bin"] == row["bin"] and u["month"] < row["on"][:7]
            )
            assert before < demo_farm.bin(row["bin"]).tonnes
            assert row["earliest"] <= row["on"]


def test_no_mix_of_the_plan_is_one_that_ration_would_refuse(demo_farm, demo_document):
    assert {mix["verdict"]["verdict"] for mix in demo_document["mixes"]} <= {"feed", "ask"}


def test_the_first_answer_is_one_screen(demo_farm):
    answer = run(DEMO)
    lines = answer.stdout.splitlines()
    assert answer.exit_code == 0
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 100
    assert "Mix for the first week" in answer.stdout
    assert len(run(DEMO, "--full").stdout.splitlines()) > 100


def test_a_question_is_answered_beside_the_book_as_it_stands():
    answer = run(DEMO, "--price", "corn_bought=300", "--format", "json")
    change = json.loads(answer.stdout)["change"]
    assert change["cost"] > 0
    more = json.loads(run(DEMO, "--price", "corn_bought=+20%", "--format", "json").stdout)["change"]
    assert 0 < more["cost"] < change["cost"]
    assert run(DEMO, "--price", "corn=1").exit_code == 2
    assert run(DEMO, "--price", "corn_bought=dear").exit_code == 2
    assert run(DEMO, "--set", "most_mixes").exit_code == 2


def test_the_workbook_has_the_calendar_and_plots_and_spares_what_is_there(tmp_path):
    path = tmp_path / "year.xlsx"
    assert run(DEMO, "-o", path).exit_code == 0
    made = load_workbook(path)
    assert made.sheetnames == ["Year", "Mixes", "Use", "Purchases", "Stocks", "Cash", "Animals"]
    assert made["Stocks"]._charts and made["Cash"]._charts and made["Animals"]._charts
    assert run(DEMO, "-o", path).exit_code == 2
    assert run(DEMO, "-o", path, "--overwrite").exit_code == 0
    assert run(DEMO, "-o", tmp_path / "year.pdf").exit_code == 2


def test_csv_says_of_which_table_a_row_is():
    lines = run(DEMO, "--format", "csv").stdout.splitlines()
    assert lines[0].startswith("table,")
    assert {line.split(",")[0] for line in lines[1:]} >= {"mixes", "uses", "purchases", "stocks", "animals"}


@pytest.mark.parametrize("farm", [us_farm, metric_organic_farm], ids=["us", "organic"])
@pytest.mark.long
def test_an_invented_farm_through_the_season(farm, tmp_path):
    opened = open_farm(write_sheets(farm(), tmp_path / "book"))
    document = document_of(opened)
    balances(document, opened)
    assert {row["group"] for row in document["unfed"]} <= {"pigs: weaner"}  # nobody quotes the milk sugar they need
    assert all("Milk sugar (lactose)" in row["why"] for row in document["unfed"])
    assert len(document["mixes"]) <= (opened.settings.most_mixes or 99)
    unit = " ton" if opened.settings.units == "us" else " t"
    assert unit in run(tmp_path / "book").stdout


@pytest.mark.parametrize("seed", range(100))
def test_random_farms_balance_or_say_who_cannot_be_fed(seed, tmp_path):
    sheets = random_farm(seed)
    sheets["herd"], sheets["arrivals"] = [], []
    sheets["groups"] = sheets["groups"][:4]
    path = write_sheets(sheets, tmp_path / "book")
    try:
        farm = open_farm(path)
        document = document_of(farm)
    except InputError as error:
        assert error.problems
        return
    balances(document, farm)
    assert (document["verdict"]["verdict"] == "stop") == bool(document["unfed"])
    assert {mix["verdict"]["verdict"] for mix in document["mixes"]} <= {"feed", "ask"}
