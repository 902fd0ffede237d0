"""Slips of the pen on a sheet of round numbers: what each looks like, and what a right weight does not look like."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rationlp.actual.slips import (
    Entry,
    crossed_rows,
    doubtful,
    on_the_wrong_sheet,
    other_unit,
    point_slip,
    size_factor,
    swapped,
    with_their_vessel,
)

ASKED = {"north": 400.0, "meal": 80.0, "oil": 12.0, "limestone": 6.0, "salt": 2.0}
BUCKET = ("limestone", "salt")


def written(**masses: float) -> list[Entry]:
    """The sheet with these weights, the others as asked for."""
    return [
        Entry(f"D{row}", name, masses.get(name, asked), asked, False, name, name in BUCKET)
        for row, (name, asked) in enumerate(ASKED.items(), 8)
    ]


def looks(entries: list[Entry], reads: tuple[float | None, ...] = (None,) * 5, unit: str = "kg") -> dict[str, str]:
    return {cell: f"{found}; {expected}; {do}" for cell, found, expected, do in doubtful(entries, reads, unit)}


def test_right_weights_raise_no_doubt():
    assert looks(written()) == {} and looks(written(north=402.0, salt=2.1)) == {}
    assert looks([replace(entry, mass=entry.mass * 2) for entry in written()]) == {}, "twice the batch"


@pytest.mark.parametrize(
    ("ratio", "unit", "other"),
    [
        (2.2046, "kg", "lb"),
        (1000.0, "kg", "g"),
        (0.4536, "lb", "kg"),
        (16.0, "lb", "oz"),
        (1.0, "kg", ""),
        (2.0, "kg", ""),
    ],
)
def test_the_unit_that_a_weight_seems_to_be_in(ratio, unit, other):
    """1 kg is 2.2046 lb and 1,000 g, 1 lb is 16 oz."""
    assert other_unit(ratio, unit) == other
    assert other_unit(ratio * 1.05, unit) == (other if ratio > 4 else ""), "far off, as nothing else comes near"


def test_one_weight_in_pounds_and_all_of_them():
    (told,) = looks(written(meal=176.4)).items()
    assert told[0] == "D9" and "this looks like lb; Type it in kg" in told[1] and "write 176.4 kg" in told[1]
    (all_of_them,) = doubtful([replace(e, mass=e.mass * 2.2046) for e in written()], (None,) * 5, "kg")
    assert all_of_them[0] == "D8" and "the others in the same proportion" in all_of_them[1]


def test_a_right_weight_among_pounds_is_asked_for_its_unit():
    """Two of the mixer's three in pounds: the third, right in kilograms, is wrong in pounds. Those of the bucket are
    weighed apart."""
    told = looks(written(north=881.8, meal=176.4))
    assert set(told) == {"D8", "D9", "D10"} and told["D10"].endswith("Write 12 lb or 12 kg.")
    assert set(looks(written(meal=176.4))) == {"D9"}, "one alone says nothing of those beside it"
    assert set(looks(written(limestone=13.2))) == {"D11"}


def test_the_decimal_point_and_what_the_scale_read():
    assert all(point_slip(ratio) for ratio in (10.0, 0.1, 0.0105, 960.0)) and not any(map(point_slip, (1, 2, 5, 12)))
    assert "the decimal point" in looks(written(salt=20.0))["D12"]
    assert "what the scale read" in looks(written(meal=480.0), (400.0, 480.0, 492.0, None, None))["D9"]
    assert looks(written(north=400.0), (400.0, 480.0, 492.0, None, None)) == {}, "the first reads what it weighs"


def test_two_in_each_others_row():
    weighed = ASKED | {"limestone": 2.0, "salt": 6.0}
    assert list(swapped(weighed, ASKED)) == [("limestone", "salt")]
    assert list(swapped(ASKED | {"north": 80.0, "meal": 400.0, "oil": 6.0, "limestone": 12.0}, ASKED)) == [
        ("north", "meal"),
        ("oil", "limestone"),
    ]
    assert list(swapped(ASKED, ASKED)) == [] and list(swapped(ASKED | {"salt": 6.0}, ASKED)) == []
    near = {"meal": 10.6, "bran": 10.0}
    assert list(swapped({"meal": 10.0, "bran": 10.6}, near)) == [("meal", "bran")], (
        "a little apart, and exactly crossed"
    )
    assert list(swapped({"meal": 10.0, "bran": 10.6}, {"meal": 10.3, "bran": 10.0})) == [], "each nearly its own"
    assert looks([*written()[:3], *written(limestone=2.0, salt=6.0)[3:]]) == {}, "judged as written"


def test_rows_that_cross_where_an_ingredient_has_two():
    first = replace(written()[1], cell="D20", asked=25.0, mass=25.0)
    entries = [*written(meal=12.0, oil=80.0), first]
    (crossed,) = crossed_rows(entries, 0.5)
    assert crossed.offers == ("meal", "oil") and crossed.kg == (6.0, 40.0)
    assert list(crossed_rows(written(meal=12.0, oil=80.0), 0.5)) == [], "told by what went in of each"


def test_weights_with_their_vessel():
    """Three of a bucket, each half a kilogram too much."""
    entries = [replace(entry, in_bucket=entry.offer != "north") for entry in written(oil=12.5, limestone=6.5, salt=2.5)]
    entries = [entry for entry in entries if entry.offer != "meal"]
    (doubt,) = with_their_vessel(entries, "kg")
    assert doubt[0] == "D10" and doubt[1] == "3 weights of the bucket, each some 0.5 kg more than asked for"
    assert "write each with its unit (12.5 kg)" in doubt[3]
    assert with_their_vessel([replace(entry, sure=True) for entry in entries], "kg") == []
    assert with_their_vessel(entries[:3], "kg") == [], "two may be chance"
    assert with_their_vessel([*entries[:3], replace(entries[3], mass=2.0)], "kg") == [], "not in all of them"
    slight = [replace(e, mass=e.asked + 0.05) for e in entries]
    assert with_their_vessel(slight, "kg") == [], "no vessel is so light beside them"


def test_weights_of_another_sheet():
    other = {"": 300.0, "meal": 150.0, "oil": 40.0, "limestone": 8.0, "salt": 2.0}
    entries = written(north=300.0, meal=150.0, oil=40.0, limestone=8.0)
    sheets = {"sows": {"": 500.0, "bran": 1.0}, "hens": other}
    (doubt,) = on_the_wrong_sheet(entries, ["north"], sheets, "kg")
    assert doubt[1] == "the weights that 'hens' asks for" and "Write them on 'hens'" in doubt[3]
    assert on_the_wrong_sheet(written(), ["north"], sheets, "kg") == []
    assert on_the_wrong_sheet(entries, ["north"], {"hens": other | {"meal": 100.0}}, "kg") == []
    assert on_the_wrong_sheet([replace(entries[0], sure=True), *entries[1:]], ["north"], sheets, "kg") == []


def test_the_size_of_a_batch_is_that_of_most_of_it():
    assert size_factor(ASKED | {"salt": 20.0}, ASKED) == 1.0
    assert size_factor({name: mass / 2 for name, mass in ASKED.items()}, ASKED) == pytest.approx(0.5)
    assert size_factor({}, ASKED) == 1.0
