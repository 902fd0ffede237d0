"""The least-cost ration of a stage, from candidates and needs to a verified, plausible answer.

A `Recipe` keeps the program behind it, so that its weights can be moved and judged again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from rationlp.bins import BinEstimate, estimate_bins
from rationlp.book.records import Book
from rationlp.errors import BookError, InputError, Problem, SolverError
from rationlp.feeds.candidates import Candidate, bin_candidate, offer_candidates
from rationlp.library.read import Library
from rationlp.rations.answer.describe import describe
from rationlp.rations.answer.ids import ration_id
from rationlp.rations.answer.model import Ration
from rationlp.rations.program.formula import Formula, build
from rationlp.rations.program.program import Program
from rationlp.rations.solve.chance import ChanceRow, chance_rows
from rationlp.rations.solve.model import Answer
from rationlp.rations.solve.nearest import conflict, nearest_mix
from rationlp.rations.solve.optimum import margin_cost, optimum
from rationlp.rations.solve.remedies import remedies
from rationlp.rations.solve.solver import solve
from rationlp.rations.solve.verify import verify
from rationlp.stages.limits import override_problems
from rationlp.stages.model import AVERAGES_PCT
from rationlp.stages.needs import stage_needs, stages_of_book
from rationlp.stages.stage import KCAL_PER_MCAL, StageNeeds

KCAL_PER_GCAL = 1e6
WORTH_SAYING = 0.002  # of the cost a day


@dataclass(frozen=True, slots=True)
class Made:
    """A ration with the formula and the answer it was made from."""

    ration: Ration
    formula: Formula
    answer: Answer


def formulate(
    book: Book,
    library: Library,
    stages: Iterable[str] = (),
    bins: Iterable[str] = (),
    together: bool = False,
    home_grown: float = 0.0,
) -> list[Ration]:
    """A ration for each stage from each bin (or from all the bins named, `together`).

    `home_grown` is the least share of home-grown feed in every mix, 0 to 1.

    A book without bins formulates from the offers alone. Raises InputError for unknown stages, bins or unusable rows,
    SolverError if an answer does not stand up to verification.
    """
    return [made.ration for made in make(book, library, stages, bins, together, home_grown)]


def make(
    book: Book,
    library: Library,
    stages: Iterable[str] = (),
    bins: Iterable[str] = (),
    together: bool = False,
    home_grown: float = 0.0,
) -> list[Made]:
    """The rations of `formulate`, each with what it was made from."""
    return [
        _make_one(stage, estimates, offers, book, library, home_grown)
        for stage, estimates, offers in tasks(book, library, stages, bins, together)
    ]


def tasks(
    book: Book, library: Library, stages: Iterable[str] = (), bins: Iterable[str] = (), together: bool = False
) -> Iterator[tuple[StageNeeds, list[BinEstimate], list[Candidate]]]:
    """What each ration is made of: the needs of its stage, its bins, and the offers. Each bin is estimated once."""
    groups = bin_groups(book, bins, together)
    needs = needs_of(book, library, stages)
    names = list(dict.fromkeys(name for group in groups for name in group))
    estimates = dict(zip(names, estimate_bins(names, book, library), strict=True))
    offers = offer_candidates(book, library)
    for stage in needs:
        for group in groups:
            yield stage, [estimates[name] for name in group], offers


def needs_of(book: Book, library: Library, stages: Iterable[str] = ()) -> list[StageNeeds]:
    """The needs of every stage asked for. Raises BookError with the problems of all of them at once.

    Among these are safety caps and ceilings that the farm loosens without giving a reason.
    """
    needs, problems = [], []
    present = {row.feed for row in book.supplements} | {row.crop for row in book.sorted}
    for stage_id in stages_of_book(book, library, stages):
        try:
            stage = stage_needs(stage_id, book, library)
        except BookError as error:
            problems += error.problems
            continue
        problems += override_problems(stage.known, stage_id, present, book, library)
        needs.append(stage)
    if problems:
        raise BookError(list(dict.fromkeys(problems)))
    return needs


def formula_of(
    stage: StageNeeds,
    estimates: Sequence[BinEstimate],
    offers: Sequence[Candidate],
    book: Book,
    library: Library,
    home_grown: float = 0.0,
) -> Formula:
    """The program of one ration from the given bins and every offer."""
    candidates = _candidates(estimates, offers, book)
    return build(stage, "+".join(e.bin for e in estimates), candidates, book, library, home_grown)


def _candidates(estimates: Sequence[BinEstimate], offers: Sequence[Candidate], book: Book) -> list[Candidate]:
    return [*(bin_candidate(estimate, book) for estimate in estimates), *offers]


def bin_groups(book: Book, bins: Iterable[str], together: bool) -> list[tuple[str, ...]]:
    """Which bins feed one ration: each by itself, all together, or none where the book has none."""
    known = [row.bin for row in book.bins]
    wanted = list(dict.fromkeys(bins)) or known
    unknown = [name for name in wanted if name not in known]
    if unknown:
        raise InputError([
            Problem("error", "--bin", "", repr(name), f"a bin of the book: {', '.join(known) or 'it has none'}",
                    "Check the spelling.")
            for name in unknown
        ])  # fmt: skip
    if not wanted:
        return [()]
    return [tuple(wanted)] if together else [(name,) for name in wanted]


def formulate_one(
    stage: StageNeeds,
    estimates: Sequence[BinEstimate],
    offers: Sequence[Candidate],
    book: Book,
    library: Library,
    home_grown: float = 0.0,
) -> Ration:
    """The ration of one stage from the given bins and every offer."""
    return _make_one(stage, estimates, offers, book, library, home_grown).ration


def _make_one(
    stage: StageNeeds,
    estimates: Sequence[BinEstimate],
    offers: Sequence[Candidate],
    book: Book,
    library: Library,
    home_grown: float,
) -> Made:
    formula = formula_of(stage, estimates, offers, book, library, home_grown)
    if all(candidate.is_fixed for candidate in formula.candidates):
        found = Answer(tuple(candidate.min_share for candidate in formula.candidates))
    else:
        found = answer(formula, book.farm.confidence_pct)
        if found.conflict:
            mends = remedies(formula, _candidates(estimates, offers, book), book, library)
            found = replace(found, remedies=tuple(mends))
        if found.solution:
            cost = margin_cost(formula, found.solution.objective, book.farm.confidence_pct)
            found = replace(found, margin=cost)
    ration = describe(formula, found, book, library)
    if found.solution and not book.farm.objective:
        ration = replace(ration, notes=(*ration.notes, *fed_by_weight_note(formula, ration, book.farm.currency)))
    return Made(ration, formula, found)


def answer(formula: Formula, confidence_pct: float) -> Answer:
    """The verified optimum of `formula` at a confidence; else the nearest mix and the rows that conflict.

    Raises SolverError if the solver fails.
    """
    program, solution, confidence = optimum(formula, confidence_pct)
    if solution.status == "optimal":
        return Answer(solution.amounts, solution, program, confidence)
    if solution.status == "infeasible":
        amounts = nearest_mix(formula.program)
        return Answer(amounts, conflict=conflict(formula.program, laws_only=amounts is None))
    raise SolverError(f"The solver could not finish the ration of {formula.stage.stage} (it says: {solution.status}).")


def fed_by_weight_note(formula: Formula, ration: Ration, currency: str) -> list[str]:
    """A sentence on the cost a head and day by the other objective, for a stage that is fed by weight.

    Per tonne pays for dilution; an animal that gets the day's energy whatever the feed weighs is fed more of it then.
    """
    stage = formula.stage
    by_weight = stage.known is not None and stage.known.fed == "by_weight"
    if not by_weight or formula.objective != "per_tonne" or not ration.feed_kg_per_head_per_day:
        return []
    densities = tuple(candidate.values[stage.energy] / KCAL_PER_MCAL for candidate in formula.candidates)
    program = replace(formula.program, normalizer=densities)
    cheapest = solve(program)
    if cheapest.status != "optimal":
        return []
    verify(program, cheapest)
    gcal_a_day = ration.feed_kg_per_head_per_day * ration.energy_kcal_kg / KCAL_PER_GCAL
    saved = gcal_a_day * (ration.cost_per_gcal - cheapest.objective)
    if saved < WORTH_SAYING * gcal_a_day * ration.cost_per_gcal:
        return []
    return [
        "Fed by weight, so the cheapest tonne was sought. For the same energy a day the cheapest energy (objective "
        f"per_energy in the book) would cost {saved:.4f} {currency} a head and day less."
    ]


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
