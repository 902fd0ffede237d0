"""The program of one ration, with what each of its rows stands for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rationlp.book.records import Book
from rationlp.errors import BookError, Problem
from rationlp.figures import nutrient_label
from rationlp.library.read import Library
from rationlp.rations.candidates import Candidate, suited, without_gaps
from rationlp.rations.certification import certified
from rationlp.rations.limits import caps_of, override_notes
from rationlp.rations.model import Cap, Confidence, Need, RatioNeed, Remedy
from rationlp.rations.stage import KCAL_PER_MCAL, StageNeeds
from rationlp.rations.program import Program, Row, Solution
from rationlp.rations.rows import cap_rows, home_grown_rows, need_rows, offer_rows, premix_rows, ratio_rows


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


@dataclass(frozen=True, slots=True)
class Answer:
    """Amounts of the candidates of a formula and how they were found.

    `amounts` is None where no mix keeps even the limits and doses. `solution` is the verified optimum of `program`
    (the formula's own, with the cuts of a confidence), or None for a nearest or a fixed mix; `conflict` are keys of rows.
    """

    amounts: tuple[float, ...] | None
    solution: Solution | None = None
    program: Program | None = None
    confidence: Confidence | None = None
    conflict: tuple[str, ...] = ()
    remedies: tuple[Remedy, ...] = ()


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
    rows = [(row, source) for row, source in rows if row.can_bind]
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
