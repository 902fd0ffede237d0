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
from rationlp.ledger.weighed import ID, NUMBER, Made, made_in_book
from rationlp.library.read import Library
from rationlp.rations.answer.ids import book_version
from rationlp.rations.formulate import Recipe, recipes
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
        return all(j.verdict == "feed" for j in self.judgements) and all(test.good for test in self.uniformity)


def review(
    book: Book,
    library: Library,
    workbook: Path | None = None,
    tests: Sequence[Uniformity] = (),
    asked_trace: tuple[str, date] | None = None,
) -> ActualReport:
    """Judge the filled-in `workbook`, or else the rows of the book's sheet `actual`; stock and trace count both.

    Raises InputError with every fault of what was written down.
    """
    kitchen = _Kitchen(book, library)
    in_book = made_in_book(book, library, kitchen.ids(row.sheet for row in book.actual))
    warnings: list[Problem] = []
    lots: Mapping[str, str] = {}
    judged, everything = in_book, in_book
    if workbook is not None:
        from rationlp.actual.readback import read_back

        back = read_back(workbook)
        warnings += back.warnings
        warnings += _other_book(workbook, back.book_version, book)
        lots, judged = back.lots, list(back.made)
        everything = [*in_book, *(made for made in back.made if not _same(made, in_book, warnings))]
        tests = [*tests, *([back.mixer_test] if back.mixer_test else [])]
    _something(judged, tests, asked_trace, workbook, book)
    judgements = []
    for made in judged:
        recipe = kitchen.recipe(made)
        judgements.append(judge(made, recipe, made.target_kg or kitchen.target_kg(recipe), book, library))
        warnings += _stale(made, recipe)
    return ActualReport(
        judgements=tuple(judgements),
        stocks=tuple(stocks(everything, book, library)) if everything else (),
        uniformity=tuple(tests),
        trace=_traced(asked_trace, everything, kitchen, lots, book, library),
        lots=lots,
        warnings=tuple(dict.fromkeys(warnings)),
    )


class _Kitchen:
    """The rations of today, each made once."""

    def __init__(self, book: Book, library: Library):
        self.book, self.library = book, library
        self.scale: Scale = farm_scale(book.farm)
        self._made: dict[Key, Recipe] = {}
        self._targets: dict[str, Mapping[str, float]] = {}

    def recipe_of(self, stage: str, bins: tuple[str, ...]) -> Recipe:
        """The ration of a stage from these bins. Raises InputError if the book has lost a bin."""
        if (stage, bins) not in self._made:
            self._made[stage, bins] = recipes(self.book, self.library, [stage], bins, together=len(bins) > 1)[0]
        return self._made[stage, bins]

    def recipe(self, made: Made) -> Recipe:
        """The ration of the sheet a batch was made by."""
        return self.recipe_of(made.stage, made.bins)

    def ids(self, names: Iterable[str]) -> dict[str, Key]:
        """Stage and bins by ration id, if any of the names of sheets is an id at all."""
        words = [NUMBER.match(name)[1] if NUMBER.match(name) else name for name in names]
        if not any(ID.match(word.strip().upper().replace(" ", "")) for word in words):
            return {}
        bins = tuple(row.bin for row in self.book.bins)
        found = recipes(self.book, self.library)
        if len(bins) > 1:
            found += recipes(self.book, self.library, together=True)
        self._made |= {(recipe.ration.stage, _bins(recipe)): recipe for recipe in found}
        return {recipe.id: (recipe.ration.stage, _bins(recipe)) for recipe in found}

    def target_kg(self, recipe: Recipe) -> Mapping[str, float]:
        """What a batch of the book's usual size asks for, in kg: the weights of its sheet, else the shares."""
        if recipe.id not in self._targets:
            self._targets[recipe.id] = self._target_kg(recipe)
        return self._targets[recipe.id]

    def _target_kg(self, recipe: Recipe) -> Mapping[str, float]:
        candidates = recipe.formula.candidates
        if recipe.ration.status == "optimal":
            size = plan(recipe, self.scale, self.book, self.library, SheetRequest()).runs[0].size
            mix = whole_mix(recipe, size, self.scale, self.book, self.library)
            if mix is not None:
                return {candidates[p.candidate].name: float(p.mass) * self.scale.kg for p in mix.portions}
        return {
            c.name: s * self.book.farm.batch_kg for c, s in zip(candidates, recipe.shares, strict=False) if s > 1e-7
        }


def _bins(recipe: Recipe) -> tuple[str, ...]:
    return tuple(estimate.bin for estimate in recipe.estimates)


def _other_book(workbook: Path, version: str, book: Book) -> list[Problem]:
    now = book_version(book)
    if version == now:
        return []
    return [Problem(
        "warning", workbook.name, "", f"sheets of book version {version}", f"the book as it is, {now}",
        "The book has changed since the sheets were written: targets are those of the sheets, figures those of today.",
    )]  # fmt: skip


def _stale(made: Made, recipe: Recipe) -> list[Problem]:
    if not made.id or made.id == recipe.id:
        return []
    return [Problem(
        "warning", made.where.split("!")[0], "", f"ration {made.id}", f"the ration of today, {recipe.id}",
        "It is judged with today's figures of bin and feeds; write new sheets for the next batch.",
    )]  # fmt: skip


def _same(made: Made, in_book: Sequence[Made], warnings: list[Problem]) -> bool:
    """Whether the book already has this batch: same animals, bins, day and number."""
    for other in in_book:
        if (made.stage, made.bins, made.made_on, made.number) == (other.stage, other.bins, other.made_on, other.number):
            warnings.append(Problem(
                "warning", "actual", "", f"batch {made.batch} of {made.where} is already in the "
                                         "book", "each batch once",
                "It is counted once; nothing to do.",
            ))  # fmt: skip
            return True
    return False


def _something(
    judged: Sequence[Made], tests: Sequence[Uniformity], asked: object, workbook: Path | None, book: Book
) -> None:
    if judged or tests or asked:
        return
    where, do = (
        (workbook.name, "Fill in the column of at least one batch.") if workbook else
        ("actual", "Write what was weighed there (sheet, made_on, feed, mass), or give the filled-in workbook after "
                   "the book.")
    )  # fmt: skip
    raise InputError([Problem("error", where, "", "nothing weighed", "at least one batch", do)])


def _traced(
    asked: tuple[str, date] | None,
    made: Sequence[Made],
    kitchen: _Kitchen,
    lots: Mapping[str, str],
    book: Book,
    library: Library,
) -> Trace | None:
    if asked is None:
        return None
    name, day = asked
    stage = next((group.stage for group in book.groups if group.group == name), None)
    mine = next((b for b in made if b.stage == stage), None)
    rations = {stage: kitchen.recipe(mine).ration} if stage and mine else {}
    return trace(name, day, made, rations, lots, book, library)


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
