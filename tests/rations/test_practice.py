"""What practice advises (fibre, fat, coarse calcium, milk sugar) gives way to cost: no animal lives on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog

from rationlp.book.records import OwnRequirement, Place
from rationlp.farm import Farm
from rationlp.rations.answer.lines import PRACTICE
from rationlp.rations.answer.model import Shortfall, Side
from rationlp.rations.answer.short import short_reasons
from rationlp.rations.formulate import solve_rations
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.rations.program.rows import PRACTICE_RANK, PRICED_RANKS
from rationlp.rations.solve.nearest import WORTH, NearestAtPrices, without_dear_practice
from rationlp.reasons import Kind, Severity
from rationlp.sheets.weights.rounding import whole_mix
from rationlp.sheets.weights.scale import exact, farm_scale

STAGE = "sw_gest_p2_early"
FIBRE = ("bran", "alfalfa", "canola_meal")


def with_offers(book, leave_out=(), **prices):
    """The book without some offers, and with others at a price per tonne."""
    kept = [o for o in book.supplements if o.offer not in leave_out]
    return replace(
        book,
        supplements=tuple(replace(o, price_per_tonne=prices.get(o.offer, o.price_per_tonne)) for o in kept),
    )


def only_ration(book, library):
    (made,) = solve_rations(Farm(book, library), [STAGE], ["north"])
    return made


def least(program, worth):
    """scipy's cheapest energy, a slack of each bound of practice at `worth` a tonne: shares, and the slacks' sum."""
    n = len(program.columns)
    practice = [row for row in program.rows if row.rank in PRICED_RANKS]
    upper, equal = [], []
    for row in program.rows:
        slack = [-float(row is other) for other in practice]
        sign = -1.0 if row.sense == ">=" else 1.0
        (equal if row.sense == "=" else upper).append([*(sign * a for a in row.coefficients), *slack])
    answer = linprog(
        [*program.costs, *[worth] * len(practice)],
        np.array(upper),
        np.zeros(len(upper)),
        np.array([*equal, [*program.normalizer, *[0.0] * len(practice)]]),
        [*[0.0] * len(equal), 1.0],
        method="highs",
    )
    found = answer.x / answer.x[:n].sum()
    return found[:n], float(found[n:].sum())


@pytest.mark.slow
@pytest.mark.parametrize("soy", [440, 150, 60])
def test_fibre_is_missed_where_that_saves_more_than_it_is_worth(soy, demo_book, library):
    """Of sows without bran: 27 % of protein from 40 % of soybean meal was given for 0.7 points of fibre."""
    made = only_ration(with_offers(demo_book, FIBRE, soy48_bulk=soy, soy48_bags=soy), library)
    program = made.formula.program
    careless, _ = least(program, 0.0)
    _, short = least(program, WORTH * float(np.dot(program.costs, careless)))
    (missed,) = made.ration.shortfalls
    assert missed.nutrient == "crude_fibre" and made.verdict.severity is Severity.ASK
    assert missed.short_pct / 100 == pytest.approx(short, abs=5e-3)  # but for dust and crystals
    (asked,) = [r for r in made.verdict.weighing(Severity.ASK) if r.nutrient == "crude_fibre"]
    assert "in practice they get at least 5" in asked.text and "need" not in asked.text


@pytest.mark.slow
def test_no_limestone_fills_a_nearest_mix(demo_book, library):
    """Calcium stood at its ceiling, 0.894 and 0.65 %, in dry sows' feed that was asked about only for its fibre: the
    nearest mix was the cheapest by weight where every other ration is the cheapest energy."""
    made = solve_rations(Farm(with_offers(demo_book, FIBRE), library), [STAGE, "sw_gest_p2_late"], ["north"])
    for one in made:
        least = max(line.minimum or 0.0 for line in one.ration.requirements if line.nutrient == "calcium")
        assert one.ration.status == "nearest" and one.ration.analysis["calcium"] < 1.1 * least


@pytest.mark.slow
def test_no_bound_of_the_trade_is_passed_for_what_practice_advises(demo_book, library):
    """Protein past the 24 % that the trade uses at most brought the last of the fibre."""
    made = only_ration(with_offers(demo_book, FIBRE, soy48_bulk=1, soy48_bags=1), library)
    assert [each.nutrient for each in made.ration.shortfalls] == ["crude_fibre"]
    assert not [r for r in made.verdict.of(Kind.USUAL) if r.severity is not Severity.FEED]


@pytest.mark.slow
def test_dear_fibre_in_a_ration_that_keeps_it_is_told_with_the_cheaper_mix(demo_book, library):
    def told(book):
        return [w for w in only_ration(book, library).ration.warnings if "advice of practice" in w]

    few = tuple(offer for offer in FIBRE if offer != "alfalfa")
    (words,) = told(with_offers(demo_book, few, alfalfa=2500))
    assert words.startswith("Crude fibre at least 5 %: the advice of practice, and dear here.")
    assert not told(with_offers(demo_book, few, alfalfa=150))
    dear = with_offers(demo_book, few, alfalfa=2500)
    lower = OwnRequirement(Place(), STAGE, "crude_fibre", 3.0, None, "%", "kg")  # what the sentence says to do
    assert not told(replace(dear, own_stages=(lower,)))
    cheaper = only_ration(replace(dear, own_stages=(lower,)), library).ration
    assert (
        cheaper.status == "optimal" and cheaper.cost_per_tonne < 0.8 * only_ration(dear, library).ration.cost_per_tonne
    )


@pytest.mark.slow
def test_a_nearest_mix_without_the_confidence_of_the_book_says_so(demo_book, library):
    """Fibre alone was asked about, and amino acids were met with a chance of one half."""
    sure = replace(demo_book, farm=replace(demo_book.farm, confidence_pct=90.0))
    made = only_ration(with_offers(sure, FIBRE), library)
    assert made.ration.status == "nearest"
    (asked,) = [r for r in made.verdict.weighing(Severity.ASK) if "on averages" in r.text]
    assert asked.limit == 90
    assert not [r for r in only_ration(sure, library).verdict.reasons if "on averages" in r.text]


@pytest.mark.slow
def test_the_mix_sheet_misses_what_the_ration_misses(demo_book, library):
    made = only_ration(with_offers(demo_book, FIBRE), library)
    scale = farm_scale(made.farm.settings)
    weighed = whole_mix(made, exact(made.farm.settings.batch_kg, scale.unit), scale)
    (short,), (of_sheet,) = made.ration.shortfalls, weighed.ration.shortfalls
    assert of_sheet.nutrient == short.nutrient and of_sheet.short_pct == pytest.approx(short.short_pct, abs=0.5)


@pytest.mark.slow
def test_a_vitamin_that_no_premix_brings_is_not_bought_with_grain(demo_book, library):
    """Boars under EU copper and vitamin D, so that the two premixes share one dose and biotin is short: peas and corn
    took most off that want, at 7 % more cost. In a bin of wheat it was 2.9 % of phosphate: the need follows energy."""
    lawful = replace(demo_book, farm=replace(demo_book.farm, jurisdiction="eu"))
    (made,) = solve_rations(Farm(with_offers(lawful, FIBRE), library), ["sw_boar"], ["north"])
    program = made.formula.program
    careless, _ = least(program, 0.0)
    _, short = least(program, WORTH * float(np.dot(program.costs, careless)))
    assert {each.nutrient for each in made.ration.shortfalls} == {"biotin", "crude_fibre"}
    assert sum(each.short_pct for each in made.ration.shortfalls) == pytest.approx(100 * short, abs=1.0)


def test_what_animals_need_is_not_told_as_practice(library):
    short = [
        Shortfall(nutrient, nutrient, "%", 2.0, 1.0, 50.0, Side.MINIMUM, PRACTICE)
        for nutrient in ("zinc", "biotin", "crude_fibre")
    ]
    texts = [reason.text for reason in short_reasons(short, library)]
    assert ["need" in text for text in texts] == [True, True, False]


def test_a_program_without_a_mix_has_none_that_misses_practice():
    rows = (
        ProgramRow("law", (1.0, 1.0), "<="),
        ProgramRow("fibre", (-1.0, 1.0), ">=", relaxable=True, rank=PRACTICE_RANK),
    )
    program = Program(("a", "b"), (1.0, 2.0), rows, (1.0, 1.0))
    assert without_dear_practice(program) == ()
    assert NearestAtPrices(program).mix(program.costs) is None
