"""Everything that can be said of what was weighed: batches judged, entered in the record, stock, uniformity."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from rationlp.actual.in_book import slips_in_book
from rationlp.actual.judge import Judgement, judge
from rationlp.actual.known import Known
from rationlp.actual.slips import Crossed
from rationlp.actual.stock import stocks
from rationlp.actual.uniformity import Uniformity
from rationlp.book.records import Book, Settings, Weighed
from rationlp.errors import InputError, Problem
from rationlp.farm import Farm
from rationlp.feeds.stock import Stock
from rationlp.files import record_of
from rationlp.ledger.flows import first_day
from rationlp.ledger.kept import printed_by_id, record_for
from rationlp.ledger.made_mix import MadeMix
from rationlp.ledger.shape import Batch, batch_entry, batches_beside
from rationlp.ledger.store import Entry, EntryKind
from rationlp.ledger.taken import Key, against, same_weights
from rationlp.ledger.weighed import batches_in_book
from rationlp.rations.answer.ids import book_version
from rationlp.rations.formulate import SolvedRation
from rationlp.reasons import Severity
from rationlp.sheets.batches import fed_on

if TYPE_CHECKING:
    from rationlp.actual.readback import ReadBack


@dataclass(frozen=True, slots=True)
class ActualReport:
    """`judgements` in the order of mixing; `warnings` are for the person who keeps the records.
    `withdrawn` are numbers of batches of the record that were not made."""

    judgements: tuple[Judgement, ...]
    stocks: tuple[Stock, ...]
    uniformity: tuple[Uniformity, ...]
    lots: Mapping[str, str]
    warnings: tuple[Problem, ...]
    withdrawn: tuple[int, ...] = ()

    @property
    def good(self) -> bool:
        """Whether nothing must not be fed and every mixer test kept the target."""
        return all(j.verdict.severity is not Severity.STOP for j in self.judgements) and all(
            test.good for test in self.uniformity
        )


def report_of(
    farm: Farm,
    workbook: Path | None = None,
    tests: Sequence[Uniformity] = (),
) -> ActualReport:
    """Judge the filled-in `workbook`, or else the rows of the book's sheet `actual`; stock counts both and the
    farm's record.

    Raises InputError with every fault of what was written down.
    """
    ledger = record_for(farm.book)
    known = Known(farm, printed_by_id(farm.book))
    warnings: list[Problem] = []
    problems: list[Problem] = []
    lots: Mapping[str, str] = {}
    printed_from: Mapping[str, str] = {}
    of_book: list[tuple[MadeMix, Sequence[Weighed]]] = []
    back: ReadBack | None = None
    try:
        of_book = batches_in_book(farm, known.ids(row.sheet for row in farm.book.actual))
    except InputError as error:
        problems += error.problems
    try:
        back = _read_back(workbook, farm.book) if workbook is not None else None
    except InputError as error:
        problems += error.problems
    if problems:
        raise InputError(problems)
    judged = in_book = [made for made, _ in of_book]
    if back is not None and workbook is not None:
        warnings += back.warnings
        warnings += _other_book(workbook, back.book_version, farm.book)
        lots, judged, printed_from = back.lots, list(back.made), back.rations
        tests = [*tests, *([back.mixer_test] if back.mixer_test else [])]
        everything = [*in_book, *(made for made in judged if not _same(made, in_book, warnings))]
    else:
        everything = in_book
    recorded = {batch.made.key: batch for batch in batches_beside(ledger, everything, first_day(farm.book))}
    if back is None:
        _ask_of_slips(of_book, recorded, known)
    if not judged and not tests:
        warnings += _nothing_weighed(workbook, bool(recorded or ledger.last_day(EntryKind.BATCH, date.max)))
    warnings += _against_record(judged, recorded, farm.settings)
    withdrawn = [each.number for each in judged if each.number and not each.total_kg and each.key in recorded]
    judged = [each for each in judged if each.number not in withdrawn]
    judgements = []
    for made in map(known.as_printed, judged):
        recipe = known.ration(made)
        judgements.append(judged_for_all(made, known, back.crossed.get(made.number or 0, ()) if back else ()))
        warnings += _stale(made, printed_from.get(made.id, made.id if workbook else recipe.id), recipe)
    return ActualReport(
        judgements=tuple(judgements),
        stocks=tuple(stocks(_with(everything, recorded, judged, farm.settings), farm)),
        uniformity=tuple(tests),
        lots=lots,
        warnings=tuple(dict.fromkeys((*warnings, *ledger.damaged))),
        withdrawn=tuple(withdrawn),
    )


def _ask_of_slips(
    of_book: Sequence[tuple[MadeMix, Sequence[Weighed]]], recorded: Mapping[Key, Batch], known: Known
) -> None:
    """Raises InputError of weights in the book that look like slips of the pen; what was entered so before stands."""
    fresh = [
        (made, rows)
        for made, rows in of_book
        if made.total_kg and not (made.key in recorded and same_weights(made, recorded[made.key].made))
    ]
    if problems := slips_in_book(fresh, known):
        raise InputError(problems)


def judged_for_all(made: MadeMix, known: Known, crossed: Sequence[Crossed] = ()) -> Judgement:
    """A batch judged for its stage, with the reasons of every other stage it was made for; `crossed` are rows of its
    sheet with each other's weight."""
    then, recipe = known.then(made), known.ration(made)
    target = made.target_kg or known.target_kg(made, recipe)
    found = judge(made, recipe, target, then, crossed, known.asked_of_sheet(made, recipe))
    for stage in made.also_for:
        other = replace(made, stage=stage)
        reasons = judge(other, known.ration(other), target, then).verdict.reasons
        found = replace(found, verdict=found.verdict.plus(reasons))
    return found


