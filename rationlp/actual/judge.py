"""A batch as it was really mixed: every requirement again, what went wrong, and whether it should be fed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from rationlp.actual.slips import size_factor, swapped
from rationlp.actual.tolerance import beyond_tolerance
from rationlp.book.records import Book, Offer, Place
from rationlp.cautions import REVIEW
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate, offer_candidates
from rationlp.figures import feed_label, nutrient_label
from rationlp.ledger.made_mix import MadeMix
from rationlp.library.read import Library
from rationlp.rations.answer.describe import describe
from rationlp.rations.answer.mix import Mix, make_mix
from rationlp.rations.answer.model import Ration
from rationlp.rations.formulate import SolvedRation
from rationlp.rations.program.formula import Formula
from rationlp.rations.solve.model import Answer
from rationlp.sheets.practice import REQUIREMENT_TOLERANCE, STOP_SHORTFALL, WEIGHING_TOLERANCE
from rationlp.stages.limits import caps_of

Verdict = Literal["feed", "ask", "stop"]
VERDICT_WORDS: Mapping[Verdict, str] = {
    "feed": "May be fed.",
    "ask": "Ask the nutritionist before it is fed.",
    "stop": "DO NOT FEED IT as it is.",
}
DOSE_AMISS = (0.5, 1.5)
"""A premix below half or above one and a half of its dose is no slip to live with (common practice)."""
SIZE_AMISS = 0.02
MOST_THINNED = 2.05
"""A batch is not thinned to more than about twice its mass (common practice)."""


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
    """What became of a batch. `ration` is the mix as weighed; `size` its mass over that of its sheet."""

    made: MadeMix
    stage_label: str
    verdict: Verdict
    lines: tuple[WeighedLine, ...]
    faults: tuple[str, ...]
    reasons: tuple[str, ...]
    remedies: tuple[str, ...]
    cautions: tuple[str, ...]
    ration: Ration
    size: float
    label_line: str


@dataclass(frozen=True, slots=True)
class BatchFinding:
    """A mix against its ration: what forbids feeding it, and what to ask about."""

    ration: Ration
    mix: Mix
    stop: tuple[str, ...]
    ask: tuple[str, ...]


def judge(made: MadeMix, recipe: SolvedRation, target_kg: Mapping[str, float], farm: Farm) -> Judgement:
    """Judge one batch against the ration of its sheet; `target_kg` is what a batch of that ration asks for."""
    made = _same_feeds(made, target_kg, farm.book)
    formula, strangers, faults = _with_strangers(made, recipe, farm)
    weighed = {name: mass for name, mass in made.weighed_kg.items() if mass > 0}
    size = size_factor(weighed, target_kg)
    asked = {name: mass * size for name, mass in target_kg.items()}
    lines = _lines(asked, made.weighed_kg, formula, farm)
    faults += [line.words for line in lines if line.words]
    faults += [
        f"{_label(one, formula, farm.library)} and {_label(other, formula, farm.library)} seem to have each other's weight: "
        "written in "
        f"each other's row, or weighed so? It is judged as written."
        for one, other in swapped(weighed, asked)
    ]
    if abs(size - 1) > SIZE_AMISS and made.target_kg is not None:
        faults.append(f"A batch {size:.2f} times the size on its sheet.")
    found = _find(formula, weighed, asked, recipe, farm)
    stop = (*strangers, *found.stop)
    verdict: Verdict = "stop" if stop else "ask" if found.ask or faults else "feed"
    remedies: list[str] = []
    if verdict != "feed" and not strangers:
        remedies = _remedies(lines, lambda amounts: _find(formula, amounts, asked, recipe, farm), farm.book)
    return Judgement(
        made=made,
        stage_label=found.ration.stage_label,
        verdict=verdict,
        lines=lines,
        faults=tuple(faults),
        reasons=tuple(dict.fromkeys((*stop, *found.ask))),
        remedies=tuple(remedies),
        cautions=_cautions(verdict, lines, found, formula, farm.library),
        ration=found.ration,
        size=size,
        label_line=_label_line(made, found.ration, recipe),
    )


def _find(
    formula: Formula,
    weighed: Mapping[str, float],
    asked: Mapping[str, float],
    recipe: SolvedRation,
    farm: Farm) -> BatchFinding:
    amounts = [weighed.get(candidate.name, 0.0) for candidate in formula.candidates]
    ration = describe(formula, Answer(tuple(amounts)), farm)
    mix = make_mix(formula, amounts, farm.library)
    stop = [*_safety(mix, ration, farm.library), *_doses(asked, weighed, formula)]
    ask = []
    for words, is_grave in (*_short(ration), *beyond_tolerance(recipe.ration, ration, farm.library)):
        (stop if is_grave else ask).append(words)
    return BatchFinding(ration, mix, tuple(stop), tuple(ask))


def _cautions(
    verdict: Verdict, lines: Sequence[WeighedLine], found: BatchFinding, formula: Formula, library: Library
) -> tuple[str, ...]:
    """The review, and the library's cautions that belong to what went wrong."""
    if verdict == "feed":
        return (REVIEW,)
    groups = {c.name: (c.feed, c.group) for c in formula.candidates}
    wrong = [groups[line.offer] for line in lines if line.words and line.offer in groups]
    nutrients = " ".join((*found.stop, *found.ask)).casefold()
    wanted = ["sick_animals"]
    if (
        any(feed in ("salt", "sodium_bicarbonate") for feed, _ in wrong)
        or "sodium" in nutrients
        or "chloride" in nutrients
    ):
        wanted += ["water", "salt"]
    if any(group == "premix" for _, group in wrong):
        wanted += ["premix_twice", "selenium"]
    if "calcium" in nutrients:
        wanted += ["layer_calcium", "pullet_calcium"]
    texts = {row.caution: row.text for row in library.cautions}
    return (REVIEW, *(texts[name] for name in wanted if name in texts))


