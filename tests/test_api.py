"""The public Python interface: its examples run, and a notebook reads a book, changes a price and writes a table."""

from __future__ import annotations

import doctest
import json
from importlib import import_module
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

import rationlp
from rationlp.cli.app import app
from rationlp.library import Library

ROOT = Path(__file__).parents[1]


@pytest.fixture(autouse=True)
def at_the_root(monkeypatch: pytest.MonkeyPatch, library: Library) -> None:
    """The examples name the demo book as seen from the root of the repository."""
    monkeypatch.chdir(ROOT)
    monkeypatch.setattr("rationlp.api.load_library", lambda folder=None: library)


@pytest.mark.slow
@pytest.mark.parametrize("module", ["rationlp", "rationlp.api"])
def test_the_examples_of_the_interface_run(module: str):
    found = doctest.testmod(import_module(module), optionflags=doctest.ELLIPSIS)
    assert found.attempted > 2 and not found.failed


def test_every_public_name_is_there_with_a_docstring():
    for name in rationlp.__all__:
        assert getattr(rationlp, name)
        assert name == "__version__" or getattr(rationlp, name).__doc__, name


@pytest.mark.slow
def test_a_notebook_reads_a_book_changes_a_price_and_writes_a_table(tmp_path: Path):
    farm = rationlp.open_farm("demo/stillwater_bend")
    rations = farm.rations(bins="north")
    dearer = farm.with_price("soy48_bulk", 600).rations(bins="north")

    summary, mix = rations.summary, rations.mix
    assert {type(summary), type(mix)} == {pd.DataFrame}
    assert len(summary) == len(rations) == len({group.stage for group in farm.book.groups})
    shares = mix.groupby("stage")["share"].sum()
    assert shares.between(1 - 1e-6, 1 + 1e-6).all()

    both = summary.merge(dearer.summary, on=["stage", "bin"], suffixes=("", "_dear"))
    change = both["cost_per_tonne_dear"] - both["cost_per_tonne"]
    assert len(both) == len(summary) and change.max() > 0
    soy = [frame[frame["offer"] == "soy48_bulk"]["share"].sum() for frame in (mix, dearer.mix)]
    assert soy[1] <= soy[0]

    mix.to_csv(tmp_path / "mix.csv", index=False)
    again = pd.read_csv(tmp_path / "mix.csv")
    assert list(again.columns) == list(mix.columns) and len(again) == len(mix)
    for name, frame in rations.frames.items():
        assert not any(frame[column].map(lambda cell: isinstance(cell, list | dict)).any() for column in frame), name


DEMO = "demo/stillwater_bend"
ONE = ("--stage", "sw_gro_25_50", "--bin", "north")
ANSWERS = {
    ("ration", *ONE): lambda farm: farm.rations("sw_gro_25_50", "north"),
    ("bin", "--bin", "north"): lambda farm: farm.bin("north"),
    ("offers", *ONE): lambda farm: farm.offers("sw_gro_25_50", "north"),
    ("resample", "--before", "n0", "--after", "n1", "--stage", "sw_gro_25_50"): lambda farm: farm.resample(
        "n0", "n1", "sw_gro_25_50"
    ),
    ("trace",): lambda farm: farm.trace(),
    ("year",): lambda farm: farm.year(),
}


@pytest.mark.slow
@pytest.mark.parametrize("words", ANSWERS, ids=lambda words: words[0])
def test_an_answer_is_the_document_and_the_tables_of_its_command(words, tmp_path):
    farm = rationlp.open_farm(DEMO)
    answer = ANSWERS[words](farm)
    assert len(repr(answer)) < 2000
    command = [words[0], DEMO, *words[1:], "--format"]
    printed = CliRunner().invoke(app, [*command, "json"])
    assert farm.document(answer) == json.loads(printed.stdout)
    folder = tmp_path / "tables"
    CliRunner().invoke(app, [*command, "csv", "-o", str(folder)])
    tables = farm.tables(answer)
    assert sorted(tables) == sorted(path.stem for path in folder.glob("*.csv"))
    assert {name: len(frame) for name, frame in tables.items()} == {
        name: len(pd.read_csv(folder / f"{name}.csv")) for name in tables
    }


@pytest.mark.slow
def test_sheets_have_tables_too():
    farm = rationlp.open_farm(DEMO)
    pack = farm.sheets("sw_boar", "north")
    tables = farm.tables(pack)
    assert list(tables["sheets"].sheet) == ["sw_boar north"] and "sw_boar north" in repr(pack)


def test_what_is_no_name_or_no_answer_is_said():
    farm = rationlp.open_farm(DEMO)
    with pytest.raises(rationlp.RequestError, match="found 5; expected a name, or several"):
        farm.rations(5)
    with pytest.raises(rationlp.RequestError, match="found 'dear' for soy48_bulk; expected a price"):
        farm.with_price("soy48_bulk", "dear")
    with pytest.raises(TypeError, match="int is none of the answers: Rations, "):
        farm.tables(3)
    assert repr(farm) == "<demo/stillwater_bend: 2 bins, 28 offers, 18 groups>"


def test_two_prices_of_one_offer_are_one_too_many():
    """The last counted, without a word; the same twice is one."""
    farm = rationlp.open_farm(DEMO)
    for asked in ({"prices": ["soy48_bulk=365", "SOY48_BULK=390"]}, {"settings": ["batch_mass=400", "batch_mass=500"]}):
        with pytest.raises(rationlp.RequestError) as raised:
            farm.asked(**asked)
        (problem,) = raised.value.problems
        assert problem.found.endswith(f"for {'soy48_bulk' if 'prices' in asked else 'batch_mass'}")
    assert farm.asked(["soy48_bulk=365", "soy48_bulk=365"]).settings == farm.settings