def _read_back(workbook: Path, book: Book) -> ReadBack:
    from rationlp.actual.readback import read_back

    return read_back(workbook, book)


def _with(
    everything: Sequence[MadeMix], recorded: Mapping[Key, Batch], judged: Sequence[MadeMix], farm: Settings
) -> list[MadeMix]:
    """The batches given, and those of the record that are not among them."""
    gone = set(against(judged, recorded, farm).withdrawn) | {each.number for each in everything if not each.total_kg}
    found = {key: batch.made for key, batch in recorded.items() if batch.made.number not in gone}
    return list((found | {each.key: each for each in everything}).values())


def _against_record(made: Sequence[MadeMix], known: Mapping[Key, Batch], farm: Settings) -> tuple[Problem, ...]:
    """What was put right since it was entered. Raises InputError for numbers of other batches."""
    problems = against(made, known, farm).problems
    wrong = [problem for problem in problems if problem.severity == "error"]
    if wrong:
        raise InputError(wrong)
    return problems


def _other_book(workbook: Path, version: str, book: Book) -> list[Problem]:
    now = book_version(book)
    if version == now:
        return []
    return [
        Problem(
            "warning",
            workbook.name,
            "",
            f"sheets of book version {version}",
            f"the book as it is, {now}",
            "The book has changed since the sheets were written: targets are those of the sheets, figures those of "
            "today.",
        )
    ]


def _stale(made: MadeMix, ration: str, recipe: SolvedRation) -> list[Problem]:
    """A warning where the sheet was printed from another `ration` (its id) than that of today; a mix of the feed year's
    plan is none of today's rations and needs none."""
    if not ration or ration == recipe.id or made.eaten_by:
        return []
    return [
        Problem(
            "warning",
            made.where.split("!")[0],
            "",
            f"ration {ration}",
            f"the ration of today, {recipe.id}",
            "It is judged with today's figures of bin and feeds; write new sheets for the next batch.",
        )
    ]


def _same(made: MadeMix, in_book: Sequence[MadeMix], warnings: list[Problem]) -> bool:
    """Whether the book already has this batch: same animals, bins, day and number."""
    for other in in_book:
        alike = (made.stage, made.bins, made.made_on) == (other.stage, other.bins, other.made_on)
        unnumbered = not (made.number and other.number)
        if made.key == other.key or (alike and unnumbered and same_weights(made, other)):
            warnings.append(
                Problem(
                    "warning",
                    "actual",
                    "",
                    f"batch {made.batch} of {made.where} is already in the book",
                    "each batch once",
                    "It is counted once; nothing to do.",
                )
            )
            return True
    return False


def _nothing_weighed(workbook: Path | None, entered: bool) -> list[Problem]:
    """Where there is no batch to judge, the stock is told all the same, with a word where none was `entered` before.
    Raises InputError of a workbook that nobody filled in."""
    expected = "at least one batch"
    if workbook is not None:
        do = "Fill in the column of at least one batch."
        raise InputError([Problem("error", workbook.name, "", "nothing weighed", expected, do)])
    do = "Write what was weighed there (sheet, made_on, feed, mass), or give the filled-in workbook after the book."
    return [] if entered else [Problem("warning", "actual", "", "no batch entered yet", expected, do)]


def enter(found: ActualReport, book: Book) -> int:
    """Enter the batches in the farm's record, each judged as it is here; how many were new or other than before.

    Raises InputError with nothing entered.
    """
    ledger = record_for(book)
    made = [j.made for j in found.judgements]
    new = against(made, {batch.made.key: batch for batch in batches_beside(ledger, made)}, book.farm)
    fresh = [batch_entry(as_batch(j, book)) for j in found.judgements if j.made.key in new.fresh]
    ledger.add([*(Entry(EntryKind.WITHDRAWN, {}, number) for number in (*found.withdrawn, *new.withdrawn)), *fresh])
    return len(fresh)


def with_record_missing(found: ActualReport, book: Book) -> ActualReport:
    """The report, with a warning where its sheets were numbered by a record that does not lie beside the book."""
    record = record_of(book.path)
    if record.exists() or not any(j.made.number for j in found.judgements):
        return found
    problem = Problem(
        "warning",
        record.name,
        "",
        f"no such file beside {book.path.name}, though these batches were numbered by a record",
        "the farm's record of the book that the sheets were printed from",
        "A new one is begun. If the book was copied, moved or renamed, put its old record here under this name and "
        "enter the batches again: earlier batches, stock and lots stand in that one.",
    )
    return replace(found, warnings=(*found.warnings, problem))


def as_batch(j: Judgement, book: Book) -> Batch:
    """A judged batch as the record has it."""
    eaters = j.made.eaten_by or tuple(
        g.group for g in book.groups if g.stage == j.made.stage and fed_on(g, j.made.made_on)
    )
    return Batch(j.made, j.verdict, j.faults, eaters, j.ration.feed_kg_per_head_per_day)


def as_rows(found: ActualReport, unit_kg: float, farm: Settings) -> list[tuple[str, str, str, str, str, float]]:
    """The batches as rows for the book's sheet `actual`: sheet, made_on, batch, feed, lot, mass in the book's unit."""
    return [
        (
            j.made.sheet,
            farm.day(j.made.made_on),
            str(j.made.number or ""),
            part.offer,
            part.lot,
            round(part.kg / unit_kg, 6),
        )
        for j in found.judgements
        for part in j.made.parts
        if part.kg is not None
    ]
