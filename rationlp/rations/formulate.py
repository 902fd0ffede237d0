"""The least-cost ration of a stage, from candidates and needs to a verified, plausible answer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from rationlp.bins import BinEstimate, estimate_bin
from rationlp.book.records import Book
from rationlp.errors import InputError, Problem, SolverError
from rationlp.library.read import Library
from rationlp.rations.candidates import Candidate, bin_candidate, offer_candidates
from rationlp.rations.confidence import chance_rows, solve_confidently
from rationlp.rations.describe import describe
from rationlp.rations.formula import Answer, Formula, build
from rationlp.rations.mend import remedies
from rationlp.rations.model import Ration
from rationlp.rations.nearest import conflict, nearest_mix
from rationlp.rations.needs import StageNeeds, stage_needs, stages_of_book
from rationlp.rations.solver import solve
from rationlp.rations.verify import verify

AVERAGES_PCT = 50.0  # the confidence of a ration of plain averages


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
    return [
        formulate_one(stage, estimates, offers, book, library, home_grown)
        for stage, estimates, offers in tasks(book, library, stages, bins, together)
    ]


def tasks(
    book: Book, library: Library, stages: Iterable[str] = (), bins: Iterable[str] = (), together: bool = False
) -> Iterator[tuple[StageNeeds, list[BinEstimate], list[Candidate]]]:
    """What each ration is made of: the needs of its stage, its bins, and the offers. Each bin is estimated once."""
    groups = bin_groups(book, bins, together)
    estimates = {name: estimate_bin(name, book, library) for group in groups for name in group}
    offers = offer_candidates(book, library)
    for stage_id in stages_of_book(book, library, stages):
        stage = stage_needs(stage_id, book, library)
        for group in groups:
            yield stage, [estimates[name] for name in group], offers


def formula_of(
    stage: StageNeeds, estimates: Sequence[BinEstimate], offers: Sequence[Candidate], book: Book, library: Library
) -> Formula:
    """The program of one ration from the given bins and every offer."""
    candidates = [*(bin_candidate(estimate, book) for estimate in estimates), *offers]
    return build(stage, "+".join(e.bin for e in estimates), candidates, book, library)


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
    offers: list[Candidate],
    book: Book,
    library: Library,
    home_grown: float = 0.0,
) -> Ration:
    """The ration of one stage from the given bins and every offer."""
    candidates = [*(bin_candidate(estimate, book) for estimate in estimates), *offers]
    formula = build(stage, "+".join(e.bin for e in estimates), candidates, book, library, home_grown)
    if all(candidate.is_fixed for candidate in formula.candidates):
        amounts = tuple(candidate.min_share for candidate in formula.candidates)
        return describe(formula, Answer(amounts), book, library)
    found = answer(formula, book.farm.confidence_pct)
    if found.conflict and stage.known:
        found = replace(found, remedies=tuple(remedies(formula, candidates, book, library)))
    return describe(formula, found, book, library)


def answer(formula: Formula, confidence_pct: float) -> Answer:
    """The verified optimum of `formula` at a confidence; else the nearest mix and the rows that conflict.

    Raises SolverError if the solver fails.
    """
    if confidence_pct > AVERAGES_PCT:
        unit = "per tonne" if formula.objective == "per_tonne" else "per Gcal"
        chances = chance_rows(formula.program, formula.sources, formula.candidates, formula.stage.energy, confidence_pct)
        program, solution, confidence = solve_confidently(formula.program, chances, confidence_pct, unit)
    else:
        program, solution, confidence = formula.program, solve(formula.program), None
    if solution.status == "optimal":
        verify(program, solution)
        return Answer(solution.amounts, solution, program, confidence)
    if solution.status == "infeasible":
        amounts = nearest_mix(formula.program)
        return Answer(amounts, conflict=conflict(formula.program, laws_only=amounts is None))
    raise SolverError(f"The solver could not finish the ration of {formula.stage.stage} (it says: {solution.status}).")
