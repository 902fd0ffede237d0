"""Random farms: one verdict wherever a ration is spoken of, and none that a plain second calculation denies."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from awkward_farms import awkward_farm, is_dangerous
from click.testing import CliRunner
from plain_check import Part, Setting, passed
from random_farms import Sheets, random_farm, write_sheets

import rationlp
from rationlp.api import OpenFarm
from rationlp.cli.app import app
from rationlp.library import Library

pytestmark = pytest.mark.slow

FARMS = 500
AWKWARD = 200
SAME_MIX = 1e-6
FEED_WORDS = "may be fed"
KINDS = {"ne_pig": "swine", "amen_poultry": "poultry"}
"""Whose the energy is that a stage of the farm's own counts from."""


@pytest.fixture(autouse=True)
def one_library(monkeypatch: pytest.MonkeyPatch, library: Library) -> None:
    """Every command takes the library that was read once."""
    monkeypatch.setattr("rationlp.api.load_library", lambda folder=None: library)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(FARMS))
def test_every_command_gives_the_verdict_that_a_second_calculation_bears_out(seed: int, tmp_path: Path) -> None:
    _agree(random_farm(seed), tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(AWKWARD))
def test_awkward_farms_are_of_one_mind_too(seed: int, tmp_path: Path) -> None:
    _agree(awkward_farm(seed), tmp_path)


def _agree(sheets: Sheets, tmp_path: Path) -> None:
    book = write_sheets(sheets, tmp_path / "book")
    try:
        farm = rationlp.open_farm(book)
        rations = farm.rations()
    except rationlp.InputError as error:
        _refused_by_all(book, tmp_path, [problem.line() for problem in error.problems], error.exit_code)
        return
    truth = {(made.ration.stage, made.ration.bin): _told(made.verdict) for made in rations}
    assert all(headline.startswith(("may be fed", "ASK", "DO NOT")) for headline, _ in truth.values())
    failed = any(made.ration.failure for made in rations)
    stops = {key for key, (headline, _) in truth.items() if headline.startswith("DO NOT FEED")}

    judged = any(made.verdict.severity == "stop" for made in rations if not made.ration.failure)
    code = 3 if judged else 4 if failed else 0
    document = _run(book, ["ration", "--review", str(tmp_path / "review.json")], code)
    assert {_key(ration): _said(ration["verdict"]) for ration in document["rations"]} == truth
    review = json.loads((tmp_path / "review.json").read_text(encoding="utf-8"))
    assert {_key(row["ration"]): _said(row["ration"]["verdict"]) for row in review["rations"]} == truth
    offers = _run(book, ["offers"], None)
    assert {_key(ration): _said(ration["verdict"]) for ration in offers["rations"]} == truth
    _resampled(_run(book, ["resample", "--before", "n1", "--after", "n2"], None), document, truth)
    _sheets(_run(book, ["sheets", "-o", str(tmp_path / "mix.csv")], None), truth, stops)

    for ration in document["rations"]:
        if ration["verdict"]["words"].startswith(FEED_WORDS):
            used = [line["offer"] for line in ration["mix"] if line["share"]]
            assert not [name for name in used if is_dangerous(name, sheets)], _key(ration)
            assert passed(_parts(ration, farm, sheets), _setting(ration, farm, sheets)) == [], _key(ration)


def _refused_by_all(book: Path, folder: Path, problems: list[str], code: int) -> None:
    """A book that cannot be calculated with is refused by every command, for the same reason."""
    for words in (["ration"], ["offers"], ["sheets", "-o", str(folder / "mix.csv")]):
        done = CliRunner().invoke(app, [words[0], str(book), *words[1:]])
        assert done.exit_code == code and all(line in done.stderr for line in problems), (words, done.stderr, problems)


def _run(book: Path, words: list[str], code: int | None) -> dict[str, Any]:
    """The JSON answer of a command."""
    done = CliRunner().invoke(app, [words[0], str(book), *words[1:], "--format", "json"])
    assert done.exception is None or isinstance(done.exception, SystemExit), (words, done.exception)
    assert done.exit_code in ((0, 3, 4) if code is None else (code,)), (words, done.exit_code, done.stderr)
    return json.loads(done.stdout)


def _told(verdict: rationlp.Verdict) -> tuple[str, tuple[tuple[str, str], ...]]:
    return verdict.headline, tuple((str(reason.severity), reason.text) for reason in verdict.reasons)


def _said(verdict: Mapping[str, Any]) -> tuple[str, tuple[tuple[str, str], ...]]:
    return verdict["words"], tuple((reason["verdict"], reason["text"]) for reason in verdict["reasons"])


