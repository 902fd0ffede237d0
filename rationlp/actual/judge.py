"""A batch as it was really mixed: every requirement again, what went wrong, and whether it should be fed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rationlp.actual.faults import Weight, blamed, faults_of
from rationlp.actual.remedies import remedies
from rationlp.actual.slips import Crossed, size_factor
from rationlp.actual.tolerance import beyond_tolerance
from rationlp.book.records import Book, Offer, Place, Settings
from rationlp.book_units import units_of
from rationlp.cautions import REVIEW
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate, offer_candidates
from rationlp.figures import feed_label
from rationlp.ledger.made_mix import MadeMix
from rationlp.ledger.weighed import asked_as
from rationlp.library.read import Library
from rationlp.rations.answer.describe import describe
from rationlp.rations.answer.model import Ration
from rationlp.rations.answer.verdict import Leeway
from rationlp.rations.formulate import SolvedRation
from rationlp.rations.program.formula import Formula, needed_figures, widened
from rationlp.rations.solve.model import Answer
from rationlp.reasons import Kind, Reason, Severity, Verdict
from rationlp.sheets.practice import MAXIMUM_TOLERANCE, REQUIREMENT_TOLERANCE, STOP_SHORTFALL, WEIGHING_TOLERANCE

DOSE_AMISS = 0.5
"""A premix below half or above one and a half of its dose is no slip to live with (common practice)."""
WEIGHED = Leeway(
    told=REQUIREMENT_TOLERANCE.value,
    stop=STOP_SHORTFALL.value,
    maximum=MAXIMUM_TOLERANCE.value,
    dose_told=WEIGHING_TOLERANCE.value,
    dose_stop=DOSE_AMISS,
    law_told=MAXIMUM_TOLERANCE.value,
    law_asked=WEIGHING_TOLERANCE.value,
    usual_told=WEIGHING_TOLERANCE.value,
)
"""What the crew's ordinary error may do to a mix: a safe limit by its margin, a filler's usual most not at all."""
SUPPLIES = (Kind.REQUIREMENT, Kind.PREMIX)
"""Reasons that speak of what a mix supplies."""


@dataclass(frozen=True, slots=True)
class WeighedLine:
    """One ingredient: what was asked for in a batch of the size that was made, and what went in, in kg."""

    offer: str
    label: str
    asked_kg: float
    weighed_kg: float
    words: str  # what is wrong with it, or empty

    @property
    def off_pct(self) -> float | None:
        """By how much it is off, in percent of what was asked; None for what was not asked at all."""
        return 100 * (self.weighed_kg / self.asked_kg - 1) if self.asked_kg else None


@dataclass(frozen=True, slots=True)
class Judgement:
    """What became of a batch. `ration` is the mix as weighed; `size` its mass over that of its sheet; `faults` say what
    went wrong at the scale."""

    made: MadeMix
    stage_label: str
    verdict: Verdict
    lines: tuple[WeighedLine, ...]
    faults: tuple[str, ...]
    remedies: tuple[str, ...]
    cautions: tuple[str, ...]
    ration: Ration
    size: float
    label_line: str


def judge(
    made: MadeMix,
    recipe: SolvedRation,
    target_kg: Mapping[str, float],
    farm: Farm,
    crossed: Sequence[Crossed] = (),
    asked_of_weights: Sequence[Reason] = (),
) -> Judgement:
    """Judge one batch against the ration of its sheet; `target_kg` is what a batch of that ration asks for, `crossed`
    are rows of the sheet with each other's weight, `asked_of_weights` is what the sheet itself is asked about."""
    as_named = _same_feeds(made, target_kg, farm.book)
    formula, strangers = _with_strangers(as_named, recipe, farm)
    weighed = {name: mass for name, mass in as_named.weighed_kg.items() if mass > 0}
    size = size_factor(weighed, target_kg)
    asked = {name: mass * size for name, mass in target_kg.items()}
    weights = _weights(asked, as_named.weighed_kg, formula, farm)
    faults = faults_of(weights, made, size, farm.book, crossed)
    told = {name: fault.words for fault in reversed(faults) for name in fault.names}
    lines = tuple(WeighedLine(w.name, w.label, w.asked, w.weighed, told.get(w.name, "")) for w in weights)
    in_place = {name for fault in faults for name in fault.names}
    strangers = [reason for reason in strangers if reason.severity is Severity.STOP or reason.feed not in in_place]

    sheet = recipe.verdict.plus(asked_of_weights)
    meant = _described(formula, target_kg, farm)  # what the sheet asks for: a plan of the year is not today's ration

    def ration_of(masses: Mapping[str, float]) -> Ration:
        return _ration(formula, masses, meant, sheet, farm)

    def alone(names: Sequence[str]) -> Severity:
        """How grave the batch would be with nothing else wrong than the weights of `names`."""
        return ration_of(asked | {name: as_named.weighed_kg.get(name, 0.0) for name in names}).verdict.severity

    ration = ration_of(weighed)
    verdict = blamed(ration.verdict.plus(strangers), faults, alone)
    todo: list[str] = []
    if verdict.severity is not Severity.FEED and all(reason.severity is not Severity.STOP for reason in strangers):
        todo = remedies(lines, lambda masses: ration_of(masses).verdict, sheet, farm.settings)
    return Judgement(
        made=made,
        stage_label=ration.stage_label,
        verdict=verdict,
        lines=lines,
        faults=tuple(fault.words for fault in faults),
        remedies=tuple(todo),
        cautions=_cautions(verdict, lines, formula, farm.library),
        ration=ration,
        size=size,
        label_line=_label_line(made, ration, recipe, farm.settings),
    )


