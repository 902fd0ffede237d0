"""A farm's own proximates of a feed re-estimate what follows from them, and the ration says so."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rationlp.book.reading.read import read_book
from rationlp.errors import BookError
from rationlp.farm import Farm
from rationlp.figures import feed_figures
from rationlp.library import Library
from rationlp.rations.formulate import formulate

STAGE = [
    {"stage": "own", "nutrient": "sid_lysine_pig", "minimum": 0.8, "unit": "%", "per": "kg"},
    {"stage": "own", "nutrient": "ne_pig", "minimum": 2300, "unit": "kcal/kg", "per": "kg"},
]
OFFERS = [
    {"offer": "wheat", "feed": "wheat_soft", "price": 200},
    {"offer": "soya", "feed": "soybean_meal_48_dehulled_solvent", "price": 400},
]


def book_with(own: list[dict[str, object]], write_book: Callable[..., Path], library: Library):
    sheets = {"farm": [{"setting": "name", "value": "t"}], "supplements": OFFERS, "own_stages": STAGE, "own_feeds": own}
    return read_book(write_book(sheets), library.units)


def own(nutrient: str, value: float) -> dict[str, object]:
    return {"feed": "wheat_soft", "nutrient": nutrient, "value": value, "unit": "%", "basis": "dry_matter"}


@pytest.mark.slow
def test_own_protein_moves_lysine_and_energy(write_book: Callable[..., Path], library: Library) -> None:
    book = book_with([own("crude_protein", 14.0)], write_book, library)
    figures = feed_figures("wheat_soft", book, library)
    dry = figures.dry_matter_pct / 100
    assert figures.values["crude_protein"] == pytest.approx(14.0 * dry)
    line = {protein: 0.095 + 0.0216 * 0.88 * protein for protein in (14.0, 12.1)}
    table = library.figures["wheat_soft"]
    assert table["crude_protein"].value == pytest.approx(12.1, abs=0.05)
    assert figures.values["lysine"] == pytest.approx(table["lysine"].value * dry * line[14.0] / line[12.1], rel=0.01)
    assert figures.values["ne_pig"] < table["ne_pig"].value * dry
    assert figures.own == {"crude_protein"}
    (ration,) = formulate(Farm(book, library), ["own"])
    (note,) = [note for note in ration.notes if "farm's own" in note]
    assert "Total lysine" in note and "Net energy" in note and "_" not in note


def test_without_own_figures_nothing_is_re_estimated(write_book: Callable[..., Path], library: Library) -> None:
    book = book_with([], write_book, library)
    assert feed_figures("wheat_soft", book, library).estimated == ()
    (ration,) = formulate(Farm(book, library), ["own"])
    assert not [note for note in ration.notes if "farm's own" in note]


def test_own_figures_that_cannot_be_together_are_a_problem_with_its_cell(
    write_book: Callable[..., Path], library: Library
) -> None:
    book = book_with([own("crude_protein", 80.0), own("ash", 40.0)], write_book, library)
    with pytest.raises(BookError) as caught:
        feed_figures("wheat_soft", book, library)
    (problem,) = caught.value.problems
    assert problem.sheet == "own_feeds" and problem.cell.startswith("C")
