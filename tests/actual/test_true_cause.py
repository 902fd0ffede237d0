"""The true cause stands first: what was confused, mistyped or read off the scale, and what each slip did by itself."""

from __future__ import annotations

import pytest
from weighings import Case

from rationlp.actual.readings import Place, as_weights, readings_in, size_read
from rationlp.actual.slips import Entry, crossed_rows, doubtful, other_unit, size_factor, swapped
from rationlp.reasons import Severity
from rationlp.units import KG_PER_LB

GROWER = 1  # of the cases


@pytest.fixture
def grower(cases) -> Case:
    return cases[GROWER]


def entries(typed, asked):
    return [
        Entry(f"I{i}", f"feed {i}", mass, meant, False, in_bucket=i < 4)
        for i, (mass, meant) in enumerate(zip(typed, asked, strict=True))
    ]


ASKED = [0.46, 1.07, 2.0, 6.64, 46.0, 443.83]
READS = [0.46, 1.53, 3.53, 10.17, 56.17, 500.0]


def doubts(typed, unit="kg"):
    return {cell: (expected, do) for cell, _, expected, do in doubtful(entries(typed, ASKED), READS, unit)}


@pytest.mark.parametrize(
    ("row", "typed", "why"),
    [
        (1, 10.7, "decimal point"),
        (1, 0.107, "decimal point"),
        (1, 1070.0, "looks like g"),
        (0, 4.8, "decimal point"),  # 0.48 was weighed of 0.46: a small weight is off by a division or two
        (0, 480.0, "looks like g"),
        (2, 2 / KG_PER_LB, "looks like lb"),
        (4, 56.2, "what the scale read"),
        (5, 500.0, None),  # the last weight is within a fifth of what the scale reads: nobody can tell
    ],
)
def test_a_figure_that_may_mean_another_is_asked_about(row, typed, why):
    found = doubts([*ASKED[:row], typed, *ASKED[row + 1 :]])
    assert list(found) == ([f"I{row}"] if why else [])
    if why:
        expected, do = found[f"I{row}"]
        assert why in expected and f"write {typed:g} kg" in do


def test_a_bucket_in_pounds_is_asked_about_row_by_row_and_the_mixer_is_not():
    """The middle of the ratios was that of the bucket: 'found 259, expected about 259; this looks like lb'."""
    found = doubts([mass / KG_PER_LB for mass in ASKED[:4]] + ASKED[4:])
    assert list(found) == ["I0", "I1", "I2", "I3"]
    assert all("looks like lb" in expected for expected, _ in found.values())


def test_of_a_bucket_in_pounds_a_small_weight_that_is_a_division_off_is_asked_about_too():
    """0.45 kg of 0.46, written as 0.992 lb, 'went in twice'."""
    off = [0.992, *(mass / KG_PER_LB for mass in ASKED[1:4]), *ASKED[4:]]
    assert list(doubts(off)) == ["I0", "I1", "I2", "I3"]
    assert not doubts([0.992, *ASKED[1:]])


def test_an_american_book_is_asked_about_ounces_and_kilograms():
    assert other_unit(16.0, "lb") == "oz" and other_unit(KG_PER_LB, "lb") == "kg" and not other_unit(2.0, "lb")


def test_the_size_is_that_of_the_batch_and_not_of_a_bucket_in_grams():
    target = dict(zip("abcdef", ASKED, strict=True))
    grams = {name: mass * (1000 if mass < 10 else 1) for name, mass in target.items()}
    assert size_factor(grams, target) == 1.0
    assert size_factor({name: mass / 2 for name, mass in target.items()}, target) == 0.5
    assert size_factor(target | {"f": 44.0}, target) == 1.0
    assert size_factor({name: mass * (0.1 if mass < 10 else 1) for name, mass in target.items()}, target) == 1.0


def test_weights_that_rise_are_no_readings_where_most_are_as_asked():
    """A bucket is filled from the lightest on: with twice the carrier it was taken for readings of the scale."""
    asked = [0.46, 0.55, 1.07, 1.43, 2.0, 6.49]
    reads = [0.46, 1.01, 2.08, 3.51, 5.51, 12.0]
    assert size_read([*asked[:5], 12.98], asked, reads) is None and size_read(reads, asked, reads) == 1


