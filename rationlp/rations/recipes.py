"""A ration with the program behind it, so that its weights can be moved and judged again."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rationlp.bins import BinEstimate
from rationlp.book.records import Book
from rationlp.feeds.candidates import Candidate
from rationlp.library.read import Library
from rationlp.rations.answer.describe import describe
from rationlp.rations.answer.ids import ration_id
from rationlp.rations.answer.model import Ration
from rationlp.rations.formulate import answer, formula_of, formulate_one, tasks
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.program import Program
from rationlp.rations.solve.chance import ChanceRow
from rationlp.rations.solve.confidence import chance_rows
from rationlp.rations.solve.model import Answer
from rationlp.stages.model import AVERAGES_PCT
from rationlp.stages.stage import StageNeeds


@dataclass(frozen=True, slots=True)
class Recipe:
    """The verified ration of one stage, and everything needed to judge another mix by the same rows."""

    id: str
    ration: Ration
    formula: Formula
    answer: Answer
    estimates: tuple[BinEstimate, ...]
    chances: tuple[ChanceRow, ...]

    @property
    def shares(self) -> tuple[float, ...]:
        """Share of each candidate in the mix, 0 to 1; empty where there is no mix."""
        amounts = self.answer.amounts or ()
        return tuple(amount / sum(amounts) for amount in amounts)

    @property
    def program(self) -> Program:
        """The rows the mix keeps, with the cuts of a confidence if the book asks for one."""
        return self.answer.program or self.formula.program

    def judged(self, amounts: Sequence[float], book: Book, library: Library) -> Ration:
        """The ration that other amounts of the same candidates make, every requirement reckoned again."""
        return describe(self.formula, Answer(tuple(amounts)), book, library)


def recipes(
    book: Book,
    library: Library,
    stages: Iterable[str] = (),
    bins: Iterable[str] = (),
    together: bool = False,
) -> list[Recipe]:
    """The rations of `rationlp.rations.formulate.formulate`, each with its program. Raises what that raises."""
    return [
        _recipe(stage, estimates, offers, book, library)
        for stage, estimates, offers in tasks(book, library, stages, bins, together)
    ]


def _recipe(
    stage: StageNeeds, estimates: Sequence[BinEstimate], offers: list[Candidate], book: Book, library: Library
) -> Recipe:
    formula = formula_of(stage, estimates, offers, book, library)
    found = _answer(formula, book)
    if found.conflict:
        ration = formulate_one(stage, estimates, offers, book, library)  # with what would mend it
    else:
        ration = describe(formula, found, book, library)
    return Recipe(ration_id(ration, book), ration, formula, found, tuple(estimates), _chances(formula, book))


def _answer(formula: Formula, book: Book) -> Answer:
    if all(candidate.is_fixed for candidate in formula.candidates):
        return Answer(tuple(candidate.min_share for candidate in formula.candidates))
    return answer(formula, book.farm.confidence_pct)


def _chances(formula: Formula, book: Book) -> tuple[ChanceRow, ...]:
    confidence = book.farm.confidence_pct
    if confidence <= AVERAGES_PCT:
        return ()
    return tuple(chance_rows(formula.program, formula.sources, formula.candidates, formula.stage.energy, confidence))
