"""Two invented farms through the season: check, plan, mix sheets of a month weighed with errors, a second sample, the
rest planned anew from what is left; every balance recomputed from the sheets and the book."""

from __future__ import annotations

import json
from collections import defaultdict
from datetime import date, timedelta
from pathlib import Path
from random import Random

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook
from openpyxl.utils import column_index_from_string
from random_farms import write_sheets
from season_farms import metric_organic_farm, second_sample, us_farm
from year_balances import balances

from rationlp import open_farm
from rationlp.actual.printed import filled_sheets, printed_sheets
from rationlp.cli.app import app
from rationlp.units import KG_PER_LB

pytestmark = pytest.mark.slow

WEEK = timedelta(days=7)


def few_hens():
    """The organic farm with its hens alone: the same season, a few seconds of it."""
    sheets = metric_organic_farm()
    sheets["herd"], sheets["arrivals"] = [], []
    return sheets


def run(*arguments):
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def planned(path: Path, *more: str) -> dict:
    answer = run("year", path, "--format", "json", *more)
    assert answer.exit_code == 0, answer.output
    return json.loads(answer.stdout)


def weigh(path: Path, day: date, chance: Random, lb: bool) -> dict[str, float]:
    """Fill in every batch of every sheet, each weight a little off; what went in by offer, in kg."""
    workbook, went = load_workbook(path), defaultdict(float)
    for sheet in printed_sheets(filled_sheets(path))[0]:
        tab, last = workbook[sheet.tab], max(line.row for line in sheet.rows)
        day_row = next(row for row in range(last, last + 9) if str(tab.cell(row, 1).value).startswith("Date and time"))
        box = column_index_from_string(sheet.first_box)
        tab.cell(day_row, box, day)
        for line in sheet.rows:
            mass = round(line.mass * chance.gauss(1, 0.004), 2) if line.mass > 5 else line.mass
            tab.cell(line.row, box, mass)
            went[line.offer] += mass * (KG_PER_LB if lb else 1.0)
    workbook.save(path)
    return went


@pytest.mark.parametrize(
    ("made", "weeks"),
    [
        pytest.param(few_hens, 1, id="hens"),
        pytest.param(us_farm, 4, id="us", marks=pytest.mark.long),
        pytest.param(metric_organic_farm, 4, id="organic", marks=pytest.mark.long),
    ],
)
def test_a_farm_through_the_season(made, weeks, tmp_path):
    sheets, path = made(), tmp_path / "book"
    farm = open_farm(write_sheets(sheets, path))
    style, lb, chance = farm.settings.date_format, farm.settings.units == "us", Random(7)
    assert run("check", path).exit_code == 0
    plan = planned(path)
    balances(plan, farm)
    assert not plan["unfed"] and len(plan["mixes"]) <= (farm.settings.most_mixes or 99)
    first, went = date.fromisoformat(plan["from"]), defaultdict(float)
    for week in range(weeks):
        day, file = first + week * WEEK, tmp_path / f"week{week}.xlsx"
        printed = run("sheets", path, "-o", file, "--week", f"{day:{style}}")
        assert printed.exit_code == 0, printed.output
        for name, kg in weigh(file, day + timedelta(days=1), chance, lb).items():
            went[name] += kg
        judged = run("actual", path, file)
        assert judged.exit_code == 0 and "STOP" not in judged.output, judged.output
        assert "the ration of today" not in judged.output, "a mix of the plan is none of today's rations"
        assert "a regulator allows" not in judged.output  # of the sheet, not of the cheapest ration of today
    again = first + weeks * WEEK
    before = planned(path, "--from", f"{again:{style}}")
    taken = {row.bin: went[row.bin] / 1000 for row in farm.book.bins}
    balances(before, open_farm(path), taken)
    second_sample(sheets, "north", f"{again:{style}}", (("triticale", -40.0), ("oats_naked", 40.0)))
    farm = open_farm(write_sheets(sheets, path))
    after = planned(path, "--from", f"{again:{style}}")
    balances(after, farm, taken)
    assert after["cost"] != pytest.approx(before["cost"], rel=1e-4)
    told = run("resample", path, "--before", "n1", "--after", "n1_later", "--year", "--format", "json")
    change = json.loads(told.stdout)["year"]
    assert change["cost"] == pytest.approx(after["cost"] - before["cost"], rel=1e-3, abs=5)
