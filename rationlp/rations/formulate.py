"""The least-cost ration of a stage, from candidates and needs to a verified, plausible answer."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from rationlp.bins import BinEstimate, estimate_bin
from rationlp.book.records import Book
from rationlp.errors import BookError, InputError, Problem, SolverError
from rationlp.figures import nutrient_label
from rationlp.library.read import Library
from rationlp.rations.candidates import Candidate, bin_candidate, offer_candidates, suited, without_gaps
from rationlp.rations.certification import certified
from rationlp.rations.confidence import chance_rows, solve_confidently
from rationlp.rations.describe import Answer, describe
from rationlp.rations.limits import caps_of, override_notes
from rationlp.rations.mend import remedies
from rationlp.rations.model import Cap, Need, Ration, RatioNeed
from rationlp.rations.nearest import conflict, nearest_mix
from rationlp.rations.needs import KCAL_PER_MCAL, StageNeeds, stage_needs, stages_of_book
from rationlp.rations.program import Program, Row
from rationlp.rations.rows import cap_rows, home_grown_rows, need_rows, offer_rows, premix_rows, ratio_rows
from rationlp.rations.solver import solve
from rationlp.rations.verify import verify

AVERAGES_PCT = 50.0  # the confidence of a ration of plain averages


@dataclass(frozen=True, slots=True)
class Formula:
    """One program with what each of its rows stands for.

    `sources[k]` is the need, ratio, cap or nothing (an offer's bound, a premix dose) that row k comes from.
    """

    stage: StageNeeds
    bin: str
    candidates: tuple[Candidate, ...]
    program: Program
    sources: tuple[Need | RatioNeed | Cap | None, ...]
    caps: tuple[Cap, ...]
    objective: str
    notes: tuple[str, ...]


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
    wanted = stages_of_book(book, library, stages)
    groups = bin_groups(book, bins, together)
    estimates = {name: estimate_bin(name, book, library) for group in groups for name in group}
    offers = offer_candidates(book, library)
    rations = []
    for stage_id in wanted:
        stage = stage_needs(stage_id, book, library)
        for group in groups:
            chosen = [estimates[name] for name in group]
            rations.append(formulate_one(stage, chosen, offers, book, library, home_grown))
    return rations


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


def build(
    stage: StageNeeds,
    bin_name: str,
    candidates: Sequence[Candidate],
    book: Book,
    library: Library,
    home_grown: float = 0.0,
) -> Formula:
    """The program of one ration. Raises BookError if nothing on offer has the figures it needs."""
    labels = {nutrient: nutrient_label(nutrient, library) for nutrient in _nutrients(stage)}
    suitable, notes = suited(candidates, stage.known, library), []
    if book.farm.certification != "none":
        suitable, notes = certified(suitable, book, library)
    usable, gaps = without_gaps(suitable, _nutrients(stage), labels)
    if not usable:
        raise BookError([Problem(
            "error", "supplements", "", f"nothing on offer that stage {stage.stage} can be reckoned with",
            "a bin or an offer with a figure for every requirement", " ".join((*notes, *gaps)) or "Enter an offer.",
        )])  # fmt: skip
    caps = caps_of(stage.known, stage.stage, usable, book, library)
    rows: list[tuple[Row, Need | RatioNeed | Cap | None]] = []
    for need in stage.needs:
        rows += [(row, need) for row in need_rows(need, usable, stage.energy)]
    for ratio in stage.ratios:
        rows += [(row, ratio) for row in ratio_rows(ratio, usable)]
    for cap in caps:
        rows += [(row, cap) for row in cap_rows(cap, usable)]
    for index, candidate in enumerate(usable):
        rows += [(row, None) for row in offer_rows(candidate, index, len(usable))]
    if stage.known:
        rows += [(row, None) for row in premix_rows(usable)]
    rows += [(row, None) for row in home_grown_rows(usable, home_grown)]
    rows = [(row, source) for row, source in rows if any(row.coefficients)]
    objective = _objective(stage, book)
    program = Program(
        columns=tuple(candidate.name for candidate in usable),
        costs=tuple(candidate.price_per_tonne for candidate in usable),
        rows=tuple(row for row, _ in rows),
        normalizer=_normalizer(objective, usable, stage.energy),
    )
    notes = (*stage.notes, *notes, *gaps, *override_notes(stage.known, stage.stage, usable, book, library))
    return Formula(
        stage, bin_name, tuple(usable), program, tuple(source for _, source in rows), tuple(caps), objective, notes
    )


def _nutrients(stage: StageNeeds) -> list[str]:
    """The nutrients that must be known of everything that goes in."""
    wanted = [need.nutrient for need in stage.needs]
    wanted += [part for ratio in stage.ratios for part in (ratio.numerator, ratio.denominator)]
    if stage.energy:
        wanted.append(stage.energy)
    return list(dict.fromkeys(wanted))


def _objective(stage: StageNeeds, book: Book) -> str:
    """The book's choice; else per unit of energy for animals that eat to their energy, per tonne for the others."""
    if stage.energy is None:
        return "per_tonne"
    if book.farm.objective:
        return book.farm.objective
    return "per_energy" if stage.known and stage.known.fed == "to_appetite" else "per_tonne"


def _normalizer(objective: str, candidates: Sequence[Candidate], energy: str | None) -> tuple[float, ...]:
    """Ones, or Mcal per kg, so that the objective reads as money per tonne or per Gcal."""
    if objective == "per_tonne":
        return (1.0,) * len(candidates)
    return tuple(candidate.values[energy] / KCAL_PER_MCAL for candidate in candidates)
