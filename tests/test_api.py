"""The public Python interface: its examples run, and a notebook reads a book, changes a price and writes a table."""

from __future__ import annotations

import doctest
from importlib import import_module
from pathlib import Path

import pandas as pd
import pytest

import rationlp
from rationlp.library import Library

ROOT = Path(__file__).parents[1]


@pytest.fixture(autouse=True)
def at_the_root(monkeypatch: pytest.MonkeyPatch, library: Library) -> None:
    """The examples name the demo book as seen from the root of the repository."""
    monkeypatch.chdir(ROOT)
    monkeypatch.setattr("rationlp.api.load_library", lambda folder=None: library)


@pytest.mark.parametrize("module", ["rationlp", "rationlp.api"])
def test_the_examples_of_the_interface_run(module: str):
    found = doctest.testmod(import_module(module), optionflags=doctest.ELLIPSIS)
    assert found.attempted > 2 and not found.failed


def test_every_public_name_is_there_with_a_docstring():
    for name in rationlp.__all__:
        assert getattr(rationlp, name)
        assert name == "__version__" or getattr(rationlp, name).__doc__, name


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
