"""The least-cost ration of a stage, from candidates and needs to a verified, plausible answer."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rationlp.bins import BinEstimate, estimate_bin
from rationlp.book.records import Book
from rationlp.errors import BookError, InputError, Problem
from rationlp.figures import nutrient_label
from rationlp.library.read import Library
from rationlp.rations.candidates import Candidate, bin_candidate, offer_candidates, suited, without_gaps
from rationlp.rations.describe import describe
from rationlp.rations.limits import caps_of, override_notes
from rationlp.rations.model import Cap, Need, Ration, RatioNeed
from rationlp.rations.nearest import conflict, nearest_mix
from rationlp.rations.needs import KCAL_PER_MCAL, StageNeeds, stage_needs, stages_of_book
from rationlp.rations.program import Program, Row, Solution
from rationlp.rations.rows import cap_rows, need_rows, offer_rows, premix_rows, ratio_rows
from rationlp.rations.solver import solve
from rationlp.rations.verify import verify

OBJECTIVES = ("per_tonne", "per_energy")


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
) -> list[Ration]:
    """A ration for each stage from each bin (or from all the bins named, `together`).

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
            rations.append(formulate_one(stage, [estimates[name] for name in group], offers, book, library))
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
    stage: StageNeeds, estimates: Sequence[BinEstimate], offers: list[Candidate], book: Book, library: Library
) -> Ration:
    """The ration of one stage from the given bins and every offer."""
    candidates = [*(bin_candidate(estimate, book) for estimate in estimates), *offers]
    formula = build(stage, "+".join(e.bin for e in estimates), candidates, book, library)
    if all(candidate.is_fixed for candidate in formula.candidates):
        amounts = tuple(candidate.min_share for candidate in formula.candidates)
        return describe(formula, amounts, None, book, library)
    solution = solve(formula.program)
    if solution.status == "optimal":
        verify(formula.program, solution)
        return describe(formula, solution.amounts, solution, book, library)
    if solution.status == "infeasible":
        return describe(formula, nearest_mix(formula.program), None, book, library, conflict(formula.program))
    return describe(formula, None, None, book, library, findings=(f"the solver says: {solution.status}",))


def build(stage: StageNeeds, bin_name: str, candidates: list[Candidate], book: Book, library: Library) -> Formula:
    """The program of one ration. Raises BookError if nothing on offer has the figures it needs."""
    labels = {nutrient: nutrient_label(nutrient, library) for nutrient in _nutrients(stage)}
    usable, gaps = without_gaps(suited(candidates, stage.known, library), _nutrients(stage), labels)
    if not usable:
        raise BookError([Problem(
            "error", "supplements", "", f"nothing on offer that stage {stage.stage} can be reckoned with",
            "a bin or an offer with a figure for every requirement", " ".join(gaps) or "Enter an offer.",
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
    rows = [(row, source) for row, source in rows if any(row.coefficients)]
    objective = _objective(stage, book)
    program = Program(
        columns=tuple(candidate.name for candidate in usable),
        costs=tuple(candidate.price_per_tonne for candidate in usable),
        rows=tuple(row for row, _ in rows),
        normalizer=_normalizer(objective, usable, stage.energy),
    )
    notes = (*stage.notes, *gaps, *override_notes(stage.known, stage.stage, usable, book, library))
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


__all__ = ["Formula", "Solution", "bin_groups", "build", "formulate", "formulate_one"]
