"""`rationlp new` and `rationlp check` as they are typed."""

from __future__ import annotations

import csv
import json

import pytest
from click.testing import CliRunner

from rationlp.cli.app import app


@pytest.fixture
def run():
    """Runs the program; answer and talk are kept apart."""
    return lambda *arguments: CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.mark.slow
@pytest.mark.parametrize("name", ["farm.xlsx", "farm"])
def test_new_then_check(run, tmp_path, name):
    made = run("new", tmp_path / name, "--demo")
    assert (made.exit_code, made.stdout) == (0, f"{tmp_path / name}\n")
    checked = run("check", tmp_path / name)
    assert (checked.exit_code, checked.stdout) == (0, "No problems found.\n")


def test_new_refuses_to_overwrite(run, tmp_path):
    (tmp_path / "farm.xlsx").write_text("mine")
    again = run("new", tmp_path / "farm.xlsx")
    assert (again.exit_code, again.stdout) == (1, "")
    assert "already there" in again.stderr
    assert (tmp_path / "farm.xlsx").read_text() == "mine"


def test_check_prints_a_line_for_each_problem(run, demo, written):
    demo.set("supplements", 2, "price", "-468").set("assays", 3, "basis", "").set("bins", 2, "filled_on", "2099-01-01")
    answer = run("check", written(demo))
    assert answer.exit_code == 1
    lines = answer.stdout.splitlines()
    assert [line.split(":")[1].strip() for line in lines[:3]] == ["assays!E3", "supplements!D2", "bins!K2"]
    assert lines[3:] == ["2 errors, 1 warning."]


def test_check_with_warnings_alone_is_fine(run, demo, written):
    answer = run("check", written(demo.set("bins", 2, "filled_on", "2099-01-01")))
    assert answer.exit_code == 0
    assert answer.stdout.splitlines()[-1] == "no errors, 1 warning."


def test_check_as_json(run, demo, written):
    answer = run("check", written(demo.set("supplements", 2, "price", "-468")), "--format", "json")
    assert answer.exit_code == 1
    (problem,) = json.loads(answer.stdout)["problems"]
    assert {key: problem[key] for key in ("severity", "sheet", "cell", "expected", "do")} == {
        "severity": "error",
        "sheet": "supplements",
        "cell": "D2",
        "expected": "price at least 0 and at most 1,000,000",
        "do": "Correct it.",
    }
    assert "-468" in problem["found"]


def test_check_as_csv(run, demo, written):
    answer = run("check", written(demo.set("supplements", 2, "price", "-468")), "--format", "csv")
    assert answer.exit_code == 1
    (row,) = csv.DictReader(answer.stdout.splitlines())
    assert (row["severity"], row["sheet"], row["cell"]) == ("error", "supplements", "D2")


def test_check_of_no_book(run, tmp_path):
    answer = run("check", tmp_path / "farm.xlsx")
    assert answer.exit_code == 1
    assert "no such file or folder" in answer.stdout