def _described(formula: Formula, masses: Mapping[str, float], farm: Farm) -> Ration:
    return describe(formula, Answer(tuple(masses.get(c.name, 0.0) for c in formula.candidates)), farm, WEIGHED)


def _ration(formula: Formula, masses: Mapping[str, float], meant: Ration, sheet: Verdict, farm: Farm) -> Ration:
    """The ration that was mixed, with what the regulator's tolerances and its sheet say beside its own verdict."""
    ration = _described(formula, masses, farm)
    verdict = ration.verdict.plus(beyond_tolerance(meant, ration, farm.library))
    return replace(ration, verdict=verdict.plus(_asked_of_sheet(sheet, verdict)))


def _asked_of_sheet(sheet: Verdict, batch: Verdict) -> Iterator[Reason]:
    """What the sheet is asked about, a batch of it is asked about too: the leeway is for the scales alone.

    Of what the batch says something of itself, in its own figures; what it says nothing of (the chance of meeting all,
    a dose that the scale cannot show, a need missed by less than the leeway) in the words of the sheet.
    """
    asked = sheet.weighing(Severity.ASK)
    told = {_of(reason) for reason in batch.reasons if reason.nutrient or reason.feed}
    yield from (reason for reason in asked if reason.kind in SUPPLIES and _of(reason) not in told)
    of_sheet = {_of(reason) for reason in asked}
    for reason in batch.weighing(Severity.FEED):
        if (reason.nutrient or reason.feed) and _of(reason) in of_sheet:
            yield replace(reason, severity=Severity.ASK)


def _of(reason: Reason) -> tuple[Kind, str | None, str | None]:
    return reason.kind, reason.nutrient, reason.feed


def _cautions(verdict: Verdict, lines: Sequence[WeighedLine], formula: Formula, library: Library) -> tuple[str, ...]:
    """The review, and the library's cautions that belong to what went wrong."""
    if verdict.severity is Severity.FEED:
        return (REVIEW,)
    groups = {c.name: (c.feed, c.group) for c in formula.candidates}
    wrong = [groups[line.offer] for line in lines if line.words and line.offer in groups]
    nutrients = {reason.nutrient for reason in verdict.reasons if reason.severity is not Severity.FEED}
    wanted = ["sick_animals"]
    if any(feed in ("salt", "sodium_bicarbonate") for feed, _ in wrong) or nutrients & {"sodium", "chloride"}:
        wanted += ["water", "salt"]
    if any(group == "premix" for _, group in wrong):
        wanted += ["premix_twice", "selenium"]
    if "calcium" in nutrients:
        wanted += ["layer_calcium", "pullet_calcium"]
    texts = {row.caution: row.text for row in library.cautions}
    return (REVIEW, *(texts[name] for name in wanted if name in texts))


