"""What a bin is estimated from where hand sort and laboratory contradict each other.

Where one laboratory figure explains it, the bin is estimated without that figure; where none does, every uncertainty
grows by the factor at which the two agree (the ratio of R. T. Birge, The calculation of errors by the method of least
squares, Physical Review 40, 1932: all variances times one factor, so that the estimate stays and its spread grows).
Either way a nutritionist has to decide, and both answers are told.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rationlp.bins.agreement import FIRST_IN_HALF, assays_of, one_figure_left_out, others
from rationlp.bins.chance import DOUBTFUL, chi_square_tail
from rationlp.bins.evidence import Evidence
from rationlp.bins.joint import Belief, LeastSquaresProblem, solve
from rationlp.bins.model import Accord, Agreement
from rationlp.figures import nutrient_label
from rationlp.library.read import Library
from rationlp.numbers import figure
from rationlp.reasons import Kind, Reason, Severity
from rationlp.units import Z90

LARGEST_FACTOR = 1e6
STEPS = 60


@dataclass(frozen=True, slots=True)
class Reconciled:
    """The belief a bin is estimated by, and what is to be decided about it; no reason where all agrees."""

    belief: Belief
    reasons: tuple[Reason, ...] = ()


def reconciled(evidence: Evidence, found: Agreement, library: Library) -> Reconciled:
    """The joint estimate of a bin, without the figure that does not fit or with a spread that makes all fit."""
    belief, _ = solve(evidence.problem)
    if found.verdict is not Accord.DISAGREE:
        return Reconciled(belief)
    index = one_figure_left_out(evidence.problem, found.sample)
    cause = f" A cause to look into first ({FIRST_IN_HALF}): {found.causes[0]}." if found.causes else ""
    if index is None:
        factor = spread_factor(found)
        text = (
            f"Bin {evidence.bin.bin}: hand sort and laboratory of sample {found.sample} contradict each other and no "
            f"single figure explains it. Every ± is {figure(factor**0.5, 2)} times as wide until this is cleared up."
            f"{cause}"
        )
        reason = Reason(Kind.EVIDENCE, Severity.ASK, text, feed=evidence.bin.bin, source=f"sample {found.sample}")
        return Reconciled(replace(belief, covariance=belief.covariance * factor), (reason,))
    without, _ = solve(without_assay(evidence.problem, found.sample, index))
    return Reconciled(without, (_left_out(evidence, found, index, without, cause, library),))


def _left_out(
    evidence: Evidence, found: Agreement, index: int, without: Belief, cause: str, library: Library
) -> Reason:
    """The reason that names the figure left out, with both answers, as fed."""
    assays = assays_of(evidence.problem, found.sample)
    column = int(np.argmax(assays.picks[index]))
    nutrient = evidence.problem.nutrients[column]
    dry = without.dry_matter_pct / 100
    stated = float(assays.values[index]) * (1.0 if assays.as_fed[index] else dry)
    expected = float(without.nutrients[column]) * dry
    half = Z90 * float(without.covariance[without.crops + column, without.crops + column]) ** 0.5 * dry
    unit = library.units.get(nutrient, "")
    text = (
        f"Bin {evidence.bin.bin}: the laboratory of sample {found.sample} says {figure(stated)} {unit} of "
        f"{nutrient_label(nutrient, library)}, hand sort and the other figures say {figure(expected)} ± "
        f"{figure(half, 2)} {unit}. It is calculated without that figure until this is cleared up.{cause}"
    )
    return Reason(
        Kind.EVIDENCE,
        Severity.ASK,
        text,
        nutrient=nutrient,
        feed=evidence.bin.bin,
        unit=unit,
        value=stated,
        limit=expected,
        source=f"sample {found.sample}",
    )


def without_assay(problem: LeastSquaresProblem, sample: str, index: int) -> LeastSquaresProblem:
    """The problem without one laboratory figure of a sample."""
    readings = tuple(
        replace(reading, assays=others(assays_of(problem, sample), index)) if reading.sample == sample else reading
        for reading in problem.readings
    )
    return replace(problem, readings=readings)


def spread_factor(found: Agreement) -> float:
    """What every variance is multiplied by for sort and laboratory to agree: 1 or more."""
    low, high = 1.0, LARGEST_FACTOR
    for _ in range(STEPS):
        middle = (low * high) ** 0.5
        if chi_square_tail(found.chi_square / middle, found.degrees) >= DOUBTFUL:
            high = middle
        else:
            low = middle
    return high
