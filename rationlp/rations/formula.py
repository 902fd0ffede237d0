"""The program of one ration, with what each of its rows stands for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rationlp.book.records import Book
from rationlp.errors import BookError, Problem
from rationlp.figures import estimate_notes, feed_figures, nutrient_label
from rationlp.library.read import Library
from rationlp.rations.candidates import Candidate, suited, without_gaps
from rationlp.rations.certification import certified
from rationlp.rations.confidence import AVERAGES_PCT
from rationlp.rations.contaminants import contaminants_of
from rationlp.rations.limits import caps_of, override_notes, override_problems
from rationlp.rations.model import Cap, Confidence, ContaminantNeed, MarginCost, Need, RatioNeed, Remedy
from rationlp.rations.program import Program, Row, Solution
from rationlp.rations.rows import (
    cap_rows,
    contaminant_rows,
    home_grown_rows,
    need_rows,
    offer_rows,
    premix_rows,
    ratio_rows,
)
from rationlp.rations.stage import KCAL_PER_MCAL, StageNeeds
from rationlp.rations.vitamins import with_rows_that_can_be_served

RowSource = Need | RatioNeed | Cap | ContaminantNeed | None


@dataclass(frozen=True, slots=True)
class Formula:
    """One program with what each of its rows stands for.

    `sources[k]` is the need, ratio, cap or contaminant that row k comes from, or nothing (an offer's bound, a premix
    dose, a home-grown share). `notes` say how it was reckoned, `warnings` what is to be looked at; `home_grown` is the
    share asked for.
    """

    stage: StageNeeds
    bin: str
    candidates: tuple[Candidate, ...]
    program: Program
    sources: tuple[RowSource, ...]
    caps: tuple[Cap, ...]
    objective: str
    notes: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    contaminants: tuple[ContaminantNeed, ...] = ()
    home_grown: float = 0.0


@dataclass(frozen=True, slots=True)
class Answer:
    """Amounts of the candidates of a formula and how they were found.

    `amounts` is None where no mix keeps even the limits and doses. `solution` is the verified optimum of `program` (the
    formula's own, with the cuts of a confidence), or None for a nearest or a fixed mix; `conflict` are keys of rows.
    """

    amounts: tuple[float, ...] | None
    solution: Solution | None = None
    program: Program | None = None
    confidence: Confidence | None = None
    conflict: tuple[str, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    margin: MarginCost | None = None


def build(
    stage: StageNeeds,
    bin_name: str,
    candidates: Sequence[Candidate],
    book: Book,
    library: Library,
    home_grown: float = 0.0,
) -> Formula:
    """The program of one ration.

    Raises BookError if nothing on offer has the figures it needs, or a safety cap is lifted without a reason.
    """
    found = _usable(stage, candidates, book, library)
    usable = found.candidates
    stage = with_rows_that_can_be_served(stage, usable)
    caps = caps_of(stage.known, stage.stage, list(usable), book, library)
    sure = book.farm.confidence_pct > AVERAGES_PCT  # then a row may bind that no average breaks
    rows = [
        (row, source)
        for row, source in _rows(stage, usable, caps, found.contaminants, home_grown)
        if row.can_bind or (sure and isinstance(source, Need | RatioNeed))
    ]
    objective = _objective(stage, book)
    program = Program(
        columns=tuple(candidate.name for candidate in usable),
        costs=tuple(candidate.price_per_tonne for candidate in usable),
        rows=tuple(row for row, _ in rows),
        normalizer=_normalizer(objective, usable, stage.energy),
    )
    return Formula(
        stage, bin_name, usable, program, tuple(source for _, source in rows), tuple(caps), objective, found.notes,
        found.warnings, found.contaminants, home_grown,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Usable:
    """The candidates a ration may be made of, and what is said of the others."""

    candidates: tuple[Candidate, ...]
    contaminants: tuple[ContaminantNeed, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]


def _usable(stage: StageNeeds, candidates: Sequence[Candidate], book: Book, library: Library) -> _Usable:
    """Without refused bins, premixes of other animals, what a certificate bars, and feeds without a figure."""
    fit = contaminants_of(stage.known, candidates, book, library)
    allowed = certified(suited(fit.kept, stage.known, library), book, library)
    labels = {nutrient: nutrient_label(nutrient, library) for nutrient in _nutrients(stage)}
    vitamins = {n for n in labels if n in library.nutrients and library.nutrients[n].kind == "vitamin"}
    usable, gaps = without_gaps(allowed.kept, _nutrients(stage), labels, vitamins)
    if not usable:
        raise _nothing_to_feed(stage, (*fit.refusals, *allowed.notes, *allowed.warnings, *gaps))
    present = {feed for candidate in usable for feed in candidate.feeds}
    problems = override_problems(stage.known, stage.stage, present, book, library)
    if problems:
        raise BookError(problems)
    estimated = dict.fromkeys(note for candidate in usable for note in _figure_notes(candidate, book, library))
    over_notes, over_warnings = override_notes(stage.known, stage.stage, usable, book, library)
    return _Usable(
        tuple(usable),
        fit.needs,
        (*stage.notes, *allowed.notes, *gaps, *over_notes, *estimated),
        (*fit.refusals, *stage.warnings, *allowed.warnings, *over_warnings),
    )


def _figure_notes(candidate: Candidate, book: Book, library: Library) -> tuple[str, ...]:
    """How figures of an offer, or of the crops of a bin, were re-estimated from the farm's own."""
    if candidate.estimate is None:
        return candidate.notes
    own = {row.feed for row in book.own_feeds} & set(candidate.feeds)
    return tuple(note for crop in sorted(own) for note in estimate_notes(feed_figures(crop, book, library), library))


def _rows(
    stage: StageNeeds,
    usable: Sequence[Candidate],
    caps: Sequence[Cap],
    contaminants: Sequence[ContaminantNeed],
    home_grown: float,
) -> Iterator[tuple[Row, RowSource]]:
    """Every row with what it stands for."""
    for need in stage.needs:
        yield from ((row, need) for row in need_rows(need, usable, stage.energy))
    for ratio in stage.ratios:
        yield from ((row, ratio) for row in ratio_rows(ratio, usable))
    for contaminant in contaminants:
        yield from ((row, contaminant) for row in contaminant_rows(contaminant, usable))
    for cap in caps:
        yield from ((row, cap) for row in cap_rows(cap, usable))
    for index, candidate in enumerate(usable):
        yield from ((row, None) for row in offer_rows(candidate, index, len(usable)))
    if stage.known:
        yield from ((row, None) for row in premix_rows(usable))
    yield from ((row, None) for row in home_grown_rows(usable, home_grown))


def _nothing_to_feed(stage: StageNeeds, reasons: Sequence[str]) -> BookError:
    return BookError([Problem(
        "error", "supplements", "", f"nothing on offer that stage {stage.stage} can be reckoned with",
        "a bin or an offer with a figure for every requirement", " ".join(reasons) or "Enter an offer.",
    )])  # fmt: skip


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