def _label_line(made: MadeMix, ration: Ration, recipe: SolvedRation) -> str:
    day = f"{made.made_on:%Y-%m-%d}" if made.made_on else "date not written down"
    samples = "+".join(estimate.sample for estimate in recipe.estimates) or "none"
    return f"{ration.stage_label} | made {day} | bin {made.bin or 'none'} | sample {samples} | batch {made.batch}"


def _same_feeds(made: MadeMix, target_kg: Mapping[str, float], book: Book) -> MadeMix:
    """The batch with a feed of another offer (bags for bulk, only the feed's name) under the offer the sheet names."""
    feeds = {offer.offer: offer.feed for offer in book.supplements}
    weighed: dict[str, float] = {}
    for name, mass in made.weighed_kg.items():
        twins = [
            other for other in target_kg if feeds.get(other) == feeds.get(name, name) and other not in made.weighed_kg
        ]
        named = twins[0] if name not in target_kg and twins else name
        weighed[named] = weighed.get(named, 0.0) + mass
    return made.weighing(weighed, book)


# What went in -----------------------------------------------------------------------------------


def _with_strangers(made: MadeMix, recipe: SolvedRation, farm: Farm) -> tuple[Formula, list[str], list[str]]:
    """The formula with everything that went in; what should never have gone in; what nobody has figures for."""
    formula = recipe.formula
    known = {candidate.name for candidate in formula.candidates}
    needed = [need.nutrient for need in formula.stage.needs]
    extra: list[Candidate] = []
    strangers: list[str] = []
    faults: list[str] = []
    for name, mass in made.weighed_kg.items():
        if name in known or mass <= 0:
            continue
        candidate = _candidate(name, farm)
        if candidate.premix_covers:
            strangers.append(f"{candidate.label} is a premix for other animals.")
        if all(nutrient in candidate.values for nutrient in needed):
            extra.append(candidate)
            faults.append(f"{candidate.label} is not in this ration: {mass:.4g} kg went in.")
        else:
            strangers.append(
                f"{candidate.label} ({mass:.4g} kg) has no figures for what these animals need; it is not in the "
                "reckoning below."
            )
    if not extra:
        return formula, strangers, faults
    candidates = [*formula.candidates, *extra]
    caps = caps_of(formula.stage.known, formula.stage.stage, candidates, farm.book, farm.library)
    return replace(formula, candidates=tuple(candidates), caps=tuple(caps)), strangers, faults


