"""The program of whole weights, piece by piece: every figure here is calculated by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace

import pytest

from rationlp.errors import SolverError
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.reasons import Kind, Reason, Severity, Verdict
from rationlp.sheets.weights import missed, rounding
from rationlp.sheets.weights.missed import misses, told_of_the_ration
from rationlp.sheets.weights.rounding import _centre, _more, _prices
from rationlp.sheets.weights.scale import Scale, nearest_to
from rationlp.sheets.weights.whole_program import (
    KEEP_AWAY,
    PACKAGE_BONUS,
    SPLIT_TROUBLE,
    Asked,
    Tool,
    Way,
    WholeProgram,
    margins,
    ways,
)

TENTH = Fraction(1, 10)
SCALE = Scale("kg", Fraction(1), TENTH, Fraction(5))
BATCH = Fraction(100)
SHARES = (0.70, 0.27, 0.03)
CAP = ProgramRow("cap", (0.1, -0.02, 0.5), "<=")
NEED = ProgramRow("need", (0.1, 0.2, -1.0), ">=", relaxable=True)
SET = ProgramRow("share:meal", (-0.3, 0.7, -0.3), "=")
PROGRAM = Program(("grain", "meal", "salt"), (200.0, 400.0, 1000.0), (CAP, NEED, SET), (1.0, 1.0, 1.0))
RECIPE = SimpleNamespace(column_shares=SHARES)
COST = 278.0  # 0.70 x 200 + 0.27 x 400 + 0.03 x 1000, a tonne
MIXER, HAND, BAGS = Tool.MIXER, Tool.HAND, Tool.PACKAGES


def asked(**changed: object) -> Asked:
    """100 kg on scales of 1 kg and 100 g, below 5 kg by hand; meal in bags of 25 kg; 2 kg are worth weighing."""
    bags, least = (None, Fraction(25), None), (Fraction(2), Fraction(2), Fraction(2))
    made = Asked(PROGRAM, SHARES, BATCH, SCALE, bags, least, frozenset({0, 1}), (0.1, 0.0, 0.0))
    return replace(made, **changed)


def test_a_way_to_measure_ends_where_the_other_scale_begins():
    assert ways(BATCH, SCALE, Fraction(25)) == [
        Way(MIXER, Fraction(1), 5, 100),
        Way(HAND, TENTH, 1, 49),  # 4.9 kg; 5.0 go over the mixer scale
        Way(BAGS, Fraction(25), 1, 4),
    ]
    assert ways(Fraction(20), SCALE, Fraction(25)) == [Way(MIXER, Fraction(1), 5, 20), Way(HAND, TENTH, 1, 49)]
    assert ways(Fraction(3), SCALE, None) == [Way(HAND, TENTH, 1, 30)], "the batch is less than the mixer scale takes"
    alone = replace(SCALE, hand_step=Fraction(1), hand_below=Fraction(0))
    assert ways(BATCH, alone, None) == [Way(MIXER, Fraction(1), 1, 100)], "without a hand scale"


@pytest.mark.parametrize(("mass", "steps"), [("0.24", 2), ("0.25", 3), ("0.26", 3), ("0.04", 0), ("0.0501", 1)])
def test_the_nearest_step(mass, steps):
    assert nearest_to(Fraction(mass), TENTH) == steps * TENTH


def test_a_margin_is_what_one_step_of_its_scale_moves_a_row():
    """Grain and meal over the mixer scale (1 kg), salt by hand (0.1 kg): 0.1 x 1, 0.02 x 1, 0.5 x 0.1."""
    only_salt = ProgramRow("salt", (0.0, 0.0, 0.5), "<=")
    rows = Program(PROGRAM.columns, PROGRAM.costs, (CAP, NEED, SET, only_salt), PROGRAM.normalizer)
    assert margins(rows, [True, False, True, True], SHARES, BATCH, SCALE) == pytest.approx([0.1, 0, 0, 0.05])
    without = (0.73, 0.27, 0.0)
    assert margins(rows, [True] * 4, without, BATCH, SCALE)[-1] == 0.0, "what is not in the mix is not weighed wrong"


def test_a_step_of_the_dearest_that_goes_over_the_mixer_scale():
    """Salt (3 kg) goes over the hand scale: meal is the dearest. A hundredth of the batch, 400 of 278."""
    assert asked().one_step == pytest.approx(0.01 * 400 / COST)
    by_hand = replace(SCALE, hand_below=Fraction(80))
    assert asked(scale=by_hand).one_step == pytest.approx(0.01 * 200 / COST), "at least what there is most of"
    free = Program(PROGRAM.columns, (0.0, 0.0, 0.0), PROGRAM.rows, PROGRAM.normalizer)
    assert asked(program=free).one_step == pytest.approx(0.01)


def test_what_costs_are_fractions_of():
    assert _prices(RECIPE, asked()) == pytest.approx((COST, COST * 100))
    energy = replace(PROGRAM, normalizer=(3.0, 2.0, 0.0))  # 0.70 x 3 + 0.27 x 2 = 2.64
    assert _prices(RECIPE, asked(program=energy)) == pytest.approx((COST / 2.64, COST * 100))
    unpaid = SimpleNamespace(column_shares=(1.0, 0.0, 0.0))
    no_cost = replace(PROGRAM, costs=(0.0, 400.0, 1000.0))
    assert _prices(unpaid, asked(program=no_cost)) == pytest.approx((0.0, 1000.0 * 100)), (
        "grain alone, which costs nothing"
    )
    assert _prices(unpaid, asked(program=replace(PROGRAM, costs=(0.0, 0.0, 0.0)))) == (0.0, 100.0)


def test_columns_and_what_they_cost():
    """Beyond 278 a tonne a kilogram of grain saves 78, one of meal costs 122, of the 27,800 of the batch."""
    program = WholeProgram(asked(), (0, 1), split=True)
    ways_of = [(candidate, way) for candidate, _, way in program.counts]
    assert ways_of == [
        (0, Way(MIXER, Fraction(1), 5, 100)),
        (0, Way(HAND, TENTH, 20, 49)),  # from the 2 kg that are worth weighing
        (1, Way(MIXER, Fraction(1), 5, 100)),
        (1, Way(HAND, TENTH, 20, 49)),
        (1, Way(BAGS, Fraction(25), 1, 4)),
    ]
    found, price = program.costs(COST, COST * 100), COST * 100
    counts = [column for _, column, _ in program.counts]
    assert [found[column] for column in counts] == pytest.approx(
        [-78 / price, -7.8 / price, 122 / price, 12.2 / price, 25 * 122 / price]
    )
    switches = [program.switches[column] for column in counts]
    assert [found[column] for column in switches] == [0, 0, 0, 0, -PACKAGE_BONUS]
    assert [found[column] for column in program._extra] == [SPLIT_TROUBLE] * 2, "less than half of one step, 0.0072"
    large = WholeProgram(asked(batch=Fraction(10_000)), (0, 1), split=True)
    assert large.costs(COST, COST * 10_000)[large._extra[0]] == pytest.approx(0.0001 * 1000 / COST / 2), (
        "half a step of salt"
    )
    amounts = [0.0] * len(program.columns)
    for column, count in zip(counts, (70, 0, 2, 0, 1), strict=True):
        amounts[column] = count
    assert program.money(COST, price, amounts) == pytest.approx((-78 * 70 + 122 * 27) / price)
    assert program.read(amounts) == [(0, 70, ways_of[0][1]), (1, 2, ways_of[2][1]), (1, 25, ways_of[4][1])]


def test_a_row_comes_closer_than_its_margin_at_a_price():
    program = WholeProgram(asked(), (0, 1, 2))
    (closer,) = program._closer.values()
    assert program.columns[closer] == (0.0, 0.1, False)
    amounts = [0.0] * len(program.columns)
    amounts[closer] = 0.05
    assert program.closer(amounts) == pytest.approx(KEEP_AWAY / 2)
    assert program.costs(COST, COST * 100)[closer] == pytest.approx(KEEP_AWAY / 0.1)
    terms, low, high = program._packed(CAP, 0)
    assert (low, high, terms[closer]) == (None, -0.1, -1.0)
    assert program._packed(NEED, 1)[1:] == (0.0, None), "a requirement has no margin"
    assert program._packed(CAP)[1:] == (None, 0.0), "nor has a row that is not of the program"
    by_mixer = next(column for candidate, column, way in program.counts if candidate == 2 and way.tool is MIXER)
    by_hand = next(column for candidate, column, way in program.counts if candidate == 2 and way.tool is HAND)
    assert terms[by_mixer] == pytest.approx(0.5) and terms[by_hand] == pytest.approx(0.05)
    raised = WholeProgram(asked(margins=(0.0, 0.2, 0.0)), (0, 1, 2))
    terms, low, high = raised._packed(NEED, 1)
    assert (low, high, terms[raised._closer[1]]) == (0.2, None, 1.0)


def test_the_batch_is_exact_in_what_everything_is_a_multiple_of():
    program = WholeProgram(asked(), (0, 1, 2))
    terms, low, high = program._total()
    assert low == high == 1000.0, "100 kg in tenths"
    assert [terms[column] for _, column, _ in program.counts] == [10, 1, 10, 1, 250, 10, 1]
    ounces = replace(SCALE, hand_step=Fraction(28349523125, 10**12))  # kilograms beside ounces have no such mass
    program = WholeProgram(asked(scale=ounces), (0, 2))
    terms, low, high = program._total()
    step = float(ounces.hand_step)
    assert program.slack == ounces.hand_step / 2
    assert (low, high) == pytest.approx((100 / step - 0.5, 100 / step + 0.5))


def test_around_the_ration_five_steps_are_looked_at():
    """Grain 65 to 75 kg, meal 22 to 32 (one bag), salt by hand 0.5 kg around where the hand scale shows 10 g."""
    fine = replace(SCALE, hand_step=TENTH / 10)
    program = WholeProgram(asked(scale=fine), (0, 1, 2), near=(70.0, 27.0, 3.0))
    assert [(candidate, way.tool, way.least, way.most) for candidate, _, way in program.counts] == [
        (0, MIXER, 65, 75),
        (1, MIXER, 22, 32),
        (1, BAGS, 1, 1),
        (2, MIXER, 5, 8),
        (2, HAND, 200, 400),
    ]
    split = WholeProgram(asked(scale=fine), (0,), near=(70.0, 27.0, 3.0), split=True)
    assert [(way.tool, way.least, way.most) for _, _, way in split.counts] == [(MIXER, 65, 75), (HAND, 200, 200)], (
        "the small part is two steps of the mixer scale"
    )


def test_rows_that_no_counts_break_are_left_out():
    loose = ProgramRow("loose", (0.1, 0.2, 0.3), ">=")
    program = WholeProgram(asked(program=replace(PROGRAM, rows=(CAP, loose)), margins=(0.0, 0.0)), (0, 1, 2))
    rows = program.rows()
    assert len(rows) == len(program._laws) + 1 and program._packed(CAP, 0) in rows
    assert len(program.rows([ProgramRow("cut", (-1.0, 0.0, 0.5), ">=")])) == len(rows) + 1


def test_each_requirement_and_set_share_has_a_shortfall():
    """A requirement in the whole batch (100 kg), a set share of 30 % in its 30 kg; a cap has none."""
    program = WholeProgram(asked(margins=(0.0, 0.0, 0.0)), (0, 1, 2))
    rows, ranks = program.elastic_rows()
    cap, need, fixed = rows[len(program._laws) :]
    assert not ranks.keys() & cap[0].keys()
    assert [cells[column] for cells, _, _ in (need,) for column in cells if column in ranks] == [100.0]
    assert sorted(fixed[0][column] for column in fixed[0] if column in ranks) == pytest.approx([-30.0, 30.0])
    assert len(ranks) == 3 and ranks[next(c for c in need[0] if c in ranks)] == NEED.rank


def test_the_ration_stands_where_no_scale_errs_past_a_cap(monkeypatch):
    """By how far the cap is kept (0.05) it is not by a step (0.1): the middle is looked for, else it is not."""
    monkeypatch.setattr(rounding, "solve_whole", None)
    far = ProgramRow("far", (-1.0, -1.0, 0.0), "<=")  # kept by 97
    kept = asked(program=replace(PROGRAM, rows=(far, NEED)), margins=(1.0, 0.0))
    assert _centre(RECIPE, kept, (0, 1, 2)) == (pytest.approx([70.0, 27.0, 3.0]), 0.0)
    near = ProgramRow("near", (0.1, -0.27, 0.0), "<=")  # 7 - 7.29
    with pytest.raises(TypeError):
        _centre(RECIPE, asked(program=replace(PROGRAM, rows=(near, NEED)), margins=(0.3, 0.0)), (0, 1, 2))


def test_a_price_a_tonne_is_settled_at_once():
    """Where every kilogram counts alike no other mix of the batch has more of it."""
    program = WholeProgram(asked(), (0, 1))
    assert _more(program, COST, COST * 100, [0.0] * len(program.columns)) == 0.0


def test_an_ingredient_is_measured_one_way_or_in_two_parts_at_a_price():
    once, split = WholeProgram(asked(), (0,)), WholeProgram(asked(), (0,), split=True)
    switches = [once.switches[column] for _, column, _ in once.counts]
    assert (dict.fromkeys(switches, 1.0), None, 1.0) in once._laws and not once._extra
    at_once = dict.fromkeys((split.switches[column] for _, column, _ in split.counts), 1.0)
    assert ({**at_once, split._extra[0]: -1.0}, None, 1.0) in split._laws
    for _, count, way in once.counts:
        switch = once.switches[count]
        assert ({count: 1.0, switch: -float(way.least)}, 0.0, None) in once._laws
        assert ({count: 1.0, switch: -float(way.most)}, None, 0.0) in once._laws


def test_what_is_far_above_the_least_worth_weighing_stays():
    """70 kg of grain, looked for from 65 kg on, cannot drop out: one count and no switch, its small part has one."""
    sure = WholeProgram(asked(), (0,), near=(70.0, 27.0, 3.0))
    assert sure.columns[sure.counts[0][1]] == (65.0, 75.0, True) and not sure.switches
    split = WholeProgram(asked(), (0,), near=(70.0, 27.0, 3.0), split=True)
    assert [count in split.switches for _, count, _ in split.counts] == [False, True] and len(split._extra) == 1
    doubtful = WholeProgram(asked(least=(Fraction(66), 2, 2)), (0,), near=(70.0, 27.0, 3.0))
    assert [count in doubtful.switches for _, count, _ in doubtful.counts] == [True]


def test_what_goes_over_the_mixer_scale_is_large():
    program = WholeProgram(asked(), (), near=(5.0, 4.9, 3.0))
    assert [program._is_large(candidate) for candidate in range(3)] == [True, False, False]


def test_anything_of_some_is_worth_weighing():
    assert asked().weighing_anything_of([1]).least == [2, TENTH, 2]


DOSE = ProgramRow("premix:vitamins", (-0.02, -0.02, 0.98), "=")
"""2 % of what stands third: 2 kg in the batch, within 2 % of them."""


def missed_of(monkeypatch, amounts, rows=(NEED, SET, DOSE), dose_told=False, chances=(), larger=""):
    monkeypatch.setattr(missed, "even_words", lambda *_: larger)
    monkeypatch.setattr(missed, "row_words", lambda *_: "the cap")
    program = replace(PROGRAM, rows=rows)
    formula = SimpleNamespace(program=program, sources=[None] * len(rows))
    recipe = SimpleNamespace(formula=formula, chances=chances, farm=SimpleNamespace(library=None))
    return missed.missed_rows(recipe, asked(program=program, shares=(0.68, 0.30, 0.02), margins=()), amounts, dose_told)


def test_a_dose_or_a_set_share_that_the_scale_cannot_show(monkeypatch):
    """Meal is set to 30 %, the dose to 2 kg; a need that is missed is told by the ration judged again."""
    assert missed_of(monkeypatch, [68.0, 30.0, 2.0]) == []
    (dose,) = missed_of(monkeypatch, [67.9, 30.0, 2.1], larger="Mix 150 kg.")
    assert dose.severity is Severity.ASK and dose.value == pytest.approx(105) and dose.text.endswith("Mix 150 kg.")
    assert dose.text.startswith("One dose of vitamins: 105 % of it")
    (near,) = missed_of(monkeypatch, [68.03, 30.0, 1.97])  # below its dose, by no more than 2 %
    assert near.severity is Severity.FEED and near.value == pytest.approx(98.5)
    assert missed_of(monkeypatch, [67.9, 30.0, 2.1], dose_told=True) == []
    (told,) = missed_of(monkeypatch, [67.9, 30.0, 2.1], dose_told=True, larger="Mix 150 kg.")
    assert (told.kind, told.severity, told.text) == (Kind.PREMIX, Severity.ASK, "Mix 150 kg.")
    (share,) = missed_of(monkeypatch, [65.0, 33.0, 2.0])
    assert share.severity is Severity.ASK and share.value == pytest.approx(110)


def test_a_cap_that_is_passed_is_no_answer(monkeypatch):
    over = [10.0, 30.0, 60.0]  # 1 - 0.6 + 30 of the cap
    with pytest.raises(SolverError, match="the cap"):
        missed_of(monkeypatch, over, rows=(CAP,))
    short = [0.0, 0.0, 100.0]
    assert missed_of(monkeypatch, short, rows=(NEED,)) == [], "a requirement is told where the mix is judged"


def test_a_chance_that_the_weights_lose_is_asked_about(monkeypatch):
    for achieved, told in ((0.80, 0), (0.75, 1)):
        monkeypatch.setattr(missed, "achieved", lambda *_, achieved=achieved: achieved)
        found = missed_of(monkeypatch, [68.0, 30.0, 2.0], chances=[SimpleNamespace(probability=0.8)])
        assert [row.severity for row in found] == [Severity.ASK] * told


def reason(severity: Severity, nutrient: str, kind: Kind = Kind.REQUIREMENT) -> Reason:
    return Reason(kind, severity, f"{nutrient} {severity}", nutrient=nutrient)


def test_what_the_weights_miss_is_what_the_ration_met():
    exact = Verdict((reason(Severity.FEED, "lysine"), reason(Severity.ASK, "calcium"), reason(Severity.ASK, "zinc")))
    weighed = Verdict(
        (
            reason(Severity.ASK, "lysine"),
            reason(Severity.ASK, "calcium"),  # missed by the ration too
            reason(Severity.FEED, "sodium"),  # told, and no question
            reason(Severity.STOP, "biotin", Kind.PREMIX),
            reason(Severity.ASK, "aflatoxin", Kind.LAW),
        )
    )
    assert misses(exact, weighed) == ("lysine ask", "biotin stop")
    assert [row.nutrient for row in told_of_the_ration(exact, weighed)] == ["zinc"]
