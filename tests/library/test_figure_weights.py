"""Which figures carry the rations, and how those were obtained."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import pytest
from click.testing import CliRunner

from rationlp.book.records import Book, OwnFigure, Place
from rationlp.cli.app import app
from rationlp.farm import Farm
from rationlp.library import Library
from rationlp.library.records import Figure
from rationlp.rations.formulate import solve_rations
from rationlp.rations.studies.figure_weights import (
    A_TENTH,
    RECALLED,
    FigureWeight,
    figure_weights,
    handed_down,
    share_by_how,
    share_read,
    weights_in_demo,
)
from rationlp.units import as_fed

pytestmark = pytest.mark.slow

HEAVIEST = 15
ONE_SOURCE = {  # among the heaviest, with one source or none: why
    ("triticale", "crude_protein"): "eight genotypes; 14.0 (sd 1.4) elsewhere, within two lots' spread",
    ("corn", "crude_protein"): "one page that prints two feed tables beside its own 251 lots",
    ("canola_oil", "amen_poultry"): "no assay of canola oil found; as soybean oil",
    ("chickpea_kabuli", "amen_poultry"): "one page; a broiler AME of 2451 stands against it, type not said",
    ("faba_low_tannin", "amen_poultry"): "eight genotypes in hens at two sites; pullets, turkeys: coloured ones only",
    ("monocalcium_phosphate", "phosphorus"): "seven makers in one abstract",
    ("limestone_fine", "calcium"): "a survey of many quarries",
    ("wheat_bran", "crude_fibre"): "the bulk of dry sows rests on it; recalled, no open table found",
}


@pytest.fixture(scope="module")
def stated(library: Library) -> list[FigureWeight]:
    return weights_in_demo(library)


def rows(*words: str) -> list[dict[str, str]]:
    answer = CliRunner().invoke(app, ["library", *words, "--format", "csv"])
    assert answer.exit_code == 0, answer.output
    return list(csv.DictReader(io.StringIO(answer.stdout)))


@pytest.mark.slow
def test_at_least_half_of_the_weight_was_read(stated: list[FigureWeight], library: Library) -> None:
    by_how = share_by_how(handed_down(stated, library))
    print("\n" + ", ".join(f"{how} {100 * share:.1f} %" for how, share in by_how.items()))
    assert sum(by_how.values()) == pytest.approx(1)
    assert share_read(stated, library) >= 0.8
    assert sum(by_how[how] for how in RECALLED) == pytest.approx(1 - share_read(stated, library))


@pytest.mark.slow
def test_the_heaviest_rest_on_two_sources_or_it_is_known_why_not(stated: list[FigureWeight], library: Library) -> None:
    heaviest = handed_down(stated, library)[:HEAVIEST]
    single = {(row.feed, row.nutrient) for row in heaviest if len(row.source.split("; ")) < 2}
    assert single <= set(ONE_SOURCE)
    assert sum(row.how in RECALLED for row in heaviest) <= 1


@pytest.mark.slow
@pytest.mark.parametrize(
    ("stage", "feed", "nutrient"),
    [
        ("turkey_4_8", "corn", "amen_poultry"),
        ("broiler_3_6", "dl_methionine", "methionine"),
        ("hen_brown_110", "limestone_fine", "calcium"),
        ("sw_lact_p2_230", "soybean_meal_48_dehulled_solvent", "ne_pig"),
    ],
)
def test_a_weight_is_what_the_cost_moves_by(
    stage: str, feed: str, nutrient: str, demo_book: Book, library: Library
) -> None:
    """The ration solved again with the figure a little higher costs what the weight says, per tonne of its energy."""
    (made, *_) = solve_rations(Farm(demo_book, library), [stage])
    figure = library.figures[feed][nutrient]
    weight = next(row.weight for row in figure_weights([made], library) if (row.feed, row.nutrient) == (feed, nutrient))
    step = 1e-4
    (moved, *_) = solve_rations(Farm(with_figure(demo_book, feed, figure, 1 + step, library), library), [stage])
    assert made.answer.solution is not None and moved.answer.solution is not None
    assert made.answer.amounts is not None
    change = (made.answer.solution.objective - moved.answer.solution.objective) / sum(made.answer.amounts)
    assert abs(change) == pytest.approx(weight / A_TENTH * step, rel=0.02)


def with_figure(book: Book, feed: str, figure: Figure, factor: float, library: Library) -> Book:
    """The book with a figure of its own; nothing else of the feed follows from it."""
    value = as_fed(figure.value * factor, library.feeds[feed].dry_matter_pct)
    own = OwnFigure(Place("own_feeds", 2, {}), feed, figure.nutrient, value, figure.unit, "as_fed")
    return replace(book, own_feeds=(*book.own_feeds, own))


def test_weight_goes_to_what_a_figure_was_computed_from(stated: list[FigureWeight], library: Library) -> None:
    weights = {(row.feed, row.nutrient): row for row in handed_down(stated, library)}
    before = {(row.feed, row.nutrient): row for row in stated}
    assert weights["triticale", "ne_pig"].weight < 0.05 * before["triticale", "ne_pig"].weight
    assert weights["triticale", "de_pig"].weight > 0.7 * before["triticale", "ne_pig"].weight
    assert sum(row.weight for row in weights.values()) == pytest.approx(sum(row.weight for row in stated))


@pytest.mark.slow
def test_recalled_figures_come_by_weight() -> None:
    found = rows("--memory")
    assert {row["how"] for row in found} == set(RECALLED)
    weights = [float(row["weight"]) for row in found]
    assert weights == sorted(weights, reverse=True)


@pytest.mark.long
def test_recalled_figures_in_the_other_forms() -> None:
    document = json.loads(CliRunner().invoke(app, ["library", "--memory", "--format", "json"]).stdout)
    assert document["share_read"] >= 0.5
    assert "Recalled figures by weight" in CliRunner().invoke(app, ["library", "--memory"]).stdout
