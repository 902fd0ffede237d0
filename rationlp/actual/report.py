"""Everything that can be said of what was weighed: batches judged, stock, uniformity, the way back from the animals."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from rationlp.actual.judge import Judgement, judge
from rationlp.actual.stock import Stock, stocks
from rationlp.actual.trace import Trace, trace
from rationlp.actual.uniformity import Uniformity
from rationlp.book.records import Book
from rationlp.errors import InputError, Problem
from rationlp.farm import Farm
from rationlp.ledger.kept import find
from rationlp.ledger.made_mix import MadeMix
from rationlp.ledger.weighed import ID, NUMBER, made_in_book
from rationlp.rations.answer.ids import book_version
from rationlp.rations.answer.mix import IN_MIX
from rationlp.rations.formulate import SolvedRation, solve_rations
from rationlp.reasons import Severity
from rationlp.sheets.batches import plan
from rationlp.sheets.request import SheetRequest
from rationlp.sheets.rounding import whole_mix
from rationlp.sheets.scale import Scale, farm_scale

Key = tuple[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class ActualReport:
    """`judgements` in the order of mixing; `warnings` are for the person who keeps the records."""

    judgements: tuple[Judgement, ...]
    stocks: tuple[Stock, ...]
    uniformity: tuple[Uniformity, ...]
    trace: Trace | None
    lots: Mapping[str, str]
    warnings: tuple[Problem, ...]

    @property
    def good(self) -> bool:
        """Whether everything may be fed and every mixer test kept the target."""
        return all(j.verdict.severity is Severity.FEED for j in self.judgements) and all(
            test.good for test in self.uniformity
        )


def report_of(
    farm: Farm,
    workbook: Path | None = None,
    tests: Sequence[Uniformity] = (),
    asked_trace: tuple[str, date] | None = None,
) -> ActualReport:
    """Judge the filled-in `workbook`, or else the rows of the book's sheet `actual`; stock and trace count both.

    Raises InputError with every fault of what was written down.
    """
    today = _Today(farm)
    in_book = made_in_book(farm, today.ids(row.sheet for row in farm.book.actual))
    warnings: list[Problem] = []
    lots: Mapping[str, str] = {}
    printed_from: Mapping[str, str] = {}
    judged, everything = in_book, in_book
    if workbook is not None:
        from rationlp.actual.readback import read_back

        back = read_back(workbook, farm.book)
        warnings += back.warnings
        warnings += _other_book(workbook, back.book_version, farm.book)
        lots, judged, printed_from = back.lots, list(back.made), back.rations
        everything = [*in_book, *(made for made in back.made if not _same(made, in_book, warnings))]
        tests = [*tests, *([back.mixer_test] if back.mixer_test else [])]
    _something(judged, tests, asked_trace, workbook, farm.book)
    judgements = []
    for made in judged:
        recipe = today.ration(made)
        judgements.append(judge(made, recipe, made.target_kg or today.target_kg(recipe), farm))
        warnings += _stale(made, printed_from.get(made.id, made.id if workbook else recipe.id), recipe)
    return ActualReport(
        judgements=tuple(judgements),
        stocks=tuple(stocks(everything, farm)) if everything else (),
        uniformity=tuple(tests),
        trace=_traced(asked_trace, everything, today, lots, farm),
        lots=lots,
        warnings=tuple(dict.fromkeys(warnings)),
    )


class _Today:
    """The rations of today, each made once."""

    def __init__(self, farm: Farm):
        self.farm = farm
        self.scale: Scale = farm_scale(farm.settings)
        self._made: dict[Key, SolvedRation] = {}
        self._targets: dict[str, Mapping[str, float]] = {}

    def ration(self, made: MadeMix) -> SolvedRation:
        """The ration of the sheet a batch was made by. Raises InputError if the book has lost a bin."""
        key = (made.stage, made.bins)
        if key not in self._made:
            self._made[key] = solve_rations(self.farm, [made.stage], made.bins, together=len(made.bins) > 1)[0]
        return self._made[key]

    def ids(self, names: Iterable[str]) -> dict[str, Key]:
        """Stage and bins by the id of a sheet that was printed or of a ration of today, if any name is an id at all."""
        words = [match[1] if (match := NUMBER.match(name)) else name for name in names]
        if not any(ID.match(word.strip().upper().replace(" ", "")) for word in words):
            return {}
        found = solve_rations(self.farm)
        if len(self.farm.book.bins) > 1:
            found += solve_rations(self.farm, together=True)
        self._made |= {(made.ration.stage, made.bins): made for made in found}
        kept = {mix.id: (mix.stage, mix.bins) for mix in find(self.farm.book)}
        return kept | {made.id: (made.ration.stage, made.bins) for made in found}

    def target_kg(self, made: SolvedRation) -> Mapping[str, float]:
        """What a batch of the book's usual size asks for, in kg: the weights of its sheet, else the shares."""
        if made.id not in self._targets:
            self._targets[made.id] = self._target_kg(made)
        return self._targets[made.id]

    def _target_kg(self, made: SolvedRation) -> Mapping[str, float]:
        if made.verdict.severity is not Severity.STOP:
            size = plan(made, self.scale, SheetRequest()).runs[0].size
            mix = whole_mix(made, size, self.scale)
            if mix is not None:
                columns = made.formula.program.columns
                return {columns[j]: float(mass) * self.scale.kg for j, mass in mix.masses().items()}
        return {name: share * self.farm.settings.batch_kg for name, share in made.shares.items() if share > IN_MIX}


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
    """A warning where the sheet was printed from another `ration` (its id) than that of today."""
    if not ration or ration == recipe.id:
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
        if (made.stage, made.bins, made.made_on, made.number) == (other.stage, other.bins, other.made_on, other.number):
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


def _something(
    judged: Sequence[MadeMix], tests: Sequence[Uniformity], asked: object, workbook: Path | None, book: Book
) -> None:
    if judged or tests or asked:
        return
    where, do = (
        (workbook.name, "Fill in the column of at least one batch.")
        if workbook
        else (
            "actual",
            "Write what was weighed there (sheet, made_on, feed, mass), or give the filled-in workbook after the book.",
        )
    )
    raise InputError([Problem("error", where, "", "nothing weighed", "at least one batch", do)])


def _traced(
    asked: tuple[str, date] | None, made: Sequence[MadeMix], today: _Today, lots: Mapping[str, str], farm: Farm
) -> Trace | None:
    if asked is None:
        return None
    name, day = asked
    stage = next((group.stage for group in farm.book.groups if group.group == name), None)
    mine = next((b for b in made if b.stage == stage), None)
    rations = {stage: today.ration(mine).ration} if stage and mine else {}
    return trace(name, day, made, rations, lots, farm)


def as_rows(review_: ActualReport, unit_kg: float) -> list[tuple[str, str, str, float]]:
    """The batches as rows for the book's sheet `actual`: sheet, made_on, feed, mass in the book's unit."""
    return [
        (
            f"{j.made.sheet} #{j.made.number}",
            f"{j.made.made_on:%Y-%m-%d}" if j.made.made_on else "",
            offer,
            round(mass / unit_kg, 6),
        )
        for j in review_.judgements
        for offer, mass in j.made.weighed_kg.items()
    ]
