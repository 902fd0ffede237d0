"""Computed figures name the equation that returns them, and it does."""

from __future__ import annotations

import warnings

import pytest

from rationlp.library import Library
from rationlp.library.equations import EQUATIONS, EquationError, OutsideRange
from rationlp.library.expressions import FUNCTIONS, evaluate, functions_of, inputs_of

FIGURES = {
    "corn": {
        "de_pig": 3900.0,
        "crude_protein": 9.0,
        "ether_extract": 4.0,
        "crude_fibre": 2.5,
        "ash": 1.5,
        "starch": 70.0,
        "adf": 3.0,
    },
    "rye": {"de_pig": 3600.0},
}


def test_every_computed_figure_names_its_equation_and_no_other_does(library: Library) -> None:
    rows = [
        row
        for figures in (library.figures, library.premix_figures)
        for feed in figures.values()
        for row in feed.values()
    ]
    assert [(row.feed, row.nutrient) for row in rows if (row.how == "computed") != bool(row.equation)] == []
    assert sum(bool(row.equation) for row in rows) > 600


def test_every_computed_figure_comes_out_of_its_equation(library: Library) -> None:
    values = {feed: {n: row.value for n, row in rows.items()} for feed, rows in library.figures.items()}
    amounts = {feed: {n: row.value for n, row in rows.items()} for feed, rows in library.premix_figures.items()}
    wrong = {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        for tables, known in ((library.figures, values), (library.premix_figures, amounts)):
            for feed, rows in tables.items():
                for nutrient, row in rows.items():
                    if row.equation:
                        result = evaluate(row.equation, feed, known)
                        if result != pytest.approx(row.value, rel=0.01, abs=0.0006):
                            wrong[feed, nutrient] = (row.value, result, row.equation)
    assert wrong == {}


def test_the_published_equations_are_used(library: Library) -> None:
    used = {
        name
        for rows in (*library.figures.values(), *library.premix_figures.values())
        for row in rows.values()
        if row.equation
        for name in functions_of(row.equation)
    } | {
        name
        for nutrient, rows in library.estimates.items()
        if nutrient != "amino_acids"
        for row in rows.values()
        for name in functions_of(row.equation)
    }
    assert used <= set(FUNCTIONS)
    assert {
        "gross_energy_inra",
        "gross_energy_ewan",
        "digestible_energy_of_ingredient",
        "metabolizable_energy_from_de",
        "net_energy_from_de",
        "amen_triticale",
        "amen_compound_feed",
        "nonphytate_phosphorus",
    } <= used
    assert used - {"mean", "between", "zero"} <= set(EQUATIONS)


@pytest.mark.parametrize(
    ("expression", "value"),
    [
        ("metabolizable_energy_from_de()", 3900 - 6.8 * 9),
        ("metabolizable_energy_from_de(crude_protein=10)", 3900 - 68),
        ("2 * rye.de_pig / 4 - -1", 1801.0),
        ("mean(1, 2, rye.de_pig - 3598)", 5 / 3),
        ("nfe", 83.0),
        ("net_energy_from_de(starch=starch - 10)", 0.7 * 3900 + 16.1 * 4 + 4.8 * 60 - 9.1 * 9 - 8.7 * 3),
    ],
)
def test_expressions(expression: str, value: float) -> None:
    assert evaluate(expression, "corn", FIGURES) == pytest.approx(value)


@pytest.mark.parametrize(
    ("expression", "words"),
    [
        ("no_such_equation()", "no equation named"),
        ("metabolizable_energy_from_de(", "cannot be read"),
        ("metabolizable_energy_from_de(1, 2, 3)", "does not fit"),
        ("net_energy_from_de(sugar=3)", "does not fit"),
        ("wheat.de_pig", "no feed 'wheat'"),
        ("rye.starch", "no figure for starch"),
        ("starch / (adf - 3)", "cannot divide"),
        ("__import__('os').system('true')", "no equation named"),
        ("starch if adf else 0", "not allowed"),
        ("'lysine'", "not allowed"),
        ("starch ** 9", "not allowed"),
    ],
)
def test_what_is_no_expression_is_refused(expression: str, words: str) -> None:
    with pytest.raises(EquationError, match=words):
        evaluate(expression, "corn", FIGURES)


def test_what_an_expression_depends_on() -> None:
    assert inputs_of("metabolizable_energy_from_de()") == {"de_pig", "crude_protein"}
    assert inputs_of("mean(nfe, rye.starch, 3 * adf)") == {
        "crude_protein",
        "ether_extract",
        "crude_fibre",
        "ash",
        "adf",
    }
    assert inputs_of("gross_energy_inra(ash=3)") == {"crude_protein", "ether_extract", "crude_fibre"}
