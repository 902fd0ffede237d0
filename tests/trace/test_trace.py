"""From animals back to bins, samples and lots, and from a bad lot on to the animals."""

from __future__ import annotations

import json
import random
import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from random_farms import read_sheets, write_sheets

from rationlp.book import read_book
from rationlp.book.records import Bin as BookBin
from rationlp.book.records import Book, Group, Lot, Offer, Place, Sample
from rationlp.cli.app import app
from rationlp.errors import RequestError
from rationlp.files import record_of
from rationlp.ledger.made_mix import MadeMix, MadePart, Origin
from rationlp.ledger.shape import Batch, batch_entry
from rationlp.ledger.store import Record
from rationlp.reasons import Kind, Reason, Severity, Verdict
from rationlp.report.papers.write import write_statement
from rationlp.sheets.batches import fed_on
from rationlp.show.statement import statement_text
from rationlp.trace import eaten
from rationlp.trace.eaten import INTAKE_SPREAD, LONGEST, spans
from rationlp.trace.follow import Question, follow
from rationlp.trace.statement import statement_of

HERE = Place()
DAY = date(2026, 1, 5)
STOP = Verdict((Reason(Kind.SAFETY, Severity.STOP, "Salt went in ten times."),))


def batch(
    number: int,
    day: date | None = DAY,
    kg: float = 100.0,
    lots: tuple[str, ...] = ("L1",),
    bins: tuple[str, ...] = ("north",),
    stage: str = "pigs",
    verdict: Verdict | None = None,
    per_head: float | None = 2.0,
) -> Batch:
    """A batch of meal, a fifth of it, and grain."""
    meal = [MadePart("meal", "soybean_meal", "Meal", 0.2 / len(lots), kg=0.2 * kg / len(lots), lot=lot) for lot in lots]
    grain = [MadePart(b, f"bin:{b}", b, 0.8 / len(bins), 0, True, 0.8 * kg / len(bins)) for b in bins]
    made = MadeMix(
        "7KQ4-M2XD", stage, "Pigs", bins, ("n1",), day, Origin.WEIGHED, "s", "v", (*grain, *meal), number, "a!B2"
    )
    return Batch(made, verdict or Verdict(), (), ("young",), per_head)


@pytest.fixture
def book(demo_book: Book) -> Book:
    return replace(
        demo_book,
        bins=(BookBin(HERE, "north", "North bin"), BookBin(HERE, "south", "South bin")),
        samples=(Sample(HERE, "n1", "north", date(2025, 9, 3)),),
        supplements=(Offer(HERE, "meal", "soybean_meal", "Meal", supplier="The mill", organic=False),),
        lots=(
            Lot(HERE, "L1", "meal", date(2026, 1, 1), 1000.0, "M-77"),
            Lot(HERE, "L2", "meal", date(2026, 1, 20), 1000.0),
        ),
        groups=(
            Group(HERE, "young", "pigs", 10, DAY, DAY + timedelta(days=60)),
            Group(HERE, "hens", "layers", 100, feed_kg_per_head_per_day=0.1),
        ),
        actual=(),
    )


def test_batches_are_eaten_one_after_the_other_give_or_take(book: Book):
    """Ten head at 2 kg eat 100 kg in five days; with 15 % more or less in 4.3 to 5.9."""
    found = spans([batch(1), batch(2), batch(3, DAY + timedelta(days=30))], book)
    first, second, third = (found[number,] for number in (1, 2, 3))
    assert (first.first, first.likely_from, first.likely_to) == (DAY, DAY, DAY + timedelta(days=5))
    assert first.last == DAY + timedelta(days=5)
    assert second.first == DAY + timedelta(days=4) and second.last == DAY + timedelta(days=11)
    assert third.first == DAY + timedelta(days=30) and third.heads == {"young": 10}


def day_by_day(batches, groups, factor):
    """First and last day of each batch, each day looked at by itself."""
    found, day, left_over = {}, date.min, 0.0
    for one in batches:
        if one.made.made_on > day:
            day, left_over = one.made.made_on, 0.0
        first, left, last = day, one.made.total_kg + left_over, None
        for _ in range(LONGEST):
            fed = [group for group in groups if fed_on(group, day)]
            eaten = sum(group.head * (group.feed_kg_per_head_per_day or one.per_head_kg) for group in fed)
            last = day
            if left < eaten * factor or not (eaten or any(g.to_date is None or g.to_date > day for g in groups)):
                break
            left -= eaten * factor
            day += timedelta(days=1)
        left_over = max(left, 0.0)
        found[one.made.key] = (first, last)
    return found