def test_readings_in_pounds_are_recognised():
    """They were a batch of 5.4 times its size with 26 reasons."""
    places = [Place(False, reads) for reads in READS]
    ((last, unit),) = readings_in(entries([reads / KG_PER_LB for reads in READS], ASKED), places, "kg")
    assert unit == "lb" and last.cell == "I5"
    assert readings_in(entries(READS, ASKED), places, "kg") == []


def test_weights_as_asked_that_rise_are_no_readings_in_another_unit():
    """The last batch of a week, 49.5 lb, the lightest first: its 22.45 lb were taken for the scale's 22.45 kg."""
    asked = [0.14, 0.5, 1.0, 10.9, 14.5, 22.45]
    places = [Place(False, sum(asked[: place + 1])) for place in range(len(asked))]
    assert readings_in(entries(asked, asked), places, "lb") == []
    kilograms = [place.reads * KG_PER_LB for place in places]
    assert [unit for _, unit in readings_in(entries(kilograms, asked), places, "lb")] == ["kg"]


@pytest.mark.parametrize("size", [0.5, 0.8])
def test_readings_of_a_smaller_batch_are_readings(size):
    """Half a batch was 'Canola oil: 250.5 kg instead of 17.08 kg' and three more reasons of that kind."""
    half = [size * reads for reads in READS]
    found = as_weights(entries(half, ASKED), [Place(False, reads) for reads in READS])
    assert [entry.mass for entry in found.weights] == pytest.approx([size * asked for asked in ASKED])
    assert [entry.cell for entry in found.read] == ["I5"]


def test_what_the_steps_of_the_mixer_scale_hardly_show_is_told():
    """2.33 kg of 3.33 kg of salt passed for 3.33, read off a scale of 1 kg; of finer readings it is weighed out."""
    asked, reads = [100.0, 3.33, 50.0, 346.67], [100.0, 103.33, 153.33, 500.0]
    places = [Place(False, reading, 1.0) for reading in reads]
    whole = as_weights(entries([100.0, 103.0, 153.0, 500.0], asked), places)
    assert [entry.cell for entry in whole.hardly_told] == ["I1"] and whole.weights[1].mass == 3.33
    finer = as_weights(entries([100.0, 102.33, 152.33, 499.0], asked), places)
    assert not finer.hardly_told and finer.weights[1].mass == pytest.approx(2.33)


def test_readings_of_half_a_batch_in_pounds_are_asked_about():
    places = [Place(False, reads) for reads in READS]
    ((_, unit),) = readings_in(entries([0.5 * reads / KG_PER_LB for reads in READS], ASKED), places, "kg")
    assert unit == "lb"
    assert readings_in(entries([0.5 * reads for reads in READS], ASKED), places, "kg") == []


def test_weights_of_half_a_batch_are_no_readings():
    typed = entries([asked / 2 for asked in ASKED], ASKED)
    assert as_weights(typed, [Place(False, reads) for reads in READS]).weights == typed


def test_of_half_a_batch_a_bucket_in_pounds_is_asked_about():
    """The half and the pounds came to 1.1, near enough to a whole one: 'Only half of Soybean meal'."""
    found = doubts([mass / 2 / KG_PER_LB for mass in ASKED[:4]] + [mass / 2 for mass in ASKED[4:]])
    assert list(found) == ["I0", "I1", "I2", "I3"]


def test_a_swap_with_the_carrier_is_told_by_the_rows_of_the_sheet(grower):
    """The grain of the bucket is a little of all the grain: salt alone was off, and nothing said why."""
    salt = grower.target["salt"]
    rows = [("salt", 2 * salt, salt), ("north", salt, 2 * salt), ("lysine", 2.0, 2.0), ("north", 400.0, 400.0)]
    typed = [Entry(f"I{i}", name, mass, asked, False, name) for i, (name, mass, asked) in enumerate(rows)]
    (pair,) = crossed_rows(typed, 1.0)
    assert pair.offers == ("salt", "north") and not list(crossed_rows(typed[:3], 1.0))
    weighed = dict(grower.target) | {"salt": 2 * salt, "north": grower.target["north"] - salt}
    found = grower.judged(weighed, [pair])
    (fault,) = found.faults
    assert "have each other's weight on the sheet" in fault and found.verdict.reasons[0].text == fault