def _candidate(name: str, farm: Farm) -> Candidate:
    """An offer or a bin of the book, or a feed that is not on offer, as something that went in."""
    if name in {row.bin for row in farm.book.bins}:
        return farm.bin_candidate(name)
    offers = [offer for offer in farm.book.supplements if offer.offer == name] or [Offer(Place(), name, name)]
    return offer_candidates(replace(farm.book, supplements=tuple(offers)), farm.library)[0]


def _label(name: str, formula: Formula, library: Library) -> str:
    return next((c.label for c in formula.candidates if c.name == name), feed_label(name, library))


def _lines(
    asked: Mapping[str, float], weighed: Mapping[str, float], formula: Formula, farm: Farm) -> tuple[WeighedLine, ...]:
    lines = []
    for name in dict.fromkeys((*asked, *weighed)):
        label, wanted, mass = _label(name, formula, farm.library), asked.get(name, 0.0), weighed.get(name, 0.0)
        if not wanted and not mass:
            continue
        small = wanted < farm.book.farm.hand_weigh_below_kg
        step = farm.book.farm.hand_scale_step_kg if small else farm.book.farm.scale_step_kg
        lines.append(WeighedLine(name, label, wanted, mass, _off_words(label, wanted, mass, step)))
    return tuple(sorted(lines, key=lambda line: -line.asked_kg))


def _off_words(label: str, asked: float, mass: float, step: float) -> str:
    """What is wrong with a weight, or nothing."""
    if not asked:
        return ""
    if mass == 0:
        return f"{label} was left out: {asked:.4g} kg are missing."
    ratio = mass / asked
    if abs(mass - asked) <= max(WEIGHING_TOLERANCE.value * asked, 1.01 * step):
        return ""
    size = f"{mass:.4g} kg instead of {asked:.4g} kg"
    if 1.8 <= ratio <= 2.2:
        return f"{label} went in twice: {size}."
    if 0.45 <= ratio <= 0.55:
        return f"Only half of {label}: {size}."
    return f"{label}: {size} ({100 * (ratio - 1):+.0f} %)."


# What it means ----------------------------------------------------------------------------------


def _safety(mix: Mix, ration: Ration, library: Library) -> list[str]:
    """Ceilings and caps of safety that are passed, and what no feed for these animals would hold."""
    found = []
    for need in mix.formula.stage.needs:
        _, high = mix.bounds(need)
        if need.safety and high is not None and mix.analysis[need.nutrient] > high * (1 + 1e-6):
            name = nutrient_label(need.nutrient, library)
            found.append(
                f"{name} is {mix.analysis[need.nutrient]:.4g} {need.unit}, above the safe {high:.4g} ({need.source})."
            )
    for ratio in mix.formula.stage.ratios:
        below = mix.analysis[ratio.denominator]
        value = mix.analysis[ratio.numerator] / below if below else float("inf")
        low, high = ratio.minimum or 0.0, float("inf") if ratio.maximum is None else ratio.maximum
        if ratio.safety and not low * (1 - 1e-6) <= value <= high * (1 + 1e-6):
            names = " to ".join(nutrient_label(part, library) for part in (ratio.numerator, ratio.denominator))
            found.append(f"{names} is {value:.3g}, outside the safe range ({ratio.source}).")
    for cap in mix.formula.caps:
        held = mix.content(cap)
        if cap.safety and cap.max_share is not None and held > cap.max_share + 1e-6:
            found.append(
                f"{feed_label(cap.feed, library)} is {100 * held:.3g} %, above the safe {100 * cap.max_share:g} % "
                f"({cap.reason})."
            )
    return found + [words for words in ration.findings if "the trade uses at most" in words]


