"""Years of a farm with the errors people make on paper: no batch is lost, none counts twice, no harmful one passes.

Each paper is a workbook of mix sheets as it is printed, filled in, read back and entered. What is harmful is settled by
plain sums over what really went in (`Case.harm`). Where a paper is refused, the crew puts right the cells that were
named, and no others. What leaves no trace on paper (a scale that shows too much, a tick for a thing that was not
weighed) no reading can find, and is left out.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from weighings import DAY, Case, ordinary

from rationlp.actual import judge, known, readback
from rationlp.actual.faults import JUDGED_AS_WRITTEN
from rationlp.actual.printed import Filled, Printed, Sheets, filled_sheets, printed_sheets
from rationlp.actual.report import ActualReport, enter, report_of
from rationlp.errors import InputError, Problem
from rationlp.farm import Farm
from rationlp.ledger.kept import record_for
from rationlp.ledger.shape import batches_of
from rationlp.pages.workbook import write_workbook
from rationlp.rations.formulate import solve_rations
from rationlp.reasons import Severity
from rationlp.sheets.pack import make_pack
from rationlp.sheets.record import RECORD, RECORD_COLUMNS
from rationlp.sheets.request import SheetRequest
from rationlp.units import KG_PER_LB

pytestmark = pytest.mark.slow

PAPERS = 8
WENT_WRONG = (
    "",
    "",
    "",
    "premix missed",
    "feed missed",
    "feed twice",
    "weighed in each other's place",
    "in pounds",
    "half a batch",
    "half a batch with a whole premix",
    "tare kept",
    "a tenth too little",
    "ten times",
    "grain short",
    "a bag too many",
    "an older sheet",
    "two things",
)
WRITTEN_WRONG = (
    "",
    "",
    "",
    "no weight",
    "unreadable",
    "all in pounds",
    "one in pounds",
    "rows swapped",
    "decimal slip",
    "scale not zeroed",
    "read twice",
    "weighed again",
    "next box",
    "one reading",
    "all readings",
    "readings of the mixer",
    "readings in pounds",
    "bucket in pounds",
    "bucket in grams",
    "one in grams",
    "ticks",
    "with units",
    "decimal commas",
    "in the next row",
    "on the other sheet",
    "bucket with its tare",
    "a bag counted twice",
)
BAG_KG = 25.0
HIDING = (
    "rows swapped",
    "scale not zeroed",
    "decimal slip",
    "one in pounds",
    "one in grams",
    "one reading",
    "all readings",
    "readings of the mixer",
    "readings in pounds",
    "in the next row",
    "on the other sheet",
    "bucket with its tare",
    "a bag counted twice",
)
"""What may make a wrong weight look right on paper (a scale of 1 kg does not show that 300 g are missing): only where
nothing else went wrong, or all of it by half."""
NEVER_SEEN = ("scale not zeroed", "a bag counted twice")
"""What no question of the reader puts right; all else that is written is in the end what went in."""
WHOLE_COLUMN = ("each in its own row", "those of this sheet", "what each weighed alone")
"""What is expected where all weights of a batch are put right at once."""
AMISS = (("harmful", Severity.FEED), ("right", Severity.STOP))
COLUMN = {name: place for place, name in enumerate(RECORD_COLUMNS, 1)}


@dataclass
class Paper:
    """A workbook of mix sheets, with what is written in its boxes: kg or text by tab, box and row."""

    blank: Sheets
    printed: list[Printed]
    first: int
    boxes: dict[tuple[str, int], dict[int, object]]
    day: date

    def sheets(self) -> Sheets:
        """As the reader finds it."""
        found = {}
        for tab, filled in self.blank.items():
            values = dict(filled._values)
            for (name, box), cells in self.boxes.items():
                if name == tab:
                    values |= {(row, self._column(tab) + box): value for row, value in cells.items()}
            if tab == RECORD:
                values |= {
                    (row, column): value + self.first
                    for (row, column), value in values.items()
                    if column == COLUMN["first_batch"] and row > 1
                }
            for sheet in self.printed:
                if sheet.tab == tab:
                    values[_place(sheet.date_cell)] = self.day
            found[tab] = Filled([])
            found[tab]._values = values
        return found

    def _column(self, tab: str) -> int:
        return next(_place(f"{sheet.first_box}1")[1] for sheet in self.printed if sheet.tab == tab)

    def put_right(self, cell_tab: str, cell: str, value: object) -> None:
        row, column = _place(cell)
        self.boxes[cell_tab, column - self._column(cell_tab)][row] = value


def _place(address: str) -> tuple[int, int]:
    from openpyxl.utils.cell import coordinate_to_tuple

    return coordinate_to_tuple(address)


@pytest.fixture(scope="module")
def blank(demo_book, library, cases, tmp_path_factory) -> Sheets:
    """The workbook with a sheet of each stage and two boxes on each, numbered from 0."""
    stages = [case.recipe.ration.stage for case in cases]
    pack = make_pack(Farm(demo_book, library), SheetRequest(count=2, on=DAY), stages, ["north"])
    pack = replace(pack, sheets=tuple(replace(s, first_batch=2 * place) for place, s in enumerate(pack.sheets)))
    path = tmp_path_factory.mktemp("paper") / "mix.xlsx"
    write_workbook(pack, library, path)
    return filled_sheets(path)


MADE: dict[object, list] = {}


@pytest.fixture
def once(monkeypatch):
    """Each ration is calculated once in all years; what to add to a batch (tests/sheets/test_actual.py) takes half of
    the time, and is not looked for."""

    def solved(farm, stages, bins, together=False):
        key = (tuple(stages), tuple(bins), tuple(row.sample for row in farm.book.samples))
        if key not in MADE:
            MADE[key] = solve_rations(farm, stages, bins, together)
        return MADE[key]

    monkeypatch.setattr(known, "solve_rations", solved)
    monkeypatch.setattr(judge, "remedies", lambda *asked: [])


def went_in(case: Case, chance: random.Random) -> tuple[dict[str, float], str]:
    """What really went into the mixer, in kg, and what went wrong with it."""
    weights, error = ordinary(case, chance), chance.choice(WENT_WRONG)
    for each in chance.sample(WENT_WRONG[3:8], 2) if error == "two things" else [error]:
        _go_wrong(weights, each, chance)
    return weights, error


def _go_wrong(weights: dict[str, float], error: str, chance: random.Random) -> None:
    premix = next(name for name in weights if name.startswith("premix"))
    one, other = chance.sample([name for name in weights if name != "north"], 2)
    times = {
        "premix missed": (premix, 0.0),
        "feed missed": (one, 0.0),
        "feed twice": (one, 2.0),
        "in pounds": (one, KG_PER_LB),
        "a tenth too little": (one, 0.9),
        "ten times": (one, 10.0),
        "grain short": ("north", 0.8),
    }
    if error in times:
        name, factor = times[error]
        weights[name] *= factor
    elif error == "a bag too many":
        weights[max(set(weights) - {"north"}, key=weights.__getitem__)] += BAG_KG
    elif error == "an older sheet":
        weights |= {name: mass * chance.uniform(0.75, 1.3) for name, mass in weights.items() if name != premix}
    elif error == "tare kept":
        weights[one] = max(0.0, weights[one] - chance.choice((0.3, 0.5, 1.0)))
    elif error == "weighed in each other's place":
        weights[one], weights[other] = weights[other], weights[one]
    elif error.startswith("half"):
        whole = premix if error.endswith("premix") else ""
        weights |= {name: mass / 2 for name, mass in weights.items() if name != whole}


def by_row(sheet: Printed, weights: Mapping[str, float]) -> dict[int, float]:
    """Weights by row of the sheet; a feed of two rows is divided as it is printed."""
    asked: dict[str, float] = {}
    for row in sheet.rows:
        asked[row.offer] = asked.get(row.offer, 0.0) + row.mass
    return {row.row: round(weights[row.offer] * row.mass / asked[row.offer], 6) for row in sheet.rows}


def readings(sheet: Printed, true: Mapping[int, float]) -> dict[int, float]:
    """What the scales showed after each row: the bucket's, and the mixer's with the bucket in it where it went in."""
    bucket = sum(true[row.row] for row in sheet.rows if row.in_bucket)
    found = {}
    for in_bucket in (True, False):
        shown = printed = 0.0
        for row in (row for row in sheet.rows if row.in_bucket == in_bucket):
            bucket_went_in = row.reads - row.mass - printed > 1e-6
            shown, printed = shown + true[row.row] + bucket * bucket_went_in, row.reads
            step = row.scale_step or 0.01
            found[row.row] = round(step * round(shown / step), 3)
    return found


def written(sheet: Printed, true: Mapping[int, float], error: str, chance: random.Random) -> dict[int, object]:
    """What the crew wrote in the boxes of a batch."""
    one, other = chance.sample([row for row, mass in true.items() if mass], 2)
    shown, bucket = readings(sheet, true), {row.row for row in sheet.rows if row.in_bucket}
    exact = {row.row for row in sheet.rows if abs(true[row.row] - row.mass) <= 0.02 * row.mass}
    last = [row for row, mass in true.items() if mass][-1]
    heaviest = max((row.row for row in sheet.rows if row.offer != "north"), key=true.__getitem__)
    changed: dict[str, dict[int, object]] = {
        "no weight": {one: None},
        "unreadable": {one: "?"},
        "all in pounds": {row: round(mass / KG_PER_LB, 3) for row, mass in true.items()},
        "one in pounds": {one: round(true[one] / KG_PER_LB, 4)},
        "rows swapped": {one: true[other], other: true[one]},
        "decimal slip": {one: true[one] * chance.choice((0.1, 10))},
        "scale not zeroed": {last: true[last] + chance.choice((5.0, 20.0))},
        "one reading": {one: shown[one]},
        "all readings": dict(shown),
        "readings of the mixer": {row: mass for row, mass in shown.items() if row not in bucket},
        "readings in pounds": {row: round(mass / KG_PER_LB, 2) for row, mass in shown.items()},
        "bucket in pounds": {row: round(true[row] / KG_PER_LB, 3) for row in bucket},
        "bucket in grams": {row: round(true[row] * 1000) for row in bucket},
        "one in grams": {one: round(true[one] * 1000)},
        "ticks": dict.fromkeys(exact, "x"),
        "with units": {row: f"{mass} kg" for row, mass in true.items()},
        "decimal commas": {row: str(mass).replace(".", ",") for row, mass in true.items()},
        "in the next row": _a_row_lower(true, one),
        "bucket with its tare": {row: true[row] + 0.5 for row in bucket},
        "a bag counted twice": {row: mass + BAG_KG for row, mass in true.items() if row == heaviest},
    }
    return {**true, **changed.get(error, {})}


def _a_row_lower(true: Mapping[int, float], first: int) -> dict[int, object]:
    """From the row `first` on every figure stands in the row below; the last one is lost."""
    rows = [row for row in true if row >= first]
    return {first: None} | {row: true[above] for above, row in pairwise(rows)}


def on_each_other(one: Printed, other: Printed, true: Mapping[int, float]) -> dict[int, object]:
    """What was weighed off the sheet `one`, written on the `other` beside the same feeds."""
    masses: dict[str, float] = {}
    for row in one.rows:
        masses[row.offer] = masses.get(row.offer, 0.0) + true[row.row]
    return dict(by_row(other, {row.offer: 0.0 for row in other.rows} | masses))


def put_right(paper: Paper, problem: Problem, truth: Mapping[tuple[str, int], Mapping[int, float]]) -> None:
    """What the crew does with a cell that was named, and with no other; where it is told, with all weights alike."""
    row, column = _place(problem.cell)
    box = column - paper._column(problem.sheet)
    cells = paper.boxes[problem.sheet, box]
    unit = problem.do.rstrip(").").split()[-1]
    if problem.expected in WHOLE_COLUMN:
        cells |= truth[problem.sheet, box]
    elif "in the same proportion" in problem.found:
        cells |= {row: f"{mass} {unit}" for row, mass in cells.items()}
    elif problem.expected.startswith("readings in"):
        (sheet,) = (sheet for sheet in paper.printed if sheet.tab == problem.sheet)
        of_bucket = {row.row: row.in_bucket for row in sheet.rows}
        cells |= {each: f"{mass} {unit}" for each, mass in cells.items() if of_bucket[each] == of_bucket[row]}
    else:
        sure = " kg" if "look" in problem.expected or "decimal point" in problem.expected else ""
        paper.put_right(problem.sheet, problem.cell, f"{truth[problem.sheet, box][row]}{sure}")


def corrected(paper: Paper, found: ActualReport, truth: Mapping[tuple[str, int], Mapping[int, float]]) -> bool:
    """Whether the crew corrects what was only written wrong, where the answer names it and says so."""
    wrong = False
    for j in found.judgements:
        words = " ".join(fault for fault in j.faults if fault.endswith(JUDGED_AS_WRITTEN))
        for sheet in paper.printed:
            box = j.made.number - paper.first - sheet.first_batch
            for row in sheet.rows if 0 <= box < sheet.boxes and words else ():
                cells, true = paper.boxes[sheet.tab, box], truth[sheet.tab, box][row.row]
                if row.label in words and isinstance(cells[row.row], float) and cells[row.row] != true:
                    cells[row.row] = true
                    wrong = True
    return wrong


def read(paper: Paper, farm: Farm, truth: Mapping[tuple[str, int], Mapping[int, float]], monkeypatch):
    """The paper read and entered; where it is refused, what was named is put right and it is read again."""
    for _ in range(6):
        monkeypatch.setattr(readback, "filled_sheets", lambda path: paper.sheets())
        try:
            found = report_of(farm, Path("mix.xlsx"))
        except InputError as error:
            for problem in error.problems:
                if problem.severity == "error":
                    put_right(paper, problem, truth)
            continue
        if corrected(paper, found, truth):
            continue
        enter(found, farm.book)
        return found
    raise AssertionError("refused again and again")


def papers(blank: Sheets, chance: random.Random) -> Iterator[Paper]:
    printed, _ = printed_sheets(blank)
    first = 1
    for turn in range(PAPERS):
        day = DAY + timedelta(days=42 * turn + chance.randrange(30))
        yield Paper(blank, printed, first, {}, day)
        first += 2 * len(printed)


@pytest.fixture(scope="module")
def seen() -> Iterator[Counter[str]]:
    """How many batches were harmful, right or otherwise wrong, and what was said of them; printed with -s."""
    counts = Counter[str]()
    yield counts
    print(f"\n{sum(counts.values()):,} batches:", ", ".join(f"{what} {n:,}" for what, n in sorted(counts.items())))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(220))
def test_a_year_of_errors_loses_nothing_and_passes_no_harm(
    seed, demo_book, library, cases, blank, once, seen, tmp_path, monkeypatch
):
    """With --long 200 years, some 3,600 batches; none that harms is fed, and none that is right is stopped."""
    chance = random.Random(seed)
    farm = Farm(replace(demo_book, path=tmp_path / "farm.xlsx"), library)
    by_stage = {case.recipe.ration.stage: case for case in cases}
    really: dict[int, float] = {}
    for paper in papers(blank, chance):
        truth: dict[tuple[str, int], dict[int, float]] = {}
        harmful, right, again = set[int](), set[int](), False
        sheets = chance.sample(paper.printed, chance.choice((1, 2)))
        for sheet in sheets:
            case = by_stage[sheet.stage]
            for turn in range(chance.choice((1, 2))):
                (weights, amiss), error = went_in(case, chance), chance.choice(WRITTEN_WRONG)
                error = error if amiss in ("", "half a batch") or error not in HIDING else ""
                box = 1 - turn if error == "next box" and (sheet.tab, 1 - turn) not in truth else turn
                if (sheet.tab, box) in truth:
                    continue
                true = by_row(sheet, weights)
                truth[sheet.tab, box] = true
                paper.boxes[sheet.tab, box] = written(sheet, true, error, chance)
                number = sheet.first_batch + paper.first + box
                really[number] = sum(weights.values())
                if error == "on the other sheet" and len(sheets) == 2:
                    other = sheets[sheet is sheets[0]]
                    paper.boxes[sheet.tab, box] = on_each_other(
                        other, sheet, by_row(other, by_stage[other.stage].target)
                    )
                again = again or error in ("read twice", "weighed again")
                if case.harm(weights):
                    harmful.add(number)
                elif not amiss and error not in NEVER_SEEN:
                    right.add(number)
        found = read(paper, farm, truth, monkeypatch)
        if again:
            (tab, box), cells = chance.choice(list(truth.items()))
            row = next(row for row, mass in cells.items() if mass > 20)
            if chance.random() < 0.5:
                paper.boxes[tab, box][row] = cells[row]  # read once more, or put right after a second weighing
            found = read(paper, farm, truth, monkeypatch)
        if chance.random() < 0.3:  # the old sheet again for a new batch, a month later
            paper.day, count = paper.day + timedelta(days=28), len(batches_of(record_for(farm.book)))
            monkeypatch.setattr(readback, "filled_sheets", lambda path, paper=paper: paper.sheets())
            with pytest.raises(InputError, match="which in the farm's record is that of"):
                report_of(farm, Path("mix.xlsx"))
            assert len(batches_of(record_for(farm.book))) == count
        for j in found.judgements:
            kind = "harmful" if j.made.number in harmful else "right" if j.made.number in right else "wrong"
            said = j.verdict.severity
            seen[f"{kind} {said.value}"] += 1
            assert (kind, said) not in AMISS, (kind, paper.boxes, j.verdict.reasons[0].text)
    record = batches_of(record_for(farm.book))
    assert sorted(batch.made.number for batch in record) == sorted(really)
