"""A question beside a command: another price or setting, the answer beside today's, the book as it was."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from rationlp.api import open_farm
from rationlp.book.asked import read_asked_price
from rationlp.errors import RequestError

ONE = ("--stage", "sw_gro_25_50", "--bin", "north")


@pytest.fixture(scope="module")
def farm(two_groups):
    return open_farm(two_groups)


@pytest.mark.parametrize(
    ("asked", "per_tonne"),
    [("soy48_bulk=365", 365.0), ("soy_pressed = 468.50 ", 468.5), ("lysine=40:25kg", 1600.0), ("lysine=43:1t", 43.0)],
)
def test_a_price_is_read_as_a_cell_is(farm, asked, per_tonne):
    other = farm.asked(asked)
    name = asked.partition("=")[0].strip()
    assert next(row.price_per_tonne for row in other.book.supplements if row.offer == name) == pytest.approx(per_tonne)
    assert other.book != farm.book


def test_a_price_in_a_book_in_us_units_is_for_a_short_ton(farm):
    us = replace(farm.settings, units="us")
    assert read_asked_price("365", us, None) == pytest.approx(365 / 0.90718474)
    assert read_asked_price("$365/ton", us, 370.0) == read_asked_price("365 per ton", us, None)
    assert read_asked_price("365/ton", us, None) == read_asked_price("365", us, None)
    assert read_asked_price("8.50/50 lb bag", us, None) == read_asked_price("8.50:50lb", us, None)
    assert read_asked_price("8.50:50lb", us, 400.0) == pytest.approx(8.5 / (50 * 0.45359237) * 1000)


@pytest.mark.parametrize(
    ("prices", "settings", "words"),
    [
        ("lysine=43", None, "per t where the book has 1,740.00"),
        ("soy48_bulk=-3", None, "-3"),
        ("soy48_bulk=dear", None, "dear"),
        ("soy48_bulk", None, "NAME=VALUE"),
        ("nobody=3", None, "an offer or bin of the book"),
        (None, "confidence=90", "confidence_pct"),
        (None, "confidence_pct=190", "190"),
        (None, "currency=EUR", "change currency there"),
        (None, "units=us", "change units there"),
    ],
)
def test_what_cannot_be_asked_is_told(farm, prices, settings, words):
    with pytest.raises(RequestError) as caught:
        farm.asked(prices, settings)
    assert words in str(caught.value)


@pytest.mark.slow
def test_the_answer_stands_beside_todays(run, two_groups):
    done = run("ration", two_groups, *ONE, "--price", "soy48_bulk=300", "--format", "json")
    told = json.loads(done.stdout)
    plain = json.loads(run("ration", two_groups, *ONE, "--format", "json").stdout)
    assert told["asked"] == ["soy48_bulk=300"]
    assert told["today"][0]["cost_per_tonne"] == pytest.approx(plain["rations"][0]["cost_per_tonne"])
    assert told["rations"][0]["cost_per_tonne"] < told["today"][0]["cost_per_tonne"]
    text = run("ration", two_groups, *ONE, "--price", "soy48_bulk=300").stdout
    assert f"(today {told['today'][0]['cost_per_tonne']:.2f})" in text and "Asked: soy48_bulk=300." in text


@pytest.mark.slow
def test_offers_say_what_the_question_saves(run, two_groups):
    done = run("offers", two_groups, *ONE, "--price", "soy48_bulk=300")
    assert "The ration costs " in done.stdout and " instead of " in done.stdout


@pytest.mark.slow
def test_a_wrong_question_names_its_option(run, two_groups):
    done = run("ration", two_groups, "--set", "confidence=90", code=2)
    assert "error: --set: found 'confidence'" in done.stderr and done.stdout == ""


@pytest.mark.parametrize(
    ("words", "code", "sheet"),
    [
        (("ration", "--stage", "sw_nobody"), 2, "--stage"),
        (("bin", "--bin", "west"), 2, "--bin"),
        (("offers", "--price", "nobody=3"), 2, "--price"),
    ],
)
def test_a_mistake_is_told_as_json_where_json_is_asked_for(run, two_groups, words, code, sheet):
    done = run(words[0], two_groups, *words[1:], "--format", "json", code=code)
    told = json.loads(done.stdout)
    assert told["schema_version"] == 1 and told["exit_code"] == code
    assert [problem["sheet"] for problem in told["problems"]] == [sheet]
    assert "error: " in done.stderr


def test_a_book_that_cannot_be_read_is_told_as_json(run, tmp_path):
    done = run("ration", tmp_path / "none.xlsx", "--format=json", code=1)
    assert json.loads(done.stdout)["problems"] and "none.xlsx" in done.stderr
