"""`rationlp year` as people and programs meet it, on the demo and on two invented farms for a whole season."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator
from openpyxl import load_workbook
from random_farms import random_farm, write_sheets
from year_balances import balances

from rationlp import open_farm
from rationlp.cli.app import app
from rationlp.errors import InputError
from rationlp.show.data.as_json import json_fields
from rationlp.show.data.year import year_document
from rationlp.show.schema.made import schema_of

pytestmark = pytest.mark.slow

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


@pytest.mark.slow
def test_the_json_has_the_promised_keys_and_its_balances_hold(demo_document, demo_farm):
    for name, keys in KEYS.items():
        assert demo_document[name]
        assert all(keys <= set(row) for row in demo_document[name])
    assert {"currency", "from", "to", "cost", "home_grown_share", "verdict"} <= set(demo_document)
    assert demo_document["draws"]["count"] == 5
    balances(demo_document, demo_farm)


@pytest.mark.slow
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


@pytest.mark.slow
def test_the_first_answer_is_one_screen(demo_farm):
    answer = run(DEMO)
    lines = answer.stdout.splitlines()
    assert answer.exit_code == 0
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 100
    assert "Mix for the first week" in answer.stdout
    assert len(run(DEMO, "--full").stdout.splitlines()) > 100


@pytest.mark.slow
def test_a_question_is_answered_beside_the_book_as_it_stands():
    answer = run(DEMO, "--price", "corn_bought=300", "--format", "json")
    change = json.loads(answer.stdout)["change"]
    assert change["cost"] > 0
    more = json.loads(run(DEMO, "--price", "corn_bought=+20%", "--format", "json").stdout)["change"]
    assert 0 < more["cost"] < change["cost"]
    assert run(DEMO, "--price", "corn=1").exit_code == 2
    assert run(DEMO, "--price", "corn_bought=dear").exit_code == 2
    assert run(DEMO, "--set", "most_mixes").exit_code == 2


@pytest.mark.slow
def test_the_workbook_has_the_calendar_and_plots_and_spares_what_is_there(tmp_path):
    path = tmp_path / "year.xlsx"
    assert run(DEMO, "-o", path).exit_code == 0
    made = load_workbook(path)
    assert made.sheetnames == ["Year", "Mixes", "Use", "Purchases", "Stocks", "Cash", "Animals"]
    assert made["Stocks"]._charts and made["Cash"]._charts and made["Animals"]._charts
    assert run(DEMO, "-o", path).exit_code == 2
    assert run(DEMO, "-o", path, "--overwrite").exit_code == 0
    assert run(DEMO, "-o", tmp_path / "year.pdf").exit_code == 2


@pytest.mark.slow
def test_csv_says_of_which_table_a_row_is():
    lines = run(DEMO, "--format", "csv").stdout.splitlines()
    assert lines[0].startswith("table,")
    assert {line.split(",")[0] for line in lines[1:]} >= {"mixes", "uses", "purchases", "stocks", "animals"}


@pytest.mark.slow
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
