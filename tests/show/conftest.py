"""The commands in this process, on the demo farm and farms like it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from demo_farms import few_groups, us_sheets
from random_farms import read_sheets, write_sheets

from rationlp.cli.app import app


@pytest.fixture(scope="session")
def run() -> Callable[..., Result]:
    """Runs a command as a shell would, without a terminal."""

    def run(*arguments: object, code: int | tuple[int, ...] = (0, 3)) -> Result:
        done = CliRunner().invoke(app, [str(argument) for argument in arguments])
        codes = code if isinstance(code, tuple) else (code,)
        assert done.exit_code in codes, done.output
        return done

    return run


@pytest.fixture(scope="session")
def ten_groups(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo farm with its first ten groups."""
    sheets = read_sheets()
    sheets["groups"] = sheets["groups"][:10]
    return write_sheets(sheets, tmp_path_factory.mktemp("ten") / "farm")


@pytest.fixture(scope="session")
def two_groups(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo farm with two groups, quick to calculate."""
    sheets = read_sheets()
    sheets["groups"] = [row for row in sheets["groups"] if row["stage"] in ("broiler_0_3", "sw_gro_25_50")]
    return write_sheets(sheets, tmp_path_factory.mktemp("two") / "farm")


@pytest.fixture(scope="session")
def us_farm(tmp_path_factory):
    """The demo farm as an American would have written it, with a batch that somebody weighed."""
    return write_sheets(us_sheets(), tmp_path_factory.mktemp("pounds") / "farm")


@pytest.fixture(scope="session")
def metric_farm(tmp_path_factory):
    return write_sheets(few_groups(), tmp_path_factory.mktemp("metric") / "farm")


@pytest.fixture(scope="session")
def weighed_farm(run, two_groups: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two groups, and a batch for the first weighed as its sheet says."""
    place = tmp_path_factory.mktemp("weighed")
    words = ("--stage", "sw_gro_25_50", "--bin", "north", "-o", place / "mix.csv", "--format", "json")
    (sheet,) = json.loads(run("sheets", two_groups, *words).stdout)["sheets"]
    head = {"sheet": sheet["sheet"], "made_on": "2025-11-03", "batch": "1"}
    lines = [line for line in (*sheet["bucket"], *sheet["mixer"]) if line["offer"]]
    sheets = read_sheets(two_groups)
    sheets["actual"] = [head | {"feed": line["offer"], "mass": line["mass"]} for line in lines]
    return write_sheets(sheets, place / "farm")