@pytest.mark.parametrize("seed", range(8))
def test_days_without_animals_are_passed_over_at_once(seed, book: Book, monkeypatch):
    """Twenty thousand batches of ten years took 35 s to trace: each looked at two years of empty days."""
    chance, asked = random.Random(seed), []
    monkeypatch.setattr(eaten, "fed_on", lambda group, day: asked.append(day) or fed_on(group, day))

    def some(number: int) -> Group:
        first = DAY + timedelta(days=chance.randrange(-300, 900)) if chance.random() < 0.8 else None
        last = first + timedelta(days=chance.randrange(100)) if first and chance.random() < 0.7 else None
        return Group(HERE, f"g{number}", "pigs", chance.choice((5, 50)), first, last, chance.choice((None, 2.5)))

    groups = [some(number) for number in range(chance.randrange(1, 4))]
    days = sorted(DAY + timedelta(days=chance.randrange(200)) for _ in range(6))
    made = [batch(number, day, kg=chance.choice((50.0, 2000.0))) for number, day in enumerate(days, 1)]
    found = spans(made, replace(book, groups=tuple(groups)))
    likely, early = day_by_day(made, groups, 1.0), day_by_day(made, groups, 1 + INTAKE_SPREAD)
    assert {key: (span.likely_from, span.likely_to) for key, span in found.items()} == likely
    assert {key: span.first for key, span in found.items()} == {key: first for key, (first, _) in early.items()}
    later = [Group(HERE, "young", "pigs", 10, DAY + timedelta(days=3000))]
    asked.clear()
    spans([batch(1)], replace(book, groups=tuple(later)))
    assert len(asked) < 20


def test_an_intake_nobody_knows_leaves_the_end_open(book: Book):
    span = spans([batch(1, per_head=None)], book)[1,]
    assert span.last is None and span.meets(date(2030, 1, 1), None)
    assert any("not known" in note for note in follow(Question("young"), [batch(1, per_head=None)], book).notes)


def test_backward_from_animals_to_bin_sample_and_lot(book: Book):
    found = follow(Question("young", start=DAY + timedelta(days=9), end=DAY + timedelta(days=9)), _year(), book)
    assert [traced.batch.made.number for traced in found.batches] == [2]
    parts = {part.offer: part for part in found.batches[0].parts}
    assert (parts["north"].bin, parts["north"].sample) == ("north", "n1") and "2025-09-03" in parts["north"].origin
    assert parts["meal"].lot == "L1"
    assert "The mill" in parts["meal"].origin and "M-77" in parts["meal"].origin


def _year() -> list[Batch]:
    return [
        batch(1),
        batch(2),
        batch(3, DAY + timedelta(days=15), lots=("L2",), bins=("south",)),
        batch(4, DAY + timedelta(days=20), lots=("L1", "L2"), bins=("north", "south"), verdict=STOP),
        batch(5, DAY + timedelta(days=25), lots=("",)),
        batch(6, DAY, stage="layers", lots=("L1",)),
        batch(7, date(2025, 12, 1), stage="layers", lots=("",)),
    ]


def test_forward_from_a_bad_lot_to_all_animals(book: Book):
    """The recall drill; a batch whose lot nobody wrote down may hold it, one made before it came cannot."""
    found = follow(Question(lot="L1"), _year(), book)
    assert [(traced.batch.made.number, traced.sure) for traced in found.batches] == [
        (1, True),
        (2, True),
        (4, True),
        (5, False),
        (6, True),
    ]
    assert {group for traced in found.batches for group in traced.groups} == {"young", "hens"}
    assert found.asked_kg == pytest.approx(20 + 20 + 10 + 20)
    assert any("not written down" in note and "#5" in note for note in found.notes)


def test_a_recall_finds_two_lots_in_one_box_and_a_lot_that_is_misspelt(book: Book):
    """ "L1, L2" in the box, and "L 1", which the book does not have, were in no recall at all."""
    year = [batch(1, lots=("L1, L2",)), batch(2, lots=("L 1",)), batch(3, lots=("L1 and L2",))]
    found = follow(Question(lot="L1"), year, book)
    assert [(traced.batch.made.number, traced.sure) for traced in found.batches] == [(1, True), (2, False), (3, False)]
    assert any("none of the book's" in note and "#2" in note and "#3" in note for note in found.notes)
    assert any("Several lots in one box" in note and "#1" in note for note in found.notes)


def test_forward_from_a_bin_of_several_in_a_mix(book: Book):
    found = follow(Question(bin="south"), _year(), book)
    assert [traced.batch.made.number for traced in found.batches] == [3, 4] and found.asked_kg == pytest.approx(120)
    assert found.batches[1].batch.verdict.severity is Severity.STOP


def test_a_bin_that_the_book_has_lost_is_traced_by_the_record(book: Book):
    """Renamed, or emptied and taken off the sheet: a recall of what came from it was refused as misspelt."""
    left = replace(book, bins=tuple(row for row in book.bins if row.bin != "south"))
    found = follow(Question(bin="south"), _year(), left)
    assert [traced.batch.made.number for traced in found.batches] == [3, 4] and found.asked_kg == pytest.approx(120)
    origins = {part.origin for traced in found.batches for part in traced.parts if part.bin == "south"}
    assert origins == {"a bin that the book has no longer"}
    with pytest.raises(RequestError) as caught:
        follow(Question(bin="soth"), _year(), left)
    assert caught.value.problems[0].do == "Did you mean south?"


