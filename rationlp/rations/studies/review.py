"""Everything a nutritionist needs to sign the rations of a book: matrix, bounds, duals, sources, what was assumed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import sqrt

from rationlp.book.columns import ALL_STAGES
from rationlp.cautions import REVIEW
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate
from rationlp.figures import feed_label, nutrient_label, nutrient_units
from rationlp.library.read import Library
from rationlp.library.records import Source
from rationlp.rations.answer.ids import book_version, ration_id
from rationlp.rations.answer.model import Ration
from rationlp.rations.answer.words import row_words
from rationlp.rations.formulate import SolvedRation
from rationlp.rations.solve.chance import CUT_MARK
from rationlp.rations.solve.optimum import cost_unit
from rationlp.rations.studies.figure_sources import figure_source
from rationlp.rations.studies.figure_weights import (
    RECALLED,
    Effects,
    FigureWeight,
    contents_weights,
    figure_weights,
    handed_down,
    share_by_how,
)
from rationlp.rations.studies.weak_bounds import ASSUMED, MEMORY, Weak, bound_range, weak_bounds
from rationlp.version import __version__

MOST_RECALLED = 10


@dataclass(frozen=True, slots=True)
class MatrixFigure:
    """One figure as it stood in the programs: as fed, with its spread, source and how it was obtained.

    `weight` is money per tonne for an error of 10 percent, summed over the rations.
    """

    offer: str
    feed: str
    label: str
    nutrient: str
    nutrient_label: str
    unit: str
    value: float
    sd: float
    source: str
    how: str
    note: str
    in_a_mix: bool
    weight: float = 0.0


@dataclass(frozen=True, slots=True)
class RowDual:
    """A row of a program: what it says, by how much it is kept, and its price.

    `slack` is on the safe side when it is not negative, in the row's own scale (a need: in parts of the need).
    `dual` is the change of the objective for one more unit on its right side, cuts of a confidence added.
    """

    ration: str
    row: str
    slack: float | None
    dual: float
    unit: str
    source: str
    how: str


@dataclass(frozen=True, slots=True)
class Override:
    """What the farm put in place of the library: where it stands, what it says, and who answers for it."""

    where: str
    what: str
    says: str
    why: str


@dataclass(frozen=True, slots=True)
class SignOff:
    """To be filled in by the nutritionist, for one ration; `date` and `valid_until` as 2026-10-05."""

    name: str = ""
    licence_number: str = ""
    licensed_in: str = ""
    date: str = ""
    valid_until: str = ""
    approved: str = ""
    signature: str = ""
    remarks: str = ""


@dataclass(frozen=True, slots=True)
class ReviewedRation:
    """A ration, and the recalled figures of the library that move its cost most, the heaviest first."""

    id: str
    ration: Ration
    recalled: tuple[FigureWeight, ...] = ()
    sign_off: SignOff = SignOff()


@dataclass(frozen=True, slots=True)
class ReviewCopy:
    """The review copy, figures and bounds the heaviest first. `how_counts` says how the figures in the mixes and the
    bounds were obtained, `evidence` what share (0 to 1) of all the weight of the library's figures each way carries,
    `weakest` the recalled ones that move these rations most together."""

    book: str
    book_version: str
    program: str
    farm: str
    season: str
    currency: str
    units: str
    date_format: str
    certification: str
    jurisdiction: str
    confidence_pct: float
    requirement_margin_pct: float
    review: str
    rations: tuple[ReviewedRation, ...]
    matrix: tuple[MatrixFigure, ...]
    duals: tuple[RowDual, ...]
    from_memory: tuple[Weak, ...]
    assumed: tuple[Weak, ...]
    how_counts: dict[str, dict[str, int]]
    sources: tuple[Source, ...]
    left_out: tuple[str, ...] = field(default=())
    evidence: dict[str, float] = field(default_factory=dict)
    weakest: tuple[Weak, ...] = ()
    overrides: tuple[Override, ...] = ()

    @property
    def sources_by_id(self) -> dict[str, Source]:
        """The sources by the ids that figures, bounds and reasons name them by."""
        return {source.source: source for source in self.sources}


def review_of(makes: Sequence[SolvedRation], farm: Farm) -> ReviewCopy:
    """The review copy of these rations."""
    named = [(ration_id(made.ration, farm.book), made) for made in makes]
    matrix = tuple(sorted(_matrix(makes, farm), key=lambda f: (-f.weight, not f.in_a_mix)))
    effects = Effects(farm.library)
    weights = handed_down(figure_weights(makes, farm.library, effects), farm.library, effects)
    weak = sorted((*_weak_figures(matrix), *weak_bounds(made for _, made in named)), key=lambda row: -row.weight)
    rows = (dual for name, made in named for dual in _duals(name, made, farm.library))
    duals = tuple(sorted(rows, key=lambda row: not row.dual))  # of every ration those with a price first
    ids = [*(f.source for f in matrix), *(d.source for d in duals), *_bound_sources(makes)]
    ids += [*(row.source for row in weights), *(r.source for _, made in named for r in made.ration.verdict.reasons)]
    return ReviewCopy(
        book=str(farm.book.path),
        book_version=book_version(farm.book),
        program=f"rationlp {__version__}",
        farm=farm.book.farm.name,
        season=farm.book.farm.season,
        currency=farm.book.farm.currency,
        units=farm.book.farm.units,
        date_format=farm.book.farm.date_format,
        certification=farm.book.farm.certification,
        jurisdiction=farm.book.farm.jurisdiction,
        confidence_pct=farm.book.farm.confidence_pct,
        requirement_margin_pct=farm.book.farm.requirement_margin_pct,
        review=REVIEW,
        rations=tuple(ReviewedRation(name, made.ration, _recalled(made, farm, effects)) for name, made in named),
        matrix=matrix,
        duals=duals,
        from_memory=tuple(row for row in weak if MEMORY in row.how),
        assumed=tuple(row for row in weak if MEMORY not in row.how),
        how_counts={
            "figures in the mixes": _counts(f.how for f in matrix if f.in_a_mix),
            "bounds": _bound_counts(makes),
        },
        sources=_cited(ids, farm.library),
        evidence=share_by_how(weights),
        weakest=tuple(_weakest(weights, farm.library))[:MOST_RECALLED],
        overrides=tuple(_overrides(makes, farm)),
        left_out=tuple(dict.fromkeys(note for made in makes for note in made.formula.notes if " left out" in note)),
    )


def _recalled(made: SolvedRation, farm: Farm, effects: Effects) -> tuple[FigureWeight, ...]:
    """The recalled figures that move one ration most, weight of computed ones laid on what they came from."""
    if made.answer.solution is None:
        return ()
    rows = handed_down(figure_weights([made], farm.library, effects), farm.library, effects)
    return tuple(row for row in rows if row.how in RECALLED and row.weight)[:MOST_RECALLED]


def _matrix(makes: Sequence[SolvedRation], farm: Farm) -> Iterable[MatrixFigure]:
    """Every figure that stood in a program, each once: the needs' nutrients, parts of ratios, the energies."""
    candidates: dict[str, Candidate] = {}
    wanted: dict[str, None] = {}
    used: set[str] = set()
    for made in makes:
        candidates |= {c.name: c for c in made.formula.candidates}
        wanted |= dict.fromkeys(_nutrients(made))
        used |= {line.offer for line in made.ration.mix if line.share}
    units = nutrient_units(farm.book, farm.library)
    weights = Counter[tuple[str, str]]()
    for made in makes:
        weights.update(contents_weights(made))
    for candidate in candidates.values():
        for nutrient in wanted:
            if nutrient not in candidate.values:
                continue
            found = figure_source(candidate, nutrient, farm)
            yield MatrixFigure(
                candidate.name,
                candidate.feed,
                candidate.label,
                nutrient,
                nutrient_label(nutrient, farm.library),
                units.get(nutrient, ""),
                candidate.values[nutrient],
                sqrt(max(candidate.spread.covariance_of(nutrient, nutrient), 0.0)),
                found.source,
                found.how,
                found.note,
                candidate.name in used,
                weights.get((candidate.name, nutrient), 0.0),
            )


