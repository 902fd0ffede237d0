"""Batches of the book's sheet `actual`: told apart by number, never pooled; judged by what was known on their day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import pytest

from rationlp.actual.numbers import keep_printed, numbered
from rationlp.actual.report import enter, report_of, with_record_missing
from rationlp.book.records import Book, Lot, Place, Sample, SortedCrop, Weighed
from rationlp.errors import InputError
from rationlp.farm import Farm, known_on
from rationlp.ledger.kept import record_for
from rationlp.ledger.shape import Signature, batches_of
from rationlp.ledger.signatures import signature_words
from rationlp.reasons import Severity
from rationlp.sheets.pack import make_pack
from rationlp.sheets.request import SheetRequest

STAGE, BIN = "sw_gro_25_50", "north"
NAME, DAY = f"{STAGE} {BIN}", date(2025, 11, 20)


@pytest.fixture(scope="module")
def pack(demo_book, library):
    return make_pack(Farm(demo_book, library), SheetRequest(on=DAY), [STAGE], [BIN])


@pytest.fixture(scope="module")
def target(pack) -> dict[str, float]:
    found: dict[str, float] = {}
    for line in (*pack.sheets[0].bucket, *pack.sheets[0].mixer):
        if line.offer:
            found[line.offer] = found.get(line.offer, 0.0) + float(line.mass)
    return found


def written(book: Book, *batches: Mapping[str, float], numbers: tuple[str, ...] = (), day: date = DAY) -> Book:
    """The book with batches on its sheet `actual`."""
    rows = [
        Weighed(Place("actual", 2), NAME, day, feed, mass, numbers[index] if numbers else "")
        for index, batch in enumerate(batches)
        for feed, mass in batch.items()
    ]
    return replace(book, actual=(*book.actual, *rows))


def without(target: Mapping[str, float], name: str) -> dict[str, float]:
    return {feed: mass for feed, mass in target.items() if feed != name}


def severities(book: Book, library) -> list[str]:
    return [j.verdict.severity.value for j in report_of(Farm(book, library)).judgements]


@pytest.mark.slow
@pytest.mark.parametrize("missing", ["salt", "premix_pigs"])
def test_batches_without_numbers_are_never_pooled(missing, demo_book, library, target):
    """A batch with double salt and one without were one batch that may be fed."""
    first = target | ({"salt": 2 * target["salt"]} if missing == "salt" else {})
    with pytest.raises(InputError, match="no whole batches"):
        report_of(Farm(written(demo_book, first, without(target, missing)), library))
    numbered_book = written(demo_book, first, without(target, missing), numbers=("1", "2"))
    assert severities(numbered_book, library)[1] == "stop"
    assert not report_of(Farm(numbered_book, library)).good


@pytest.mark.slow
def test_three_batches_of_which_one_lacks_the_premix(demo_book, library, target):
    with pytest.raises(InputError, match="premix_pigs 2 times"):
        report_of(Farm(written(demo_book, target, target, without(target, "premix_pigs")), library))
    assert severities(written(demo_book, target, target, target | {"premix_pigs": 0.0}), library)[2] == "stop"


@pytest.mark.slow
def test_two_batches_under_one_number_are_more_than_the_mixer_holds(demo_book, library, target):
    double = {feed: 2 * mass for feed, mass in target.items()}
    (found,) = report_of(Farm(written(demo_book, double, numbers=("7",)), library)).judgements
    assert found.verdict.severity is Severity.ASK and "more than the mixer holds" in found.faults[0]


@pytest.mark.slow
def test_a_book_without_the_record_that_numbered_its_sheets_is_told(demo_book, library, target, tmp_path):
    """A copy of the book, `farm (1).xlsx`, began a record of its own without a word: two halves of one farm's year."""
    book = replace(written(demo_book, target, numbers=("7",)), path=tmp_path / "farm (1).xlsx")
    found = report_of(Farm(book, library))
    (warning,) = (w for w in with_record_missing(found, book).warnings if w.sheet == "farm (1).record")
    assert "no such file beside farm (1).xlsx" in warning.found and "put its old record here" in warning.do
    enter(found, book)
    assert with_record_missing(found, book) == found


