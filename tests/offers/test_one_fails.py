"""One answer that does not stand up to verification costs its own ration, no other; exit codes agree."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from random_farms import DEMO, read_sheets, write_sheets

from rationlp.cli.app import app
from rationlp.errors import SolverError
from rationlp.offers import live_ration, study
from rationlp.rations import formulate

pytestmark = pytest.mark.slow

FAILS, GOOD = "sw_boar", "sw_gro_25_50"
WHY = "The answer found is not the cheapest one, so it is not shown."


@pytest.fixture
def run(library, monkeypatch):
    monkeypatch.setattr("rationlp.api.load_library", lambda folder=None: library)

    def done(*words: object):
        made = CliRunner().invoke(app, [str(word) for word in words])
        assert made.exception is None or isinstance(made.exception, SystemExit), made.exception
        return made

    return done


def fails_for(monkeypatch, module, name: str, stage_of) -> None:
    """The function raises for one stage."""
    real = getattr(module, name)

    def failing(first, *others):
        if stage_of(first) == FAILS:
            raise SolverError(WHY)
        return real(first, *others)

    monkeypatch.setattr(module, name, failing)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("module", "name", "words"),
    [
        (study, "offer_worths", ()),
        (study, "grain_worths", ()),
        (study, "price_risk", ("--draws", "20")),
        (study, "sweeps", ("--sweep", "soy48_bulk:300:500:3")),
        (live_ration, "_polished", ()),
    ],
)
def test_the_study_of_one_ration_fails_alone(module, name, words, run, monkeypatch):
    """It ended `offers` whole, with nothing printed."""

    def stage_of(first) -> str:
        if name == "_polished":
            return FAILS if first is not None and len(first) == boar else ""
        case = first[0] if isinstance(first, list) else first
        return case.formula.stage.stage

    boar = _columns(run, FAILS)
    assert boar != _columns(run, GOOD)
    fails_for(monkeypatch, module, name, stage_of)
    asked = ("offers", DEMO, "--bin", "north", "--stage", FAILS, "--stage", GOOD, *words)
    done = run(*asked, "--format", "json")
    assert done.exit_code == 4
    found = json.loads(done.stdout)
    assert {line["stage"] for line in found["offers"]} == {GOOD}
    assert {r["stage"]: r["failure"] for r in found["rations"]} == {FAILS: WHY, GOOD: ""}
    for full in ((), ("--full",)):
        text = " ".join(run(*asked, *full).stdout.split())
        assert f"nothing can be said of its offers: {WHY}" in text and "soy48_bulk" in text


def _columns(run, stage: str) -> int:
    """How many candidates a ration has."""
    found = json.loads(run("ration", DEMO, "--bin", "north", "--stage", stage, "--format", "json").stdout)
    return len(found["rations"][0]["mix"])


@pytest.mark.slow
def test_exit_codes_agree_where_one_ration_fails_and_another_must_not_be_fed(run, monkeypatch, tmp_path: Path):
    """`ration` said 3, `offers`, `sheets` and `report` 4. What must not be fed goes before what was not calculated."""
    sheets = dict(read_sheets(DEMO))
    impossible = {
        "stage": GOOD,
        "nutrient": "crude_protein",
        "minimum": "60",
        "unit": "%",
        "per": "kg",
        "source": "test",
    }
    sheets["own_stages"] = [impossible]
    book = write_sheets(sheets, tmp_path / "book")
    fails_for(monkeypatch, formulate, "answer_to", lambda formula: formula.stage.stage)
    for stages, code in (((FAILS,), 4), ((FAILS, GOOD), 3)):
        asked = [word for stage in stages for word in ("--stage", stage)]
        codes = {
            command: run(command, book, "--bin", "north", *asked, *more).exit_code
            for command, *more in (("ration",), ("offers",), ("sheets", "-o", tmp_path / f"{code}.csv"))
        }
        assert set(codes.values()) == {code}, codes


def test_a_record_that_cannot_be_read_takes_no_offer_away(run, tmp_path: Path):
    """It ended `offers`, which asks it only which of equally cheap mixes was made last."""
    book = write_sheets(read_sheets(DEMO), tmp_path / "book")
    asked = ("offers", book, "--bin", "north", "--stage", FAILS)
    whole = run(*asked)
    (book / "farm.record").write_bytes(b"null")
    damaged = run(*asked)
    assert damaged.exit_code == whole.exit_code == 0 and damaged.stdout == whole.stdout
    assert "farm.record" in damaged.stderr