def _nutrients(made: SolvedRation) -> list[str]:
    stage = made.formula.stage
    wanted = [need.nutrient for need in stage.needs]
    wanted += [part for ratio in stage.ratios for part in (ratio.numerator, ratio.denominator)]
    wanted += [need.nutrient for need in stage.premix_needs]
    wanted += [need.nutrient for need in made.formula.contaminants]
    return [*wanted, *((stage.energy,) if stage.energy else ()), "dry_matter"]


def _duals(name: str, made: SolvedRation, library: Library) -> list[RowDual]:
    """Every row of the program, those with a price first."""
    formula, answer = made.formula, made.answer
    prices: dict[str, float] = {}
    for row, dual in answer.duals:
        key = row.key.split(CUT_MARK)[0]
        prices[key] = prices.get(key, 0.0) + dual
    amounts = answer.amounts or ()
    total = sum(amounts)
    shares = tuple(x / total for x in amounts) if total else None
    found = []
    for row, source in zip(formula.program.rows, formula.sources, strict=True):
        value = formula.program.value(row, shares) if shares else None
        slack = value if row.sense == ">=" or value is None else -abs(value) if row.sense == "=" else -value
        found.append(
            RowDual(
                name,
                row_words(row.key, formula, library),
                slack,
                prices.get(row.key, 0.0),
                cost_unit(formula),
                getattr(source, "source", "the book" if row.key.startswith("offer:") else ""),
                getattr(source, "how", ""),
            )
        )
    return sorted(found, key=lambda dual: -abs(dual.dual))