def _doses(asked: Mapping[str, float], weighed: Mapping[str, float], formula: Formula) -> list[str]:
    """Premixes far off their dose: vitamins and trace minerals have no rows that would tell."""
    amiss: dict[int, list[str]] = {}
    least, most = DOSE_AMISS
    size = sum(weighed.values()) / sum(asked.values())
    for part in ("vitamins", "trace_minerals"):
        doses = {
            c.name: 1 / c.premix_inclusion for c in formula.candidates if part in c.premix_covers and c.premix_inclusion
        }
        wanted = size * sum(asked.get(name, 0.0) * dose for name, dose in doses.items())
        given = sum(weighed.get(name, 0.0) * dose for name, dose in doses.items())
        if wanted and not least <= given / wanted <= most:
            amiss.setdefault(round(100 * given / wanted), []).append(part.replace("_", " "))
    return [f"The premix for {' and '.join(parts)} is at {percent} % of its dose." for percent, parts in amiss.items()]


def _short(ration: Ration) -> list[tuple[str, bool]]:
    """Requirements missed beyond what weighing may miss, and whether by so much that it should not be fed."""
    found = []
    for s in ration.shortfalls:
        if s.short_pct > 100 * REQUIREMENT_TOLERANCE.value:
            side = "at least" if s.side == "minimum" else "at most"
            need = f"these animals need {side} {s.needs:.4g} ({s.short_pct:.2g} % off)"
            words = f"{s.label} is {s.gives:.4g} {s.unit}; {need}."
            found.append((words, s.short_pct > 100 * STOP_SHORTFALL.value))
    for line in ration.limits:
        if (
            line.max_pct is not None
            and not line.safety
            and line.gives_pct > line.max_pct * (1 + WEIGHING_TOLERANCE.value) + 1e-4
        ):
            found.append(
                (f"{line.label} is {line.gives_pct:.3g} %, over its cap of {line.max_pct:g} % ({line.reason}).", False)
            )
    return found


# What can be done -------------------------------------------------------------------------------


def _remedies(
    lines: Sequence[WeighedLine], find: Callable[[Mapping[str, float]], BatchFinding], book: Book
) -> list[str]:
    """What to add while it is still in the mixer: what is missing if that mends it, else all that thins the rest."""
    if not any(line.words for line in lines):
        return []
    if any(not line.asked_kg and line.weighed_kg for line in lines):
        return ["What does not belong in it cannot be taken out again: keep the batch apart and ask."]
    over = [line.weighed_kg / line.asked_kg for line in lines if line.asked_kg and line.words]
    for size in dict.fromkeys((1.0, max(1.0, *over))):
        goal = {line.offer: max(line.weighed_kg, size * line.asked_kg) for line in lines}
        total = sum(goal.values())
        adds = [(line.offer, line.label, goal[line.offer] - line.weighed_kg) for line in lines]
        words = ", ".join(f"{mass:.4g} kg of {label}" for offer, label, mass in adds if mass > 1e-3 * goal[offer])
        found = find(goal)
        if found.stop or found.ask or not words:
            continue
        capacity = book.farm.mixer_capacity_kg
        if total > MOST_THINNED * sum(line.weighed_kg for line in lines) or (capacity and total > capacity):
            return [
                f"To be right it would have to become {total:.4g} kg, more than can be mixed: keep it apart and ask."
            ]
        return [
            f"If it is still in the mixer: add {words} ({total:.4g} kg in all) and mix again for the full time. "
            "Then it meets the ration."
        ]
    return ["Adding what is missing does not mend it: keep it apart and ask."]
