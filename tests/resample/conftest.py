"""The demo book with a second sample of its north bin."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from rationlp.book.records import Assay, Place, Sample, SortedCrop
from rationlp.farm import Farm
from rationlp.rations.formulate import formulate

HERE = Place()
HEAPS = {
    "triticale": 261.3,
    "oats_naked": 113.8,
    "faba_low_tannin": 46.9,
    "chickpea_desi": 61.7,
    "camelina_seed": 25.6,
    "foreign_matter": 7.6,
}
NEW_DAY = date(2025, 11, 20)


def second_sample(book, heaps, protein=None):
    """`book` with sample n2 of the north bin: grams by crop, and a protein assay as fed in percent."""
    return replace(
        book,
        samples=(*book.samples, Sample(HERE, "n2", "north", NEW_DAY, 8)),
        sorted=(*book.sorted, *(SortedCrop(HERE, "n2", crop, mass) for crop, mass in heaps.items())),
        assays=(*book.assays, *([Assay(HERE, "n2", "crude_protein", protein, "%", "as_fed")] if protein else [])),
    )


@pytest.fixture
def at_home(demo_book, tmp_path):
    """The demo book lying in a folder of its own, so that mixes can be kept beside it."""
    return replace(demo_book, path=tmp_path / "farm.xlsx")


@pytest.fixture
def drawn_down(at_home):
    """The north bin drawn down: fewer beans and chickpeas at the bottom, and less protein."""
    moved = {"triticale": 300.0, "faba_low_tannin": 25.0, "chickpea_desi": 40.0, "camelina_seed": 15.0}
    return second_sample(at_home, HEAPS | moved, 12.9)


@pytest.fixture
def same_again(at_home):
    """A second sample that differs by a kernel here and there."""
    return second_sample(at_home, HEAPS | {"triticale": 258.0, "chickpea_desi": 63.0}, 14.85)


@pytest.fixture
def grower(at_home, library):
    """The grower ration from the north bin."""
    (ration,) = formulate(Farm(at_home, library), ["sw_gro_25_50"], ["north"])
    return ration
