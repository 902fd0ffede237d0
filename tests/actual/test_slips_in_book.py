"""What is typed on the book's own sheet `actual` is asked about as what is written on a filled-in mix sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import accumulate

import pytest
from weighings import DAY, Case

from rationlp.actual import known
from rationlp.actual.numbers import keep_printed
from rationlp.actual.report import enter, report_of
from rationlp.book.reading.read import read_book
from rationlp.book.records import Place, Weighed
from rationlp.errors import InputError
from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.sheets.pack import make_pack
from rationlp.sheets.request import SheetRequest
from rationlp.units import KG_PER_LB

pytestmark = pytest.mark.slow
COLUMNS = {"feed": "D", "mass": "F"}


@pytest.fixture
def grower(cases) -> Case:
    return cases[1]


def farm_with(case: Case, masses: Sequence[float], path, sure: Sequence[int] = (), number="7", day=DAY) -> Farm:
    """The farm with a batch on its sheet `actual`, one feed a row from row 2 on."""
    rows = [
        Weighed(Place("actual", row, COLUMNS), "sw_gro_25_50 north", day, feed, mass, number, sure=row - 2 in sure)
        for row, (feed, mass) in enumerate(zip(case.target, masses, strict=True), 2)
    ]
    return Farm(replace(case.farm.book, actual=tuple(rows), path=path / "farm.xlsx"), case.farm.library)


def asked_about(farm: Farm) -> dict[str, str]:
    with pytest.raises(InputError) as caught:
        report_of(farm)
    return {problem.cell: f"{problem.found}; {problem.expected}; {problem.do}" for problem in caught.value.problems}


def judged(farm: Farm) -> str:
    (found,) = report_of(farm).judgements
    return found.verdict.severity.value


@pytest.mark.parametrize("size", [1.0, 0.5])
@pytest.mark.parametrize(("lower", "words"), [(True, "the row above asks for"), (False, "the row below asks for")])
def test_a_column_a_row_off_is_asked_about(size, lower, words, grower, tmp_path):
    """It was judged as it stood: a batch of three times the phosphate."""
    right = [size * mass for mass in grower.target.values()]
    moved = [0.0, *right[:-1]] if lower else [*right[1:], 0.0]
    ((_, told),) = asked_about(farm_with(grower, moved, tmp_path)).items()
    assert words in told and ("Write each a row higher" if lower else "Write each a row lower") in told


def test_pounds_among_kilograms_are_asked_about(grower, tmp_path):
    right = list(grower.target.values())
    every = [mass / KG_PER_LB for mass in right]
    ((_, told),) = asked_about(farm_with(grower, every, tmp_path)).items()
    assert "in the same proportion" in told and "this looks like lb" in told
    salt = list(grower.target).index("salt")
    one = [*right[:salt], every[salt], *right[salt + 1 :]]
    assert list(asked_about(farm_with(grower, one, tmp_path))) == [f"F{salt + 2}"]
    assert judged(farm_with(grower, one, tmp_path, sure=[salt])) == "ask"


def test_readings_under_mass_are_asked_about(grower, tmp_path):
    reads = [round(mass) for mass in accumulate(grower.target.values())]
    ((_, told),) = asked_about(farm_with(grower, reads, tmp_path)).items()
    assert "the scale's readings" in told and "Write them under scale_reads" in told
    ((_, told),) = asked_about(farm_with(grower, [mass / KG_PER_LB for mass in reads], tmp_path)).items()
    assert "the scale's readings in lb" in told


def test_the_weights_of_another_sheet_are_asked_about(cases, grower, tmp_path):
    nursery = cases[0]
    farm = farm_with(grower, [nursery.target.get(name, 0.0) for name in grower.target], tmp_path)
    keep_printed(make_pack(farm, SheetRequest(on=DAY), ["sw_nur_11_25"], ["north"]), farm.book)
    ((_, told),) = asked_about(farm).items()
    assert "the weights that 'sw_nur_11_25 north' asks for" in told


def test_right_weights_and_plain_mistakes_are_judged_as_they_stand(grower, tmp_path):
    right = list(grower.target.values())
    salt = list(grower.target).index("salt")
    for factor, verdict in ((1.0, "feed"), (0.0, "stop"), (2.0, "ask")):
        masses = [*right[:salt], factor * right[salt], *right[salt + 1 :]]
        assert judged(farm_with(grower, masses, tmp_path)) == verdict
    assert judged(farm_with(grower, [mass / 2 for mass in right], tmp_path)) == "feed"


def test_what_was_entered_before_is_not_asked_about_again(grower, tmp_path, monkeypatch):
    """A record of an earlier version has such batches: they stand as they were judged."""
    salt = list(grower.target).index("salt")
    masses = [mass / KG_PER_LB if row == salt else mass for row, mass in enumerate(grower.target.values())]
    sure = farm_with(grower, masses, tmp_path, sure=[salt])
    enter(report_of(sure), sure.book)
    assert judged(farm_with(grower, masses, tmp_path)) == "ask"
    assert asked_about(farm_with(grower, masses, tmp_path, number="8"))


def test_a_mass_with_its_unit_and_a_reading_are_sure(write_book, library):
    path = write_book(
        {
            "farm": [{"setting": "units", "value": "metric"}],
            "supplements": [{"offer": "salt", "feed": "salt", "price": 1, "per_mass": "1 kg"}],
            "actual": [
                {"sheet": "x", "feed": "salt", "mass": mass, "scale_reads": reads}
                for mass, reads in (("2", ""), ("2 kg", ""), ("", "6"))
            ],
        }
    )
    assert [row.sure for row in read_book(path, library.units).actual] == [False, True, True]


def test_a_ration_is_calculated_once_for_all_days_that_know_the_same(grower, tmp_path, monkeypatch):
    """It was calculated for each day anew, as what was weighed until then differed."""
    days: list[object] = []

    def solved(farm, *asked, **more):
        days.append(farm)
        return solve_rations(farm, *asked, **more)

    monkeypatch.setattr(known, "solve_rations", solved)
    farm = farm_with(grower, list(grower.target.values()), tmp_path)
    rows = [
        replace(row, made_on=DAY + timedelta(days=turn), batch=str(turn + 1))
        for turn in range(5)
        for row in farm.book.actual
    ]
    farm = Farm(replace(farm.book, actual=tuple(rows)), farm.library)
    assert len(report_of(farm).judgements) == 5 and len(days) == 1