def test_a_group_that_the_book_calls_otherwise_is_traced_by_the_record(book: Book):
    """Renamed, it was refused as misspelt; a statement needs its head and days, which the record has not."""
    renamed = replace(book, groups=tuple(replace(g, group="pen_4") if g.group == "young" else g for g in book.groups))
    asked = Question("young", start=DAY, end=DAY + timedelta(days=9))
    found = follow(asked, [*_year(), replace(batch(8), groups=("hens",))], renamed)
    assert [traced.batch.made.number for traced in found.batches] == [1, 2, 6]
    assert any("has no young any more" in note for note in found.notes)
    with pytest.raises(RequestError) as caught:
        statement_of(found, renamed)
    assert "put the row of young back" in caught.value.problems[0].do
    with pytest.raises(RequestError) as caught:
        follow(Question("yung"), _year(), renamed)
    assert caught.value.problems[0].do == "Did you mean young?"


def test_a_batch_by_its_number_or_its_label(book: Book):
    for name in ("4", "#4", "7KQ4-M2XD #4", "7kq4-m2xd #4"):
        assert [t.batch.made.number for t in follow(Question(batch=name), _year(), book).batches] == [4], name


def test_what_nobody_knows_is_asked_all_at_once(book: Book):
    with pytest.raises(RequestError) as caught:
        follow(Question("calves", "west", "L9", "99"), _year(), book)
    assert [problem.sheet for problem in caught.value.problems] == ["group", "bin", "lot", "batch"]


def test_a_gap_and_days_without_animals_are_said(book: Book):
    late = DAY + timedelta(days=40)
    assert any("missing from the record" in n for n in follow(Question("young", start=late, end=late), [], book).notes)
    early = date(2025, 11, 1)
    notes = follow(Question("young", start=early, end=early), [batch(1)], book).notes
    assert any("does not have young on feed" in note for note in notes)


def test_the_statement_says_no_more_than_the_record_proves(book: Book, tmp_path: Path):
    statement = statement_of(follow(Question("young"), _year(), book), book)
    assert statement.head == 10 and statement.kg == pytest.approx(500)
    assert statement.home_grown_share == pytest.approx(0.8)
    lines = {line.label: line for line in statement.lines}
    assert lines["Meal"].organic == "no" and lines["north"].organic == "not stated"
    assert lines["Meal"].lots == ("L1", "L2") and lines["Meal"].share == pytest.approx(0.2)
    notes = " ".join(statement.notes)
    assert "#4" in notes and "lots were not written down of: Meal" in notes and "No batch on record" in notes
    for path in (tmp_path / "s.html", tmp_path / "s.txt"):
        write_statement(statement, book.farm, path)
        text = path.read_text()
        assert "nutritionist" in text and "80.0 % of it home-grown" in text and "What young ate" in text
    assert re.search(r"south \(grain of bin south\) +120 +24.0 ", statement_text(statement))  # kg


@pytest.mark.slow
def test_the_command(book: Book, tmp_path: Path):
    folder = write_sheets(read_sheets(), tmp_path / "farm")
    Record(record_of(folder)).add(
        [
            batch_entry(replace(batch(n, DAY, stage="sw_boar", lots=("M-9",)), per_head_kg=2.5, verdict=STOP))
            for n in range(1, 30)
        ]
    )
    run = CliRunner().invoke(app, ["trace", str(folder), "--lot", "M-9"])
    assert run.exit_code == 0, run.output
    assert len(run.stdout.splitlines()) <= 40 and max(map(len, run.stdout.splitlines())) <= 100
    assert "29 batches" in run.stdout and "DO NOT FEED" in run.stdout
    told = json.loads(CliRunner().invoke(app, ["trace", str(folder), "--batch", "3", "--format", "json"]).stdout)
    (one,) = told["batches"]
    assert one["made_on"] == "2026-01-05" and one["verdict"]["verdict"] == "stop"
    assert one["parts"][1]["lot"] == "M-9" and one["parts"][0]["bin"] == "north"


@pytest.mark.long
def test_the_record_goes_out_and_comes_back(tmp_path: Path):
    folder, out = write_sheets(read_sheets(), tmp_path / "farm"), tmp_path / "out"
    Record(record_of(folder)).add([batch_entry(batch(n, DAY, stage="sw_boar", lots=("M-9",))) for n in range(1, 30)])
    table = CliRunner().invoke(app, ["trace", str(folder), "--format", "csv"]).stdout
    assert len(table.splitlines()) == 1 + 2 * 29
    assert CliRunner().invoke(app, ["trace", str(folder), "--export", str(out)]).exit_code == 0
    record_of(folder).unlink()
    assert CliRunner().invoke(app, ["trace", str(folder), "--lot", "M-9"]).exit_code == 2
    assert CliRunner().invoke(app, ["trace", str(folder), "--rebuild", str(out)]).exit_code == 0
    assert CliRunner().invoke(app, ["trace", str(folder), "--lot", "M-9"]).exit_code == 0
    assert CliRunner().invoke(app, ["trace", str(folder), "-o", "x.html"]).exit_code == 2
    assert read_book(folder)
