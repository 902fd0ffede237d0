"""How much to sort, probe and analyse for a wanted plus-or-minus of a nutrient."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rationlp.bins.drift import PROBES_NOT_STATED, Unevenness, probes_of
from rationlp.bins.dry_matter import DRY_MATTER
from rationlp.bins.evidence import PORTION_G, Evidence, gather
from rationlp.bins.joint import Assays, Belief, LeastSquaresProblem, Sorted, begin, blend, observe_assays, solve
from rationlp.bins.model import BinEstimate
from rationlp.bins.sampling import KERNEL_MASS_CV, MOST_INCREMENTS, increments, lab_sd, share_covariance
from rationlp.book.records import Book
from rationlp.library.read import Library
from rationlp.units import Z90

GRAMS = (100.0, 200.0, 300.0, 500.0, 750.0, 1000.0, 1500.0, 2000.0, 3000.0, 5000.0)
"""Samples a person would sort, from an hour's work to a day's."""
FEWEST_KERNELS = 2500
"""Kernels of a purity working sample (memory: ISTA Rules, Table 2A): no fewer are sorted."""
MOST_ANALYSES = 6
"""Analyses of one nutrient beyond which another would be better looked for (a judgement)."""
PROXIMATES = ("crude_protein", "ether_extract", "ndf", "adf", "starch", "ash", "crude_fibre")
SHARES_OF_PHOSPHORUS = ("phytate_phosphorus", "nonphytate_phosphorus")
"""Laboratories for feed measure the whole, not these."""
SITUATION = {"stream": "from the stream (best)", "standing": "from the full bin", "mycotoxins": "for mycotoxins"}
USUAL = ("crude_protein", "sid_lysine_pig", "ne_pig", "amen_poultry")
"""What to be sure of where no ration says what binds."""


@dataclass(frozen=True, slots=True)
class SamplingStep:
    """What one thing more would bring by itself: so much of it, and the half-width it leaves, in percent."""

    what: str  # probes, sorting, analyses
    words: str
    amount: float
    after_pct: float


@dataclass(frozen=True, slots=True)
class SamplingPlan:
    """What one nutrient of a bin needs. Half-widths hold 9 of 10 draws and are in percent of `level` (as fed, in
    `unit`).

    `level` is what the rations ask of the bin's grain, or, where no ration says, what the bin holds. `probes` are those
    of the sample to take, `analyses` says how often to analyse what; `reached` whether `after_pct` is as narrow as
    wanted. `like_last_pct` is what a sample like the last one would leave, `steps` what each thing more would.
    """

    nutrient: str
    label: str
    value: float
    unit: str
    level: float
    now_pct: float
    wanted_pct: float
    after_pct: float
    reached: bool
    grams: float
    probes: int
    analyses: Mapping[str, int]
    like_last_pct: float
    steps: tuple[SamplingStep, ...]

    def line(self) -> str:
        """The plan as a sentence."""
        head = f"{self.label}: now within {self.now_pct:.1f} %"
        if self.now_pct <= self.wanted_pct:
            return f"{head}: enough."
        words = ", ".join(f"{count} x {nutrient.replace('_', ' ')}" for nutrient, count in self.analyses.items())
        work = f"take {self.probes} probes, sort {self.grams:.0f} g" + (f", analyse {words}" if words else "")
        if self.reached:
            return f"{head}; {work}: then within {self.after_pct:.1f} %."
        left = f"{work}: that leaves {self.after_pct:.1f} %, what the laboratory does not see"
        return f"{head}; {self.wanted_pct:g} % cannot be reached: {left}."

    def steps_line(self) -> str:
        """What more probes, more sorting and more analyses would bring, each by itself."""
        steps = "; ".join(f"{step.words} {step.after_pct:.1f} %" for step in self.steps)
        return f"A sample like the last one leaves {self.like_last_pct:.1f} %; with one thing changed: {steps}."


@dataclass(frozen=True, slots=True)
class SamplingAdvice:
    """Plans for the nutrients asked for, and how to take the grain."""

    bin: str
    wanted_pct: float
    plans: tuple[SamplingPlan, ...]
    grams: float
    probes: int
    analyses: Mapping[str, int]  # one order to the laboratory that serves every plan that can be reached
    increments: int | None
    where: tuple[str, ...]
    sources: tuple[str, ...]


def sampling_advice(
    estimate: BinEstimate, book: Book, library: Library, wanted_pct: float, levels: Mapping[str, float] | None = None
) -> SamplingAdvice:
    """The least work that brings each nutrient of `levels` within `wanted_pct` percent of its level, 9 times in 10.

    A level is the content as fed that a ration asks of the bin's grain (requirement over share of the bin), so that the
    plus-or-minus of the ration is counted, not that of traces in the grain. Nutrients that the bin is not known by are
    passed over; without any left, protein, lysine and energies are taken at their own values. Raises ValueError for a
    precision that is not above 0.
    """
    if not wanted_pct > 0:
        raise ValueError(f"a precision of {wanted_pct:g} %")
    evidence, tonnes = gather(estimate.bin, book, library), estimate.tonnes
    now, _ = solve(evidence.problem)
    asked = {n: level for n, level in (levels or {}).items() if n in evidence.problem.nutrients and level > 0}
    if not asked:
        asked = {n: estimate.values[n] for n in USUAL if n in evidence.problem.nutrients}
    last = _last_sample(evidence, tonnes)
    plans = tuple(_plan(n, level, wanted_pct, evidence, last, now, library) for n, level in asked.items())
    places = [row for row in library.probe_patterns if tonnes is None or row.from_tonnes <= tonnes]
    chosen = {row.situation: row for row in places}  # the last that fits
    return SamplingAdvice(
        bin=evidence.bin.bin,
        wanted_pct=wanted_pct,
        plans=plans,
        grams=max((plan.grams for plan in plans), default=0.0),
        probes=max((plan.probes for plan in plans), default=0),
        analyses=_one_order(plans),
        increments=None if tonnes is None else increments(tonnes),
        where=tuple(f"{SITUATION[situation]}: {row.probes} times, {row.where}" for situation, row in chosen.items()),
        sources=tuple(dict.fromkeys([row.source for row in chosen.values()] + ["de_feed_sampling"])),
    )


def _one_order(plans: Sequence[SamplingPlan]) -> dict[str, int]:
    """The most that any plan within reach asks of each analysis."""
    order: dict[str, int] = {}
    for plan in plans:
        for nutrient, count in plan.analyses.items() if plan.reached else ():
            order[nutrient] = max(order.get(nutrient, 0), count)
    return order


@dataclass(frozen=True, slots=True)
class _LastSample:
    """What was done for the newest sample: grams sorted, probes, analyses; and the probes the next one may be of."""

    grams: float
    probes: int
    analyses: Mapping[str, int]
    ladder: tuple[int, ...]


def _last_sample(evidence: Evidence, tonnes: float | None) -> _LastSample:
    newest = evidence.samples[-1] if evidence.samples else None
    probes = probes_of(newest) if newest else PROBES_NOT_STATED
    advised = MOST_INCREMENTS if tonnes is None else increments(tonnes)
    rows = evidence.assays.get(evidence.newest_assayed, ())
    counts = Counter(row.nutrient for row in rows if row.nutrient in evidence.problem.nutrients)
    sorts = [reading.sort.sample_g for reading in evidence.problem.readings if reading.sort is not None]
    more = tuple(number for number in (advised, 2 * advised) if number > probes)
    return _LastSample(sorts[-1] if sorts else 0.0, probes, counts, (probes, *more) if more else (probes, 2 * probes))


def _plan(
    nutrient: str,
    level: float,
    wanted_pct: float,
    evidence: Evidence,
    last: _LastSample,
    now: Belief,
    library: Library,
) -> SamplingPlan:
    """Fewest analyses first, then fewest grams, then fewest probes; if nothing reaches it, what comes as near as all.

    Probes add the variance between places, one probe's over their number; sorting and analyses the rest.
    """
    problem = evidence.problem
    value = float(now.nutrients[problem.nutrients.index(nutrient)]) * now.dry_matter_pct / 100
    menus = _menus(nutrient, problem.nutrients, library)
    used = dict.fromkeys([nutrient, *(n for menu in menus for n in menu), *last.analyses])
    problem, now = _only(used, problem, now)
    now_pct = 100 * _half_width(now) / level
    one_probe = _one_probe_half_width(problem, now, evidence.unevenness)

    def left(grams: float, menu: Mapping[str, int], probes: int) -> float:
        kernels_and_laboratory = _half_width(_design(problem, now, grams, menu, library))
        return 100 * math.hypot(kernels_and_laboratory, one_probe / math.sqrt(probes)) / level

    def at_other_probes(pct: float, probes: int) -> float:
        place = (100 * one_probe / level) ** 2
        return math.sqrt(max(pct**2 + place * (1 / probes - 1 / last.probes), 0.0))

    ladder = _ladder(problem, now)
    tries = [
        (grams, menu, probes, at_other_probes(pct, probes))
        for menu in menus
        for grams in ladder
        for pct in [left(grams, menu, last.probes)]
        for probes in last.ladder
    ]
    best = min(row[3] for row in tries)
    good = [row for row in tries if row[3] <= wanted_pct] or [row for row in tries if row[3] <= 1.02 * best]
    if now_pct <= wanted_pct:
        grams, analyses, probes, after = 0.0, menus[0], last.probes, now_pct
    else:
        grams, analyses, probes, after = min(good, key=lambda row: (sum(row[1].values()), row[0], row[2]))
    known = library.nutrients.get(nutrient)
    label, unit = (known.label, known.unit) if known else (nutrient.replace("_", " "), "")
    sorted_g = max(last.grams, ladder[0])
    like_last = left(sorted_g, last.analyses, last.probes)
    more = last.ladder[1]
    steps = [
        SamplingStep("probes", f"{more} probes", more, at_other_probes(like_last, more)),
        SamplingStep(
            "sorting",
            f"{2 * sorted_g:.0f} g sorted",
            2 * sorted_g,
            left(2 * sorted_g, last.analyses, last.probes),
        ),
    ]
    for menu in menus[1:]:
        if sum(menu.values()) == 1:
            (name,) = menu
            added = {**last.analyses, name: last.analyses.get(name, 0) + 1}
            words = f"one more analysis of {name.replace('_', ' ')}"
            steps.append(SamplingStep("analyses", words, added[name], left(sorted_g, added, last.probes)))
    return SamplingPlan(
        nutrient=nutrient,
        label=label,
        value=value,
        unit=unit,
        level=level,
        now_pct=now_pct,
        wanted_pct=wanted_pct,
        after_pct=after,
        reached=after <= wanted_pct,
        grams=grams,
        probes=probes,
        analyses=analyses,
        like_last_pct=like_last,
        steps=tuple(steps),
    )


def _one_probe_half_width(problem: LeastSquaresProblem, now: Belief, uneven: Unevenness) -> float:
    """Half of the 90 % interval of the first nutrient as fed, in its unit, that the place of one probe alone gives."""
    slopes = blend(problem, now.shares, np.diag(now.share_covariance)).slopes[0] * now.dry_matter_pct / 100
    return Z90 * math.sqrt(max(float(slopes @ uneven.of(now.shares, 1) @ slopes), 0.0))


def _only(nutrients: Iterable[str], problem: LeastSquaresProblem, now: Belief) -> tuple[LeastSquaresProblem, Belief]:
    """Problem and belief of these nutrients alone, in this order."""
    wanted = tuple(nutrients)
    count = now.crops
    keep = [*range(count), *(count + problem.nutrients.index(nutrient) for nutrient in wanted), len(now.mean) - 1]
    return replace(problem, nutrients=wanted), Belief(now.mean[keep], now.covariance[np.ix_(keep, keep)], count)


def _ladder(problem: LeastSquaresProblem, now: Belief) -> list[float]:
    """Samples worth sorting, from the fewest kernels that make one."""
    heavy = sum(max(share, 0.0) * crop.kernel_mass_g for share, crop in zip(now.shares, problem.crops, strict=True))
    least = 10 * math.ceil(FEWEST_KERNELS * heavy / 10)
    return [float(least), *(grams for grams in GRAMS if grams > least)]


def _menus(nutrient: str, known: Sequence[str], library: Library) -> list[dict[str, int]]:
    """What could be analysed for a nutrient: nothing, protein, itself, both, or all proximates, several times."""
    parts = [part for part in _assayable(nutrient, library) if part in known]
    kind = library.nutrients[nutrient].kind if nutrient in library.nutrients else "own"
    menus: list[tuple[str, ...]] = [("crude_protein",), tuple(parts), ("crude_protein", *parts)]
    if kind == "energy":
        menus = [("crude_protein",), tuple(n for n in PROXIMATES if n in known)]
    usable = dict.fromkeys(tuple(dict.fromkeys(n for n in menu if n in known)) for menu in menus)
    return [{}, *(dict.fromkeys(menu, count) for menu in usable if menu for count in range(1, MOST_ANALYSES + 1))]


def _assayable(nutrient: str, library: Library) -> list[str]:
    """What a laboratory measures of a nutrient that is itself calculated from others."""
    row = library.nutrients.get(nutrient)
    if nutrient in SHARES_OF_PHOSPHORUS:
        return ["phosphorus"]
    if row is None or (not row.part_of and not row.sum_of):
        return [nutrient]
    return [part for whole in (row.part_of, *row.sum_of) if whole for part in _assayable(whole, library)]


def _design(
    problem: LeastSquaresProblem, now: Belief, grams: float, analyses: Mapping[str, int], library: Library
) -> Belief:
    """How sure a fresh sample would make one, sorted and analysed so far; a dry matter comes with every analysis."""
    kernels = np.array([crop.kernel_mass_g for crop in problem.crops])
    shares = np.clip(now.shares, 1e-9, 1)
    start = Sorted(now.shares, share_covariance(shares / shares.sum(), kernels, grams, KERNEL_MASS_CV))
    times = max(analyses.values(), default=0)
    dry_sd = problem.dry_matter_sd
    if times:
        dry_sd = min(dry_sd, lab_sd(DRY_MATTER, now.dry_matter_pct, "%", "oven", library)[0] / times**0.5)
    planned = replace(problem, dry_matter_sd=dry_sd)
    level = blend(planned, now.shares, np.diag(start.covariance))
    belief = begin(planned, level, start)
    if not analyses:
        return belief
    picks = np.zeros((len(analyses), len(problem.nutrients)))
    picks[range(len(analyses)), [problem.nutrients.index(nutrient) for nutrient in analyses]] = 1.0
    expected = picks @ belief.nutrients
    sds = [
        lab_sd(nutrient, value, _unit(nutrient, library), "", library)[0] / count**0.5
        for (nutrient, count), value in zip(analyses.items(), expected, strict=True)
    ]
    assays = Assays(picks, expected, np.diag(np.square(sds)), np.zeros(len(sds), bool), PORTION_G * times)
    return observe_assays(belief, assays, level, kernels)[0]


def _unit(nutrient: str, library: Library) -> str:
    return library.nutrients[nutrient].unit if nutrient in library.nutrients else "%"


def _half_width(belief: Belief) -> float:
    """Half of the 90 % interval of the first nutrient as fed, in its unit."""
    value, dry = float(belief.nutrients[0]), belief.dry_matter_pct
    both = belief.covariance[np.ix_([belief.crops, -1], [belief.crops, -1])]
    through = np.array([dry, value]) / 100
    return Z90 * math.sqrt(max(float(through @ both @ through), 0.0))
