"""The program of one ration, with what each of its rows stands for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from rationlp.book.records import Book
from rationlp.errors import BookError, Problem, given
from rationlp.farm import Farm
from rationlp.feeds.barred import without_barred
from rationlp.feeds.candidates import AMINO_ACIDS, CRYSTALS, Candidate, suited, with_none, without_gaps
from rationlp.figures import estimate_notes, nutrient_label
from rationlp.library.read import Library
from rationlp.rations.program.coarse import with_coarse_calcium
from rationlp.rations.program.least import least_share
from rationlp.rations.program.left_out import BinRoom, bin_rooms, premix_reasons
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.rations.program.rows import (
    cap_rows,
    contaminant_rows,
    has_chance,
    home_grown_rows,
    need_rows,
    offer_rows,
    premix_rows,
    ratio_rows,
)
from rationlp.rations.program.vitamins import with_rows_that_can_be_served
from rationlp.reasons import Reason
from rationlp.stages.certification import certified
from rationlp.stages.contaminants import contaminants_of
from rationlp.stages.limits import caps_of, override_notes, override_problems, override_reasons
from rationlp.stages.model import ALL, AVERAGES_PCT, Cap, ContaminantNeed, Need, RatioNeed
from rationlp.stages.stage import KCAL_PER_MCAL, StageNeeds

RowSource = Need | RatioNeed | Cap | ContaminantNeed | None


@dataclass(frozen=True, slots=True)
class Formula:
    """One program with what each of its rows stands for.

    `sources[k]` is the need, ratio, cap or contaminant that row k comes from, or nothing (an offer's bound, a premix
    dose, a home-grown share). `notes` say how it was calculated, `warnings` what is to be looked at; `home_grown` is
    the share asked for. `offered` are all candidates that were put to it, `left_out` says why some are not in it;
    `reasons` count for every mix made of it.

    `least_share` is what the farm's scales can weigh into a batch, 0 to 1; `crystals` are the keys of the needs that
    may hold a crystalline amino acid in the mix, by the name of its candidate; `rooms` how much of a bin each cap
    leaves room for.
    """

    stage: StageNeeds
    bins: tuple[str, ...]
    candidates: tuple[Candidate, ...]
    program: Program
    sources: tuple[RowSource, ...]
    caps: tuple[Cap, ...]
    objective: str
    notes: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    contaminants: tuple[ContaminantNeed, ...] = ()
    home_grown: float = 0.0
    offered: tuple[Candidate, ...] = field(default=(), repr=False)
    reasons: tuple[Reason, ...] = ()
    left_out: tuple[Reason, ...] = ()
    least_share: float = 0.0
    crystals: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    rooms: tuple[BinRoom, ...] = ()

    @property
    def bin(self) -> str:
        """The bins in one word, `north+south`."""
        return "+".join(self.bins)


def build(
    stage: StageNeeds, bins: tuple[str, ...], candidates: Sequence[Candidate], farm: Farm, home_grown: float = 0.0
) -> Formula:
    """The program of one ration.

    Raises BookError if nothing on offer has the figures it needs, or a safety cap is lifted without a reason.
    """
    found = _usable(stage, candidates, farm)
    usable = found.candidates
    stage = with_coarse_calcium(with_rows_that_can_be_served(stage, usable, farm.library), usable)
    caps = caps_of(stage, usable, farm.book, farm.library)
    rooms = bin_rooms(usable, caps, farm.library)
    barred = {room.bin for room in rooms if room.is_none}
    if barred and len(barred) < len(usable):
        usable = tuple(candidate for candidate in usable if candidate.name not in barred)
    settings = farm.settings
    sure = settings.confidence_pct > AVERAGES_PCT or settings.confidence_of == ALL
    # with a chance a row may bind that no average breaks
    rows = [
        (row, source)
        for row, source in _rows(stage, usable, caps, found.contaminants, home_grown)
        if row.can_bind or (sure and isinstance(source, Need | RatioNeed) and has_chance(source))
    ]
    objective = _objective(stage, farm.book)
    program = Program(
        columns=tuple(candidate.name for candidate in usable),
        costs=tuple(candidate.price_per_tonne for candidate in usable),
        rows=tuple(row for row, _ in rows),
        normalizer=_normalizer(objective, usable, stage.energy),
    )
    return Formula(
        stage,
        bins,
        usable,
        program,
        tuple(source for _, source in rows),
        tuple(caps),
        objective,
        found.notes,
        found.warnings,
        found.contaminants,
        home_grown,
        tuple(candidates),
        reasons=(*found.reasons, *premix_reasons(stage, usable, farm.library)),
        left_out=(*found.left_out, *(room.reason() for room in rooms if room.is_none)),
        least_share=least_share(farm.settings),
        crystals=_crystals(usable, rows, farm.library),
        rooms=tuple(rooms),
    )


def _crystals(
    usable: Sequence[Candidate], rows: Sequence[tuple[ProgramRow, RowSource]], library: Library
) -> dict[str, tuple[str, ...]]:
    """By the name of each crystalline amino acid on offer the keys of the minima of what it supplies."""
    acids = {n.nutrient for n in library.nutrients.values() if n.kind in AMINO_ACIDS}
    minima = [(row.key, s.nutrient) for row, s in rows if isinstance(s, Need) and row.sense == ">="]
    return {
        candidate.name: tuple(key for key, n in minima if n in acids and candidate.values.get(n))
        for candidate in usable
        if candidate.group == CRYSTALS
    }


def widened(formula: Formula, more: Sequence[Candidate], farm: Farm) -> Formula:
    """The formula with more candidates, whatever is said against them: what went into a batch can only be judged.

    Every one of `more` has a figure for each nutrient that the stage asks for.
    """
    stage = formula.stage
    few = held_by_few(needed_figures(stage), farm.library)
    candidates = (*formula.candidates, *(with_none(candidate, few) for candidate in more))
    caps = caps_of(stage, candidates, farm.book, farm.library)
    rows = list(_rows(stage, candidates, caps, formula.contaminants, formula.home_grown))
    program = Program(
        columns=tuple(candidate.name for candidate in candidates),
        costs=tuple(candidate.price_per_tonne for candidate in candidates),
        rows=tuple(row for row, _ in rows),
        normalizer=_normalizer(formula.objective, candidates, stage.energy),
    )
    sources = tuple(source for _, source in rows)
    return replace(formula, candidates=candidates, program=program, sources=sources, caps=tuple(caps))


@dataclass(frozen=True, slots=True)
class _Usable:
    """The candidates a ration may be made of, and what is said of the others."""

    candidates: tuple[Candidate, ...]
    contaminants: tuple[ContaminantNeed, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    reasons: tuple[Reason, ...]
    left_out: tuple[Reason, ...]


def _usable(stage: StageNeeds, candidates: Sequence[Candidate], farm: Farm) -> _Usable:
    """Without refused bins, premixes of other animals, what a certificate bars, and feeds without a figure."""
    barred = without_barred(candidates, stage.known, stage.energy, farm.book, farm.library)
    fit = contaminants_of(stage, barred.kept, farm.settings.jurisdiction, farm.library)
    allowed = certified(suited(fit.kept, stage.known, farm.library), farm.book, farm.library)
    yielding = dict.fromkeys(need.nutrient for need in stage.needs if need.gives_way)
    vitamins = [
        n for n in yielding if farm.library.nutrients[n].met_by == "ration"
    ]  # of the others feeds may say nothing
    asked = [*needed_figures(stage), *vitamins]
    labels = {nutrient: nutrient_label(nutrient, farm.library) for nutrient in asked}
    filled = [with_none(candidate, held_by_few(labels, farm.library)) for candidate in allowed.kept]
    usable, gaps = without_gaps(filled, asked, labels, vitamins)
    left_out = (*barred.left_out, *fit.left_out)
    if not any(stage.energy is None or candidate.values[stage.energy] for candidate in usable):
        raise _nothing_to_feed(stage, (*(reason.text for reason in left_out), *allowed.notes, *allowed.warnings, *gaps))
    present = {feed for candidate in usable for feed in candidate.feeds}
    problems = override_problems(stage.known, stage.stage, present, farm.book, farm.library)
    if problems:
        raise BookError(problems)
    estimated = dict.fromkeys(note for candidate in usable for note in _figure_notes(candidate, farm))
    over_notes, over_warnings = override_notes(stage.known, stage.stage, usable, farm.book, farm.library)
    return _Usable(
        tuple(usable),
        fit.needs,
        (*stage.notes, *allowed.notes, *gaps, *over_notes, *estimated),
        (*stage.warnings, *allowed.warnings, *over_warnings),
        (*fit.reasons, *override_reasons(stage.known, stage.stage, usable, farm.book, farm.library)),
        left_out,
    )


def _figure_notes(candidate: Candidate, farm: Farm) -> tuple[str, ...]:
    """How figures of an offer, or of the crops of a bin, were re-estimated from the farm's own."""
    if candidate.estimate is None:
        return candidate.notes
    own = {row.feed for row in farm.book.own_feeds} & set(candidate.feeds)
    return tuple(note for crop in sorted(own) for note in estimate_notes(farm.figures(crop), farm.library))


