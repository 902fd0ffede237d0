"""A number is one batch: a second under it is a slip, a correction counts once, a wrong number can be put right."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from rationlp.actual.report import enter, report_of
from rationlp.book.records import Place, Weighed
from rationlp.errors import InputError
from rationlp.farm import Farm
from rationlp.ledger.kept import record_for
from rationlp.ledger.made_mix import _named
from rationlp.ledger.shape import batches_of

PIGS, HENS, DAY = "sw_boar north", "hen_brown_110 north", date(2025, 11, 20)
WEIGHTS = {"north": 470.0, "limestone": 6.0, "premix_pigs": 2.0}


@pytest.fixture
def entered(demo_book, library, tmp_path):
    """Enters batches (sheet, number, day, kg of limestone) as they stand in the book; what the report warned of."""
    book = replace(demo_book, path=tmp_path / "farm.xlsx")

    def enter_them(*batches: tuple[str, str, date, float]) -> list[str]:
        rows = [
            Weighed(Place("actual", 10 * place, {"feed": "D"}), sheet, day, feed, mass, number)
            for place, (sheet, number, day, limestone) in enumerate(batches, 1)
            for feed, mass in (WEIGHTS | {"limestone": limestone} if limestone else dict.fromkeys(WEIGHTS, 0.0)).items()
        ]
        farm = Farm(replace(book, actual=tuple(rows)), library)
        found = report_of(farm)
        enter(found, farm.book)
        return [problem.found for problem in found.warnings]

    def recorded() -> dict[int, tuple[str, float]]:
        return {b.made.number: (b.made.stage, b.made.weighed_kg["limestone"]) for b in batches_of(record_for(book))}

    return enter_them, recorded


@pytest.mark.slow
def test_another_batch_under_a_number_of_the_record_is_refused(entered):
    """It took the place of the first without a word: one batch was lost."""
    enter_them, recorded = entered
    enter_them((PIGS, "7", DAY, 6.0))
    with pytest.raises(InputError, match="the number 7, which in the farm's record is that of sw_boar north"):
        enter_them((HENS, "7", DAY, 6.0))
    assert recorded() == {7: ("sw_boar", 6.0)}


@pytest.mark.slow
def test_the_next_sheet_in_the_same_rows_of_the_book_leaves_the_one_before_in_the_record(entered):
    enter_them, recorded = entered
    enter_them((PIGS, "7", DAY, 6.0))
    assert enter_them((HENS, "8", DAY, 6.0)) == []
    assert recorded() == {7: ("sw_boar", 6.0), 8: ("hen_brown_110", 6.0)}


def test_what_went_in_is_called_as_the_book_calls_it(demo_book):
    """By its label; by its feed where the book gives it none."""
    first, second, *_ = demo_book.supplements
    book = replace(demo_book, supplements=(replace(first, label="Meal from Miller"), replace(second, label="")))
    parts = [_named(name, book) for name in (first.offer, second.offer, "north", "chaff")]
    assert [part.label for part in parts] == ["Meal from Miller", second.feed, "North bin (mill yard)", "chaff"]
    assert [part.feed for part in parts] == [first.feed, second.feed, "bin:north", "chaff"]


@pytest.mark.slow
def test_weights_put_right_count_once_and_are_told(entered):
    enter_them, recorded = entered
    assert enter_them((PIGS, "7", DAY, 60.0)) == []
    assert enter_them((PIGS, "7", DAY, 60.0)) == []
    assert "entered before with other weights" in enter_them((PIGS, "7", DAY, 6.0))[0]
    assert recorded() == {7: ("sw_boar", 6.0)}


@pytest.mark.slow
def test_an_old_sheet_filled_in_again_does_not_take_the_place_of_its_batch(entered):
    """The same weights under the same number a month later: another batch, or its day put right. That is asked."""
    enter_them, recorded = entered
    enter_them((PIGS, "7", DAY, 6.0))
    with pytest.raises(InputError, match="the number 7"):
        enter_them((PIGS, "7", date(2025, 12, 20), 6.0))
    assert "was not made" in enter_them((PIGS, "7", DAY, 0.0))[0]
    assert recorded() == {}
    assert enter_them((PIGS, "7", date(2025, 12, 20), 6.0)) == []
    assert recorded() == {7: ("sw_boar", 6.0)}


@pytest.mark.slow
def test_a_batch_under_a_wrong_number_is_moved_and_counts_once(entered):
    enter_them, recorded = entered
    enter_them((PIGS, "7", DAY, 6.0))
    assert "entered before under that number" in enter_them((PIGS, "8", DAY, 6.0))[0]
    assert recorded() == {8: ("sw_boar", 6.0)}
    enter_them((PIGS, "8", DAY, 6.0), (HENS, "7", DAY, 6.5))
    assert recorded() == {7: ("hen_brown_110", 6.5), 8: ("sw_boar", 6.0)}


@pytest.mark.slow
def test_the_number_of_another_is_free_once_that_has_its_own(entered):
    enter_them, recorded = entered
    enter_them((PIGS, "7", DAY, 6.0))
    enter_them((HENS, "7", DAY, 6.5), (PIGS, "8", DAY, 6.0))
    assert recorded() == {7: ("hen_brown_110", 6.5), 8: ("sw_boar", 6.0)}