def test_weights_that_are_exactly_each_others_are_swapped_though_they_are_alike():
    assert list(swapped({"a": 0.55, "b": 0.46}, {"a": 0.46, "b": 0.55})) == [("a", "b")]
    assert not list(swapped({"a": 0.52, "b": 0.50}, {"a": 0.51, "b": 0.51}))


def test_what_may_be_twice_or_pounds_is_told_as_either(grower):
    """0.48 kg of 0.47 written as 1.06 'went in twice'."""
    (fault,) = grower.judged(dict(grower.target) | {"salt": 2.13 * grower.target["salt"]}).faults
    assert "went in twice, or lb were written for kg" in fault and "correct it and read it again" in fault
    (fault,) = grower.judged(dict(grower.target) | {"salt": 2 * grower.target["salt"]}).faults
    assert "Salt went in twice: " in fault


def test_a_swap_is_the_first_reason_and_the_only_fault(grower):
    """Its two consequences stood before it."""
    weights = dict(grower.target) | {"salt": grower.target["threonine"], "threonine": grower.target["salt"]}
    found = grower.judged(weights)
    (fault,) = found.faults
    assert "have each other's weight" in fault and "correct it and read it again" in fault
    assert found.verdict.reasons[0].text == fault and found.verdict.severity is Severity.STOP
    assert {line.offer for line in found.lines if line.words} == {"salt", "threonine"}


def test_of_two_slips_the_one_that_harms_stands_first(grower):
    """Twice the salt is asked about; without premix it must not be fed."""
    found = grower.judged(dict(grower.target) | {"salt": 2 * grower.target["salt"], "premix_pigs": 0.0})
    first = found.verdict.reasons[0]
    assert first.severity is Severity.STOP and "premix was left out" in first.text
    (salt,) = [reason for reason in found.verdict.reasons if reason.text.startswith("Salt went in twice")]
    assert salt.severity is Severity.ASK


def test_two_slips_that_harm_only_together_both_stop_it(grower):
    """A quarter less methionine and half the other sulphur source: neither is 20 % short alone."""
    less = {name: 0.6 * mass if name in ("threonine", "lysine") else mass for name, mass in grower.target.items()}
    found = grower.judged(less | {"soy48_bulk": 0.4 * grower.target["soy48_bulk"]})
    assert found.verdict.severity is Severity.STOP
    worst = found.verdict.weighing(Severity.STOP)
    assert any(reason.text in found.faults for reason in worst)


def test_what_is_to_be_added_is_whole_divisions_of_the_scales(grower):
    """'0.07318 kg' was shown, of a scale with divisions of 0.01 kg."""
    found = grower.judged(dict(grower.target) | {"north": 1.15 * grower.target["north"]})
    (todo,) = found.remedies
    amounts = [words.split(" kg")[0].split()[-1] for words in todo.split("(")[0].split(" of ")[:-1]]
    assert len(amounts) > 3
    assert all(abs(float(amount) / 0.01 - round(float(amount) / 0.01)) < 1e-6 for amount in amounts)


def test_what_the_mixer_does_not_hold_at_once_is_thinned_in_parts(grower):
    """Of twice the premix nothing was said but to keep it apart."""
    found = grower.judged(dict(grower.target) | {"premix_pigs": 2 * grower.target["premix_pigs"]})
    (todo,) = found.remedies
    assert "into 2 equal parts" in todo and "Then each meets the ration" in todo


def test_a_harmless_double_needs_nothing_added(grower):
    """It 'would have to become 1,000 kg'."""
    (todo,) = grower.judged(dict(grower.target) | {"lysine": 2 * grower.target["lysine"]}).remedies
    assert todo.startswith("Nothing need be added")


def test_more_than_the_mixer_holds_is_the_cause_and_no_weight_of_it(grower):
    """Readings in the place of weights on the book's sheet: seven weights far off came first."""
    reads = 0.0
    found = grower.judged({name: (reads := reads + mass) for name, mass in grower.target.items()})
    first, *others = found.verdict.reasons
    assert "more than the mixer holds (600 kg)" in first.text
    assert first.severity is found.verdict.severity is Severity.STOP
    assert not any("instead of" in reason.text for reason in others)