def _rows(
    stage: StageNeeds,
    usable: Sequence[Candidate],
    caps: Sequence[Cap],
    contaminants: Sequence[ContaminantNeed],
    home_grown: float,
) -> Iterator[tuple[ProgramRow, RowSource]]:
    """Every row with what it stands for."""
    yield from need_rows(stage.needs, usable, stage.energy)
    for ratio in stage.ratios:
        yield from ((row, ratio) for row in ratio_rows(ratio, usable))
    for contaminant in contaminants:
        yield from ((row, contaminant) for row in contaminant_rows(contaminant, usable))
    yield from cap_rows(caps, usable)
    for index, candidate in enumerate(usable):
        yield from ((row, None) for row in offer_rows(candidate, index, len(usable)))
    if stage.known:
        yield from ((row, None) for row in premix_rows(usable))
    yield from ((row, None) for row in home_grown_rows(usable, home_grown))


def _nothing_to_feed(stage: StageNeeds, reasons: Sequence[str]) -> BookError:
    return BookError(
        [
            Problem(
                "error",
                "supplements",
                "",
                f"nothing on offer that stage {stage.stage} can be calculated with",
                "a bin or an offer with a figure for every requirement",
                " ".join(reasons) or "Enter an offer.",
            )
        ]
    )


def held_by_few(nutrients: Iterable[str], library: Library) -> list[str]:
    """Those of `nutrients` that a feed without a figure has none of, as the library says."""
    return [n for n in nutrients if n in library.nutrients and library.nutrients[n].if_unknown == "none"]