def _weakest(weights: Iterable[FigureWeight], library: Library) -> Iterable[Weak]:
    """The recalled figures of the library that weigh in these rations, the heaviest first."""
    for row in weights:
        if row.how in RECALLED and row.weight:
            figures = library.premix_figures.get(row.feed, {}) | library.figures.get(row.feed, {})
            unit = library.units.get(row.nutrient, "")
            value = f"{nutrient_label(row.nutrient, library)} {figures[row.nutrient].value:.4g} {unit}".strip()
            yield Weak("figure", feed_label(row.feed, library), value, row.how, row.source, "", row.weight)


def _weak_figures(matrix: Sequence[MatrixFigure]) -> Iterable[Weak]:
    for f in matrix:
        if f.in_a_mix and (MEMORY in f.how or f.how in ASSUMED):
            yield Weak(
                "figure", f.label, f"{f.nutrient_label} {f.value:.4g} {f.unit}", f.how, f.source, f.note, f.weight
            )


def _overrides(makes: Sequence[SolvedRation], farm: Farm) -> Iterable[Override]:
    """The farm's own figures, needs and caps that these rations rest on, caps and needs first."""
    book, stages = farm.book, {made.ration.stage for made in makes}
    used = {feed for made in makes for c in made.formula.candidates for feed in (c.feed, *c.feeds)}
    for cap in (row for row in book.own_limits if row.stage in (*stages, ALL_STAGES)):
        low, high = (None if share is None else 100 * share for share in (cap.min_share, cap.max_share))
        yield Override(
            f"own_limits {cap.place.cell()}",
            f"{cap.stage}: {feed_label(cap.feed, farm.library)}",
            bound_range(low, high, "%"),
            _answers_for(cap.reason, cap.approved_by, book.farm.day(cap.approved_on)),
        )
    for need in (row for row in book.own_stages if row.stage in stages):
        yield Override(
            f"own_stages {need.place.cell()}",
            f"{need.stage}: {nutrient_label(need.nutrient, farm.library)}",
            f"{bound_range(need.minimum, need.maximum, need.unit)} per {need.per}",
            _answers_for(need.source, need.approved_by, book.farm.day(need.approved_on)),
        )
    for own in (row for row in book.own_feeds if row.feed in used):
        yield Override(
            f"own_feeds {own.place.cell()}",
            f"{feed_label(own.feed, farm.library)}: {nutrient_label(own.nutrient, farm.library)}",
            f"{own.value:.4g} {own.unit} {own.basis.replace('_', ' ')}",
            own.source,
        )


def _answers_for(why: str, by: str, on: str) -> str:
    approved = f"approved by {by}{f' on {on}' if on else ''}" if by else "approved by nobody"
    return "; ".join(filter(None, (why, approved)))


def _bound_sources(makes: Sequence[SolvedRation]) -> list[str]:
    rations = [made.ration for made in makes]
    found = [row.source for r in rations for row in r.requirements]
    found += [row.source for r in rations for row in r.ratios]
    found += [row.source for r in rations for row in r.limits]
    return found + [row.source for r in rations for row in r.digestible]


def _bound_counts(makes: Sequence[SolvedRation]) -> dict[str, int]:
    hows = [row.how for made in makes for row in made.ration.requirements]
    hows += [row.how for made in makes for row in made.ration.limits]
    return _counts(word for how in hows for word in how.split("; "))


def _counts(hows: Iterable[str]) -> dict[str, int]:
    return dict(Counter(how or "not said" for how in hows).most_common())


def _cited(source_ids: Iterable[str], library: Library) -> tuple[Source, ...]:
    ids = dict.fromkeys(part for source in source_ids for part in source.split("; ") if part)
    return tuple(library.sources[part] for part in ids if part in library.sources)
