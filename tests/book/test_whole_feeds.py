"""A farm's own figures are judged as a whole, laid over the feed of the library; floors are added up by stage."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rationlp.book import check_book
from rationlp.every_problem import every_problem
from rationlp.library import Library

SOYA = "soybean_meal_48_dehulled_solvent"


@pytest.fixture
def errors(write_book: Callable[..., Path], library: Library) -> Callable[..., list[tuple[str, str]]]:
    """Place and finding of each error of a small book with these rows."""

    def check(**sheets: list[dict[str, object]]) -> list[tuple[str, str]]:
        offers = [
            {"offer": f"offer_{i}", "feed": feed, "price": 200}
            for i, feed in enumerate(dict.fromkeys(row["feed"] for row in sheets.get("own_feeds", [{"feed": "corn"}])))
        ]
        book = {"farm": [{"setting": "name", "value": "t"}], "supplements": offers, **sheets}
        problems = check_book(write_book(book), library)
        return [(f"{p.sheet}!{p.cell}", p.found) for p in problems if p.severity == "error"]

    return check


def own(feed: str, nutrient: str, value: float, unit: str = "%", basis: str = "as_fed") -> dict[str, object]:
    return {"feed": feed, "nutrient": nutrient, "value": value, "unit": unit, "basis": basis}


IMPOSSIBLE = {
    "lysine in % for g/kg": ([own(SOYA, "lysine", 29)], "C2", "amino acids add up to 60.12 %"),
    "lysine of corn": ([own("corn", "lysine", 2.4)], "C2", "of the crude protein"),
    "protein beyond all the rest": ([own("corn", "crude_protein", 99, basis="dry_matter")], "C2", "NFE gives"),
    "two parts": (
        [own("my_beans", "crude_protein", 48), own("my_beans", "starch", 55)],
        "C3",
        "= 103 %",
    ),
    "amino acid of a new feed": (
        [own("my_beans", "crude_protein", 27), own("my_beans", "lysine", 29)],
        "C3",
        "amino acids add up to 29 %",
    ),
    "more metabolizable than digestible": ([own("barley_hulled", "me_pig", 4200, "kcal/kg")], "C2", "me_pig 4772.7"),
    "digestible beyond gross": ([own("triticale", "de_pig", 4500, "kcal/kg")], "C2", "de_pig"),
    "phytate beyond phosphorus": ([own("wheat_soft", "phytate_phosphorus", 0.5)], "C2", "phytate_phosphorus 0.5682"),
}


@pytest.mark.parametrize("case", IMPOSSIBLE)
def test_figures_that_cannot_be_together(errors, case):
    rows, cell, words = IMPOSSIBLE[case]
    found = errors(own_feeds=rows)
    assert [place for place, _ in found] == [f"own_feeds!{cell}"]
    assert words in found[0][1]


BELIEVED = {
    "soya by the sheet": [own(SOYA, "lysine", 2.9), own(SOYA, "crude_protein", 47)],
    "in g/kg": [own(SOYA, "lysine", 29, "g/kg")],
    "phytate of its own, the rest of the table": [own("wheat_soft", "phytate_phosphorus", 0.26)],
    "phosphorus and phytate": [own("wheat_soft", "phosphorus", 0.4), own("wheat_soft", "phytate_phosphorus", 0.3)],
    "full wheat": [own("wheat_soft", "ash", 2.4), own("wheat_soft", "starch", 62)],
    "a crystal of its own": [own("my_threonine", "threonine", 98.5), own("my_threonine", "crude_protein", 72)],
    "urea": [own("my_urea", "crude_protein", 281)],
    "no dry matter": [own("my_mash", "crude_protein", 16), own("my_mash", "me_pig", 3100, "kcal/kg")],
    "nutrients of its own": [own("my_feed", "test_protein", 900, "per_kg"), own("my_feed", "vim", 400, "per_kg")],
    "a richer barley": [own("barley_hulled", "crude_protein", 13.5), own("barley_hulled", "lysine", 0.47)],
}


@pytest.mark.parametrize("case", BELIEVED)
def test_figures_that_can_be(errors, case):
    assert errors(own_feeds=BELIEVED[case]) == []


def test_one_faulty_row_is_not_judged_twice(errors):
    rows = [own("corn", "crude_protein", "nine"), own("corn", "lysine", 2.4)]
    assert [place for place, _ in errors(own_feeds=rows)] == ["own_feeds!C2"]


def test_check_lists_all_of_them_at_once(write_book, library):
    book = write_book(
        {
            "farm": [{"setting": "name", "value": "t"}],
            "supplements": [
                {"offer": "corn", "feed": "corn", "price": 200},
                {"offer": "soya", "feed": SOYA, "price": 400},
            ],
            "own_feeds": [own(SOYA, "lysine", 29), own("corn", "crude_protein", 99, basis="dry_matter")],
        }
    )
    assert [p.cell for p in every_problem(book, None) if p.severity == "error"] == ["C2", "C3"]


def floor(stage: str, feed: str, pct: float) -> dict[str, object]:
    return {"stage": stage, "feed": feed, "min_pct": pct}


STAGE, OTHER = "sw_gro_25_50", "sw_fin_75_100"


@pytest.mark.parametrize(
    ("rows", "cells"),
    [
        ([floor(STAGE, "corn", 60), floor(STAGE, "barley_hulled", 50)], ["C3"]),
        ([floor("all", "corn", 60), floor("all", "barley_hulled", 50)], ["C3"]),
        ([floor("all", "corn", 60), floor(STAGE, "barley_hulled", 50)], ["C3"]),
        ([floor(STAGE, "barley", 60), floor(STAGE, "barley_hulled", 50)], []),  # one lies within the other
        ([floor(STAGE, "barley", 30), floor(STAGE, "barley_hulled", 25), floor(STAGE, "corn", 75)], ["C4"]),
        ([floor("all", "corn", 60), floor(STAGE, "corn", 20), floor(STAGE, "barley_hulled", 70)], []),  # its own floor
        ([floor(STAGE, "corn", 60), floor(OTHER, "barley_hulled", 50)], []),
        ([floor(STAGE, "corn", 50), floor(STAGE, "barley_hulled", 50)], []),
    ],
)
def test_floors_of_a_stage_that_cannot_stand_together(errors, rows, cells):
    assert [place for place, _ in errors(own_limits=rows)] == [f"own_limits!{cell}" for cell in cells]


@pytest.mark.parametrize(("protein", "cells"), [(99, ["supplements!D2"]), (8.4, []), (11, [])])
def test_protein_of_an_offer_that_its_feed_cannot_have(errors, protein, cells):
    offer = {"offer": "corn", "feed": "corn", "price": 200, "protein_pct": protein}
    assert [place for place, _ in errors(supplements=[offer])] == cells