def needed_figures(stage: StageNeeds) -> list[str]:
    """The nutrients that must be known of everything that goes in; what premixes bring counts as none if unknown."""
    wanted = [need.nutrient for need in stage.needs if need.needs_figure and not need.gives_way]
    wanted += [part for ratio in stage.ratios for part in (ratio.numerator, ratio.denominator)]
    if stage.energy:
        wanted.append(stage.energy)
    return list(dict.fromkeys(wanted))


def _objective(stage: StageNeeds, book: Book) -> str:
    """The book's choice; else per unit of energy, but for a stage without one, or whose group states its feed a day.

    An animal needs its energy a day, so the cheapest feed is the cheapest energy, weighed out or not. Where the day's
    weight is fixed, the cost of a tonne is the cost of a day.
    """
    if stage.energy is None:
        return "per_tonne"
    return book.farm.objective or ("per_tonne" if stage.group_feed_kg else "per_energy")


def _normalizer(objective: str, candidates: Sequence[Candidate], energy: str | None) -> tuple[float, ...]:
    """Ones, or Mcal per kg, so that the objective reads as money per tonne or per Gcal."""
    if objective == "per_tonne":
        return (1.0,) * len(candidates)
    counted = given(energy, "the energy whose cost is least")
    return tuple(candidate.values[counted] / KCAL_PER_MCAL for candidate in candidates)