def _key(ration: Mapping[str, Any]) -> tuple[str, str]:
    return ration["stage"], ration["bin"]


def _sheets(pack: dict[str, Any], truth: Mapping, stops: set[tuple[str, str]]) -> None:
    """No sheet for a stop, the verdict of the ration on its refusal and, of the mix in whole weights, no better one."""
    for sheet in pack["sheets"]:
        assert _key(sheet) not in stops
        words = sheet["verdict"]["words"]
        assert not words.startswith("DO NOT")
        if not truth[_key(sheet)][0].startswith(FEED_WORDS):
            assert words.startswith("ASK"), (words, truth[_key(sheet)])
    unmade = {_key(sheet): _said(sheet["verdict"]) for sheet in pack["unmade"]}
    assert stops <= set(unmade)
    for key in stops:
        assert unmade[key] == truth[key]


def _resampled(found: dict[str, Any], document: dict[str, Any], truth: Mapping) -> None:
    """The new mix of a resample is the ration of today: where it is the same mix, the same is said of it."""
    rations = {_key(ration): ration for ration in document["rations"]}
    for change in found["rations"]:
        key, new = _key(change), change["new_mix"]
        if new is None:
            assert truth[key][0].startswith("DO NOT FEED")
            continue
        today = {line["offer"]: line["share"] for line in rations[key]["mix"]}
        same = all(abs(new["mix"].get(name, 0.0) - share) < SAME_MIX for name, share in today.items())
        if same:
            assert _said(new["verdict"]) == truth[key], key


def _setting(ration: Mapping[str, Any], farm: OpenFarm, sheets: Sheets) -> Setting:
    eaten = [
        float(row["feed_per_head_per_day"])
        for row in sheets["groups"]
        if row["stage"] == ration["stage"] and row.get("feed_per_head_per_day")
    ]
    values = {row["setting"]: row["value"] for row in sheets["farm"]}
    return Setting(
        ration["stage"],
        values["jurisdiction"],
        float(values["requirement_margin_pct"] or 0),
        min(eaten, default=None),
        sheets["own_limits"],
        next((KINDS[row["nutrient"]] for row in sheets["own_stages"] if _own(row, ration)), ""),
    )


def _own(row: Mapping[str, str], ration: Mapping[str, Any]) -> bool:
    return row["stage"] == ration["stage"] and row["nutrient"] in KINDS


def _parts(ration: Mapping[str, Any], farm: OpenFarm, sheets: Sheets) -> list[Part]:
    """The mix of the answer with what its ingredients are made of."""
    bins = {row["bin"]: row for row in sheets["bins"]}
    offers = {row["offer"]: row for row in sheets["supplements"]}
    brought = {candidate.name: candidate for candidate in farm.candidates}
    found = []
    for line in ration["mix"]:
        name = line["offer"]
        if name in bins:
            estimate, row = farm.bin(name), bins[name]
            feeds = {crop.crop: crop.share for crop in estimate.crops}
            held = bool(row["hold"]) and not row["released_by"]
            results = _results_of_bin(name, estimate.dry_matter_pct, sheets)
            found.append(Part(name, line["share"], estimate.values, feeds, results, held))
        else:
            row = offers[name]
            least, most = (float(row[side]) if row[side] else None for side in ("min_pct", "max_pct"))
            candidate = brought[name]
            results = _results_of_lots(name, sheets)
            found.append(Part(name, line["share"], candidate.values, {row["feed"]: 1.0}, results, False, least, most))
    return found


def _results_of_bin(name: str, dry_pct: float, sheets: Sheets) -> dict[str, list[float]]:
    """Contaminants of a bin, mg/kg at the dry matter of the bin."""
    found: dict[str, list[float]] = {}
    for sample in (row["sample"] for row in sheets["samples"] if row["bin"] == name):
        rows = [row for row in sheets["assays"] if row.get("sample") == sample]
        own = next((float(row["value"]) for row in rows if row["nutrient"] == "dry_matter"), dry_pct)
        for row in rows:
            if row["unit"] == "mg/kg":
                found.setdefault(row["nutrient"], []).append(float(row["value"]) * dry_pct / own)
    return found


def _results_of_lots(name: str, sheets: Sheets) -> dict[str, list[float]]:
    lots = {row["lot"] for row in sheets["lots"] if row["offer"] == name}
    found: dict[str, list[float]] = {}
    for row in sheets["assays"]:
        if row.get("lot") in lots and row["unit"] == "mg/kg":
            found.setdefault(row["nutrient"], []).append(float(row["value"]))
    return found