@pytest.mark.slow
def test_two_lots_of_one_feed_are_one_feed(demo_book, library, target):
    """Soybean meal of two offers or lots "does not belong in it"."""
    less = without(target, "soy48_bulk")
    half = target["soy48_bulk"] / 2
    (found,) = report_of(Farm(written(demo_book, less | {"soy48_bulk": half, "soy48_bags": half}), library)).judgements
    assert found.verdict.severity is Severity.FEED and not found.faults
    rows = [Weighed(Place("actual", 2), NAME, DAY, feed, mass) for feed, mass in less.items()]
    rows += [Weighed(Place("actual", 2), NAME, DAY, "soy48_bulk", half, "", lot) for lot in ("A", "B")]
    (found,) = report_of(Farm(replace(demo_book, actual=tuple(rows)), library)).judgements
    assert found.verdict.severity is Severity.FEED
    assert [(p.lot, p.kg) for p in found.made.parts if p.offer == "soy48_bulk"] == [("A", half), ("B", half)]


@pytest.mark.slow
def test_a_substitute_is_named_with_what_it_stands_for(demo_book, library, target):
    weights = without(target, "limestone") | {"limestone_grit": target["limestone"]}
    (found,) = report_of(Farm(written(demo_book, weights), library)).judgements
    (fault,) = found.faults
    assert "went in instead of" in fault and found.verdict.severity is not Severity.FEED
    assert found.verdict.reasons[0].text == fault


@pytest.mark.slow
def test_the_cause_stands_before_what_came_of_it(demo_book, library, target):
    """Every failure began with a cap passed by a hair."""
    for name in ("premix_pigs", "salt", "lysine"):
        (found,) = report_of(Farm(written(demo_book, target | {name: 0.0}), library)).judgements
        assert "was left out" in found.verdict.reasons[0].text, name


@pytest.mark.slow
@pytest.mark.parametrize("steps", [1, -1, 2, -2])
def test_a_step_of_the_scale_stops_nothing(steps, demo_book, library, target):
    """The last grain a kilogram over or under made 2 to 5 of 36 right sheets DO NOT FEED."""
    scale = demo_book.farm
    rows = []
    for name, mass in target.items():
        step = scale.hand_scale_step_kg if mass < scale.hand_weigh_below_kg else scale.scale_step_kg
        rows.append(target | {name: mass + steps * step})
    assert set(severities(written(demo_book, *rows, numbers=tuple(map(str, range(1, 99)))), library)) == {"feed"}


@pytest.mark.slow
@pytest.mark.parametrize("slip", [0.0, 0.01, 1.0, -1.0])
def test_a_slip_of_the_scale_never_makes_a_mix_better(slip, demo_book, library):
    """A premix a hair off its dose hid the vitamin that is short: the sheet asked, the batch was free to feed."""
    stage, bin_name = "sw_fin_100_135", "south"
    (sheet,) = make_pack(Farm(demo_book, library), SheetRequest(on=date(2026, 3, 20)), [stage], [bin_name]).sheets
    weights: dict[str, float] = {}
    for line in (*sheet.bucket, *sheet.mixer):
        if line.offer:
            weights[line.offer] = weights.get(line.offer, 0.0) + float(line.mass)
    weights[bin_name] += slip
    rows = tuple(
        Weighed(Place("actual", 2), sheet.name, date(2026, 3, 20), feed, mass, "") for feed, mass in weights.items()
    )
    (found,) = report_of(Farm(replace(demo_book, actual=rows), library)).judgements
    short = [reason for reason in found.verdict.weighing(Severity.ASK) if reason.nutrient == "biotin"]
    assert [r.nutrient for r in sheet.verdict.weighing(Severity.ASK)] == ["biotin"] and len(short) == 1
    assert found.verdict.severity is sheet.verdict.severity is Severity.ASK


