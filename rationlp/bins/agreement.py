"""Does the assay say what hand sort and library lead one to expect? And if not, which slip would explain it?"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np

from rationlp.bins.chance import CLEARLY, DOUBTFUL, chi_square_tail
from rationlp.bins.evidence import Evidence, library_grains, sample_assays
from rationlp.bins.joint import (
    Assays,
    LeastSquaresProblem,
    Sorted,
    Surprise,
    age,
    begin,
    blend,
    observe_assays,
    observe_reading,
    widen,
)
from rationlp.bins.lots import Crop, known_crop
from rationlp.bins.model import NOT_COMPARED, Accord, Agreement
from rationlp.book.columns import FOREIGN_MATTER
from rationlp.book.records import Book
from rationlp.errors import given
from rationlp.library.read import Library
from rationlp.numbers import p_words

LOOK_ALIKE = 2.0
"""Seeds whose kernels differ by no more than this factor in mass can be taken for each other (a judgement)."""
FEW_SLIPS_SHOW = "Fewer than half of all slips show this way."
"""What an agreement is worth, measured: 310 of 700 invented bins with one slip were found out (DEVELOPERS.md)."""
FIRST_IN_HALF = "the first one named is right in about half of such cases"
"""What a named cause is worth, measured: the first was the true one in 152 of 305 bins (DEVELOPERS.md)."""
MOST_FOREIGN = 0.5
LEAST_FOREIGN = 0.02

Cause = tuple[float, str]
"""The probability of the assay if the cause is true, and the cause in words."""


def agreement(evidence: Evidence, book: Book, library: Library) -> Agreement:
    """The newest assays against what is expected of their sample without them."""
    name = evidence.newest_assayed
    if not name:
        return NOT_COMPARED
    if evidence.crops_from in ("farm", "library"):
        text = f"Nothing of bin {evidence.bin.bin} was sorted, so there is nothing to compare the assay with."
        return replace(NOT_COMPARED, sample=name, sentence=text)
    problem, start = evidence.problem, _expected_shares(evidence.problem, name)
    assays = assays_of(problem, name)
    surprise = _surprise(problem, start, assays)
    chi_square, degrees = surprise.chi_square, len(surprise.difference)
    p_value = chi_square_tail(chi_square, degrees)
    disagree = p_value < CLEARLY
    causes = _causes(evidence, name, start, assays, surprise, book, library) if disagree else ()
    return Agreement(
        chi_square,
        degrees,
        p_value,
        Accord.DISAGREE if disagree else Accord.AGREE,
        name,
        _sentence(evidence, name, assays, surprise, p_value, library),
        causes,
    )


def assays_of(problem: LeastSquaresProblem, name: str) -> Assays:
    """The laboratory figures of a sample that has some."""
    return given(next(r.assays for r in problem.readings if r.sample == name), f"the assays of sample {name}")


def one_figure_left_out(problem: LeastSquaresProblem, name: str) -> int | None:
    """The laboratory figure of a sample, by its place, without which the others fit best; None if they never do."""
    start = _expected_shares(problem, name)
    assays = assays_of(problem, name)
    if len(assays.values) < 2:
        return None
    chances = [_p_value(problem, start, others(assays, index)) for index in range(len(assays.values))]
    best = max(range(len(chances)), key=lambda index: chances[index])
    return best if chances[best] >= DOUBTFUL else None


def others(assays: Assays, index: int) -> Assays:
    """All laboratory figures but the one in a place."""
    keep = np.arange(len(assays.values)) != index
    return Assays(
        assays.picks[keep],
        assays.values[keep],
        assays.noise[np.ix_(keep, keep)],
        assays.as_fed[keep],
        assays.portion_g,
    )


def _expected_shares(problem: LeastSquaresProblem, name: str) -> Sorted:
    """The shares one expects in a sample without its assays: its own sort, else older sorts, else the prior."""
    index = next(i for i, r in enumerate(problem.readings) if r.sample == name)
    own = problem.readings[index].sort
    if own is not None:
        return own
    sorts = [(i, r.sort) for i, r in enumerate(problem.readings) if r.sort is not None]
    older = [item for item in sorts if item[0] < index]
    first, start = (older or sorts)[0] if sorts else (None, problem.prior)
    made = blend(problem, start.shares, np.diag(start.covariance))
    kernels = np.array([crop.kernel_mass_g for crop in problem.crops])
    belief = begin(problem, made, start)
    if first is not None:
        belief = widen(belief, problem.readings[first].uneven, made)
        for reading in problem.readings[first + 1 : index + 1]:
            belief = observe_reading(age(belief, reading.drift, made), reading, made, kernels, with_assays=False)
    belief = widen(belief, problem.readings[index].uneven, made)
    return Sorted(belief.shares, belief.share_covariance)


def _surprise(problem: LeastSquaresProblem, start: Sorted, assays: Assays) -> Surprise:
    """What the assays differ by from the shares and the lots, in the units they are given in."""
    used = [nutrient for nutrient, row in zip(problem.nutrients, assays.picks.T, strict=True) if row.any()]
    columns = [problem.nutrients.index(nutrient) for nutrient in used]
    small = replace(problem, nutrients=tuple(used))
    made = blend(small, start.shares, np.diag(start.covariance))
    kernels = np.array([crop.kernel_mass_g for crop in problem.crops])
    found = replace(assays, picks=assays.picks[:, columns])
    return observe_assays(begin(small, made, start), found, made, kernels)[1]


def _p_value(problem: LeastSquaresProblem, start: Sorted, assays: Assays) -> float:
    surprise = _surprise(problem, start, assays)
    return chi_square_tail(surprise.chi_square, len(surprise.difference))


def _sentence(
    evidence: Evidence, name: str, assays: Assays, surprise: Surprise, p_value: float, library: Library
) -> str:
    index = next(i for i, r in enumerate(evidence.problem.readings) if r.sample == name)
    expectation = (
        "hand sort and library"
        if evidence.problem.readings[index].sort is not None
        else "library and what is known of the crops"
    )
    if p_value >= DOUBTFUL:
        return f"The assay of sample {name} agrees with {expectation} ({p_words(p_value)}). {FEW_SLIPS_SHOW}"
    off = surprise.difference / np.sqrt(np.diag(surprise.covariance))
    worst = int(np.argmax(np.abs(off)))
    nutrient = evidence.problem.nutrients[int(np.argmax(assays.picks[worst]))]
    known = library.nutrients.get(nutrient)
    label = known.label if known else nutrient
    side = "higher" if off[worst] > 0 else "lower"
    detail = f"{label} is {side} than expected by {abs(off[worst]):.1f} times the error one expects"
    if p_value >= CLEARLY:
        return f"The assay of sample {name} is at the edge of what {expectation} allow ({p_words(p_value)}): {detail}."
    return (
        f"The assay of sample {name} does NOT agree with {expectation} ({p_words(p_value)}): {detail}. Sample, labels "
        "or basis are wrong; no ration is better than its sample, so clear this up before you feed by it."
    )


# Causes, each by what it would make of the difference ------------------------------------------------------------


def _causes(
    evidence: Evidence, name: str, start: Sorted, assays: Assays, surprise: Surprise, book: Book, library: Library
) -> tuple[str, ...]:
    """The slips that would bring sort and assay together, the best of each kind, likeliest first."""
    kinds = (
        _swapped_basis(evidence, name, start, library),
        _one_wrong_figure(evidence.problem, start, assays, library),
        _more_foreign_matter(evidence.problem, start, assays, surprise),
        _swapped_heaps(evidence.problem, start, assays),
        _mislabelled(evidence.problem, start, assays, book, library),
    )
    best = [max(found) for found in kinds if found]
    fitting = sorted((cause for cause in best if cause[0] >= DOUBTFUL), reverse=True)
    return tuple(f"{text} (then {p_words(p_value)})" for p_value, text in fitting)


def _swapped_basis(evidence: Evidence, name: str, start: Sorted, library: Library) -> list[Cause]:
    sample = next(row for row in evidence.samples if row.sample == name)
    rows = evidence.assays[name]
    used = [row for row in rows if row.nutrient in evidence.problem.nutrients]
    other = {"as_fed": "dry_matter", "dry_matter": "as_fed"}
    words = {"as_fed": "as fed", "dry_matter": "on dry matter"}
    causes = []
    for turned in [used, *([row] for row in used)] if len(used) > 1 else [used]:
        changed = tuple(replace(row, basis=other[row.basis]) if row in turned else row for row in rows)
        found = sample_assays(sample, changed, evidence.problem.nutrients, evidence.dry_matter, library)
        which = "all figures" if turned is used and len(used) > 1 else turned[0].nutrient.replace("_", " ")
        bases = " and ".join(sorted({words[row.basis] for row in turned}))
        text = f"The basis is swapped: {which} entered {bases} would fit on the other basis"
        causes.append((_p_value(evidence.problem, start, given(found, f"the assays of sample {name}")), text))
    return causes


def _one_wrong_figure(problem: LeastSquaresProblem, start: Sorted, assays: Assays, library: Library) -> list[Cause]:
    causes = []
    for index in range(len(assays.values)) if len(assays.values) > 1 else ():
        nutrient = problem.nutrients[int(np.argmax(assays.picks[index]))]
        label = library.nutrients[nutrient].label if nutrient in library.nutrients else nutrient
        text = f"One figure is wrong: without {label} the others fit; ask the laboratory about it"
        causes.append((_p_value(problem, start, others(assays, index)), text))
    return causes


def _more_foreign_matter(
    problem: LeastSquaresProblem, start: Sorted, assays: Assays, surprise: Surprise
) -> list[Cause]:
    """What if the laboratory's sample held more foreign matter than the sorted one: everything is thinned alike."""
    thinned = -(assays.values - surprise.difference)
    inverse = np.linalg.pinv(surprise.covariance, hermitian=True)
    steep = float(thinned @ inverse @ thinned)
    extra = float(thinned @ inverse @ surprise.difference) / steep if steep else 0.0
    if not LEAST_FOREIGN <= extra <= MOST_FOREIGN or len(assays.values) < 2:
        return []
    left = chi_square_tail(surprise.chi_square - extra**2 * steep, len(assays.values) - 1)
    return [(left, f"The laboratory's sample held about {100 * extra:.0f} % more foreign matter than the sorted one")]