def _label_line(made: MadeMix, ration: Ration, recipe: SolvedRation, farm: Settings) -> str:
    day = farm.day(made.made_on, "date not written down")
    samples = "+".join(estimate.sample for estimate in recipe.estimates) or "none"
    return f"{ration.stage_label} | made {day} | bin {made.bin or 'none'} | sample {samples} | batch {made.batch}"


def _same_feeds(made: MadeMix, target_kg: Mapping[str, float], book: Book) -> MadeMix:
    """The batch with a feed of another offer under the offer the sheet names."""
    feeds = {offer.offer: offer.feed for offer in book.supplements}
    weighed: dict[str, float] = {}
    for name, mass in made.weighed_kg.items():
        named = asked_as(name, target_kg, feeds)
        weighed[named] = weighed.get(named, 0.0) + mass
    return made.weighing(weighed, book)


# What went in -----------------------------------------------------------------------------------


def _with_strangers(made: MadeMix, recipe: SolvedRation, farm: Farm) -> tuple[Formula, list[Reason]]:
    """The formula with everything that went in, and a reason for each thing that does not belong in it."""
    formula = recipe.formula
    known = {candidate.name for candidate in formula.candidates}
    vitamins = {need.nutrient for need in formula.stage.needs if need.gives_way}
    needed = [nutrient for nutrient in needed_figures(formula.stage) if nutrient not in vitamins]
    units, extra = units_of(farm.settings), list[Candidate]()
    reasons: list[Reason] = []
    for name, mass in made.weighed_kg.items():
        if name in known or mass <= 0:
            continue
        candidate = _candidate(name, farm)
        if candidate.premix_covers:
            text = f"{candidate.label} is a premix for other animals."
            reasons.append(Reason(Kind.PREMIX, Severity.STOP, text, feed=candidate.feed))
        if all(nutrient in candidate.values for nutrient in needed):
            extra.append(candidate)
            text = f"{candidate.label} is not in this ration: {units.weight(mass)} went in."
            reasons.append(Reason(Kind.EVIDENCE, Severity.ASK, text, feed=candidate.name))
        else:
            text = (
                f"{candidate.label} ({units.weight(mass)}) has no figures for what these animals need, and is not "
                "counted in what the mix supplies."
            )
            reasons.append(Reason(Kind.EVIDENCE, Severity.STOP, text, feed=candidate.feed))
    return (widened(formula, extra, farm) if extra else formula), reasons


def _candidate(name: str, farm: Farm) -> Candidate:
    """An offer or a bin of the book, or a feed that is not on offer, as something that went in."""
    if name in {row.bin for row in farm.book.bins}:
        return farm.bin_candidate(name)
    offers = [offer for offer in farm.book.supplements if offer.offer == name] or [Offer(Place(), name, name)]
    return offer_candidates(replace(farm.book, supplements=tuple(offers)), farm.library)[0]


def _label(name: str, formula: Formula, library: Library) -> str:
    return next((c.label for c in formula.candidates if c.name == name), feed_label(name, library))


def _weights(asked: Mapping[str, float], weighed: Mapping[str, float], formula: Formula, farm: Farm) -> list[Weight]:
    found = [
        Weight(name, _label(name, formula, farm.library), asked.get(name, 0.0), weighed.get(name, 0.0))
        for name in dict.fromkeys((*asked, *weighed))
        if asked.get(name) or weighed.get(name)
    ]
    return sorted(found, key=lambda weight: -weight.asked)
