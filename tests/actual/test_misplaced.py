"""A column of weights that is not where it belongs is asked about by its cause, before anything is judged."""

from __future__ import annotations

import pytest

from rationlp.actual.slips import Entry, a_row_off, doubtful, on_the_wrong_sheet, with_their_vessel
from rationlp.units import KG_PER_LB

GROWERS = {"premix_pigs": 2.0, "lysine": 1.43, "salt": 1.07, "limestone": 6.64, "soy48_bulk": 46.0, "": 442.86}
FINISHERS = {"premix_pigs": 2.0, "lysine": 1.05, "salt": 1.1, "limestone": 5.22, "soy48_bulk": 3.48, "": 487.15}
BUCKET = 3


def entries(masses, asked=GROWERS, sure=False):
    return [
        None if mass is None else Entry(f"I{row}", name, mass, asked[name], sure, name or "north", row < 14 + BUCKET)
        for row, (name, mass) in enumerate(zip(asked, masses, strict=True), 14)
    ]


def row_off(typed):
    return a_row_off(typed, list(GROWERS.values()), "kg")


@pytest.mark.parametrize("first", range(4))
def test_figures_in_the_next_row(first):
    """They were a batch of three times the phosphate, with twenty reasons."""
    asked = list(GROWERS.values())
    lower = [*asked[:first], None, *asked[first:-1]]
    ((cell, found, expected, do),) = row_off(entries(lower))
    moved = sum(abs(now / own - 1) >= 0.2 for now, own in zip(lower, asked, strict=True) if now)
    assert (cell, found) == (f"I{15 + first}", f"{moved} weights, each what the row above asks for")
    assert expected == "each in its own row" and do.startswith("Write each a row higher; if it was really")
    ((_, found, _, do),) = row_off(entries([*asked[:first], *asked[first + 1 :], None]))
    assert "the row below" in found and "a row lower" in do


def test_what_is_written_with_its_unit_is_taken_as_it_stands():
    lower = [GROWERS["premix_pigs"], *list(GROWERS.values())[:-1]]
    other = list(FINISHERS.values())
    assert not row_off(entries(lower, sure=True)) and row_off(entries(lower))
    assert not on_the_wrong_sheet(entries(other, sure=True), ["north"], {"fin": FINISHERS}, "kg")


def test_two_slips_are_no_column_out_of_place():
    """What was missed, doubled or swapped is judged as that."""
    right = list(GROWERS.values())
    for wrong in ([*right[:2], 0.0, *right[3:]], [right[1], right[0], *right[2:]], [*right[:4], 92.0, right[5]]):
        typed = entries(wrong)
        assert not row_off(typed) and not with_their_vessel(typed, "kg")
        assert not on_the_wrong_sheet(typed, ["north"], {"fin": FINISHERS}, "kg")


@pytest.mark.parametrize("size", [1.0, 0.5])
def test_weights_of_another_sheet(size):
    """Growers' weights on the finishers' sheet were a slip of the decimal point in the soybean meal."""
    typed = entries([size * mass for mass in FINISHERS.values()])
    others = {"nursery": GROWERS | {"soy48_bulk": 115.0}, "fin": FINISHERS}
    ((cell, found, _, do),) = on_the_wrong_sheet(typed, ["north"], others, "kg")
    assert (cell, found) == ("I14", "the weights that 'fin' asks for") and "the animals of that sheet" in do
    right = entries([size * mass for mass in GROWERS.values()])
    assert not on_the_wrong_sheet(right, ["north"], others, "kg")


def test_what_they_were_weighed_in():
    """Half a kilogram of vessel in every weight of the bucket was a premix a quarter too strong."""
    here = [row < BUCKET for row in range(6)]
    heavier = [mass + 0.5 * inside for mass, inside in zip(GROWERS.values(), here, strict=True)]
    ((cell, found, _, _),) = with_their_vessel(entries(heavier), "kg")
    assert (cell, found) == ("I14", "3 weights of the bucket, each some 0.5 kg more than asked for")
    assert not with_their_vessel(entries([mass * 1.3 for mass in heavier[:3]] + heavier[3:]), "kg")
    assert not with_their_vessel(entries(list(GROWERS.values())), "kg")


def test_a_right_figure_among_pounds_is_asked_for_its_unit():
    """Year 165 of the farm years: salt weighed and written in pounds among pounds, at less than half of its mass, was
    right on paper."""
    pounds = [mass / KG_PER_LB if row < BUCKET else mass for row, mass in enumerate(GROWERS.values())]
    pounds[2] = GROWERS["salt"]

    def asked(masses):
        return {cell: (expected, do) for cell, _, expected, do in doubtful(entries(masses), [None] * 6, "kg")}

    assert asked(pounds)["I16"] == ("its unit; most weights beside it look like lb", "Write 1.07 lb or 1.07 kg.")
    assert list(asked(pounds)) == ["I14", "I15", "I16"]
    pounds[1] = GROWERS["lysine"]
    assert list(asked(pounds)) == ["I14"]