def _swapped_heaps(problem: LeastSquaresProblem, start: Sorted, assays: Assays) -> list[Cause]:
    causes = []
    for one, other in combinations(range(len(problem.crops)), 2):
        if FOREIGN_MATTER in (problem.crops[one].crop, problem.crops[other].crop):
            continue
        order = np.arange(len(problem.crops))
        order[[one, other]] = other, one
        swapped = Sorted(start.shares[order], start.covariance[np.ix_(order, order)])
        text = f"Two heaps are swapped: {problem.crops[one].label} and {problem.crops[other].label}"
        causes.append((_p_value(problem, swapped, assays), text))
    return causes


def _mislabelled(
    problem: LeastSquaresProblem, start: Sorted, assays: Assays, book: Book, library: Library
) -> list[Cause]:
    """What if one heap is another crop that looks like it."""
    present = {crop.crop for crop in problem.crops}
    others = [known_crop(name, book, library) for name in library_grains(library) if name not in present]
    needed = {n for n, row in zip(problem.nutrients, assays.picks.T, strict=True) if row.any()}
    causes = []
    for index, crop in enumerate(problem.crops):
        for other in others:
            if crop.crop != FOREIGN_MATTER and _alike(crop, other) and needed <= set(other.values):
                changed = replace(problem, crops=(*problem.crops[:index], other, *problem.crops[index + 1 :]))
                text = f"A crop is mislabelled: what is called {crop.label} would fit as {other.label}"
                causes.append((_p_value(changed, start, assays), text))
    return causes


def _alike(one: Crop, other: Crop) -> bool:
    return 1 / LOOK_ALIKE <= one.kernel_mass_g / other.kernel_mass_g <= LOOK_ALIKE