@pytest.mark.slow
def test_a_batch_is_judged_by_the_samples_of_its_day(demo_book, library, target):
    """A sample taken later made old feed DO NOT FEED, and the label named it."""
    later = replace(
        demo_book,
        samples=(*demo_book.samples, Sample(Place(), "n2", BIN, date(2025, 12, 1), 8)),
        sorted=(
            *demo_book.sorted,
            SortedCrop(Place(), "n2", "triticale", 300.0),
            SortedCrop(Place(), "n2", "camelina_seed", 90.0),
        ),
        lots=(Lot(Place(), "L9", "soy48_bulk", date(2025, 12, 2)),),
    )
    (before,) = report_of(Farm(written(demo_book, target), library)).judgements
    (found,) = report_of(Farm(written(later, target), library)).judgements
    assert found.verdict == before.verdict and "sample n1" in found.label_line and found.made.samples == ("n1",)
    (new,) = report_of(Farm(written(later, target, day=date(2025, 12, 3)), library)).judgements
    assert "sample n2" in new.label_line and new.verdict != before.verdict
    first = known_on(later, date(2020, 1, 1)).samples  # the first there is of each bin
    assert [sample.sample for sample in first] == ["s1", "n0"]


@pytest.mark.slow
def test_a_batch_made_before_the_bin_was_filled_is_asked_about(demo_book, library, target):
    report = report_of(Farm(written(demo_book, target, day=date(2024, 1, 1)), library))
    (found,) = report.judgements
    assert found.verdict.severity is Severity.ASK and report.good, "a question is no exit code 3: that is a stop"
    assert any("before bin north was filled" in fault for fault in found.faults)


def test_all_faults_of_book_and_workbook_at_once(demo_book, library, target, tmp_path):
    """Actual stopped at the first; one name nobody knows gave a line for each ingredient."""
    book = written(demo_book, target, without(target, "salt"))
    book = replace(book, actual=(*book.actual, *(replace(row, sheet="nothing") for row in book.actual)))
    with pytest.raises(InputError) as caught:
        report_of(Farm(book, library), tmp_path / "none.xlsx")
    assert len(caught.value.problems) == 3


@pytest.mark.slow
def test_numbers_are_unique_and_a_batch_is_entered_once(pack, demo_book, library, target, tmp_path):
    """Each print run began at #1, whatever the book held."""
    book = written(replace(demo_book, path=tmp_path / "farm.xlsx"), target, numbers=("7",))
    book = replace(book, actual=tuple(replace(row, sheet=f"{row.sheet} #7") for row in book.actual))
    farm = Farm(book, library)
    first, second = numbered(pack, farm), numbered(pack, farm)
    assert (first.sheets[0].first_batch, second.sheets[0].first_batch) == (8, 8 + pack.sheets[0].boxes)
    keep_printed(first, book)
    found = report_of(Farm(book, library))
    assert enter(found, book) == 1 and enter(found, book) == 0
    (batch,) = batches_of(record_for(book))
    assert (
        batch.made.number == 7 and batch.groups == ("growers_early",) and batch.verdict == found.judgements[0].verdict
    )
    by_id = replace(book, actual=tuple(replace(row, sheet=pack.sheets[0].id, batch="9") for row in book.actual))
    (known,) = report_of(Farm(by_id, library)).judgements
    assert known.made.batch == f"{pack.sheets[0].id} #9" and known.verdict.severity is Severity.FEED


@pytest.mark.parametrize(
    ("on", "words"),
    [
        (date(2026, 1, 1), "SIGNED by A. Vet, licence 12 on 2025-11-01, holds until 2026-05-01."),
        (date(2026, 6, 1), "NOT SIGNED by a nutritionist any more"),
        (date(2025, 10, 1), "NOT SIGNED by a nutritionist."),
    ],
)
def test_a_signature_holds_for_its_mix_and_its_days(on, words):
    signed = [Signature("7KQ4-M2XD", "A. Vet", "12", date(2025, 11, 1), date(2026, 5, 1))]
    assert signature_words("7kq4m2xd", on, signed, "%Y-%m-%d").startswith(words)
    assert signature_words("AAAA-AAAA", on, signed, "%Y-%m-%d") == "NOT SIGNED by a nutritionist."
