"""The dry matter of a bin: what a meter and the oven say of one grain that may have dried or drawn water in between.

The moisture in the book is a meter's, of no known day; an oven figure is of the day of its sample. Each is an
observation of the same dry matter, which drifts with time as a random walk, and they are weighed by generalized least
squares. Where they contradict each other, one variance is added to all of them until they no longer do, so that the
answer lies between them and its spread reaches both.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from rationlp.bins.chance import CLEARLY, chi_square_tail
from rationlp.bins.sampling import lab_sd
from rationlp.book.records import Assay, Bin, Sample
from rationlp.library.read import Library
from rationlp.numbers import Floats

DRY_MATTER = "dry_matter"
METER = "moisture of the bin"
DRIFT_VARIANCE_PER_DAY = 0.5**2 / 90
"""How far dry matter moves in store, percent squared: 0.5 points in three months (a judgement; on nine farms moisture
did not vary markedly in one to ten months: ahdb_instore, which gives no figure)."""
UNKNOWN_DAYS = 90
"""Days taken to lie between two figures where the day of one of them is not known (a judgement)."""
LARGEST_SD = 100.0
STEPS = 60


@dataclass(frozen=True, slots=True)
class DryMatterReading:
    """A figure of dry matter [%] with its standard deviation, who says so, and the day, where known."""

    pct: float
    sd: float
    source: str
    taken_on: date | None = None
    sample: str = ""


@dataclass(frozen=True, slots=True)
class DryMatter:
    """Dry matter of the bin [%] on the day of its newest sample, and who says so.

    `of_sample` has that of the samples of other days that have an oven figure of their own (of all of them where
    readings contradict each other), `moved_sd` how far the others' may be from the bin's. `p_value` says how likely the
    readings are to differ so far by chance; 1 with fewer than two.
    """

    pct: float
    sd: float
    source: str
    readings: tuple[DryMatterReading, ...] = ()
    p_value: float = 1.0
    of_sample: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    moved_sd: Mapping[str, float] = field(default_factory=dict)

    @property
    def contradictory(self) -> bool:
        """Whether meter and oven, or two ovens, differ by more than chance and drift."""
        return self.p_value < CLEARLY

    def of(self, sample: str) -> float:
        """The dry matter [%] that a sample had."""
        return self.of_sample[sample][0] if sample in self.of_sample else self.pct


def dry_matter(
    bin_: Bin,
    samples: Sequence[Sample],
    assays: Mapping[str, tuple[Assay, ...]],
    table: tuple[float, float],
    library: Library,
) -> DryMatter:
    """The bin's dry matter by all that was measured of it, else `table`, the crops' in the library with its sd.

    `samples` oldest first.
    """
    newest = samples[-1] if samples else None
    moved = {row.sample: (DRIFT_VARIANCE_PER_DAY * _days(row, newest)) ** 0.5 for row in samples}
    readings = _readings(bin_, samples, assays, library)
    if not readings:
        return DryMatter(*table, "library", moved_sd=moved)
    p_value = chi_square_tail(_chi_square(readings, 0.0), len(readings) - 1)
    extra = _variance_between(readings) if p_value < CLEARLY else 0.0
    pct, variance = weighed(readings, newest, extra)
    return DryMatter(
        pct,
        variance**0.5,
        " and ".join(reading.source for reading in readings),
        readings,
        p_value,
        _of_samples(readings, samples, moved, contradictory=bool(extra)),
        moved,
    )


def _of_samples(
    readings: Sequence[DryMatterReading],
    samples: Sequence[Sample],
    moved_sd: Mapping[str, float],
    *,
    contradictory: bool,
) -> dict[str, tuple[float, float]]:
    """The dry matter of samples of other days with an oven figure of their own.

    Where the readings contradict each other, each sample is taken by its own oven, and only the bin is in doubt.
    """
    own = {reading.sample: reading for reading in readings if reading.sample}
    if contradictory:
        return {sample: (reading.pct, reading.sd) for sample, reading in own.items()}
    found = {row.sample: weighed(readings, row) for row in samples if row.sample in own and moved_sd[row.sample]}
    return {sample: (pct, variance**0.5) for sample, (pct, variance) in found.items()}


def _readings(
    bin_: Bin, samples: Sequence[Sample], assays: Mapping[str, tuple[Assay, ...]], library: Library
) -> tuple[DryMatterReading, ...]:
    found = []
    for sample in samples:
        own = own_dry_matter(assays[sample.sample], library)
        if own is not None:
            source = f"assay of sample {sample.sample}"
            found.append(DryMatterReading(*own, source, sample.taken_on, sample.sample))
    if bin_.moisture_pct is not None:
        sd, _ = lab_sd(DRY_MATTER, 100 - bin_.moisture_pct, "%", "meter", library)
        found.append(DryMatterReading(100 - bin_.moisture_pct, sd, METER))
    return tuple(found)


def own_dry_matter(rows: tuple[Assay, ...], library: Library) -> tuple[float, float] | None:
    """Mean of a sample's dry matter assays [%] and its standard deviation, or None without one."""
    found = [row for row in rows if row.nutrient == DRY_MATTER]
    if not found:
        return None
    variance = sum(assay_sd(row, library) ** 2 for row in found) / len(found) ** 2
    return sum(row.value for row in found) / len(found), variance**0.5


def assay_sd(row: Assay, library: Library) -> float:
    """Standard deviation of an assay in its unit and basis: the laboratory's own, else the published one."""
    return row.lab_sd if row.lab_sd is not None else lab_sd(row.nutrient, row.value, row.unit, row.method, library)[0]


def weighed(
    readings: Sequence[DryMatterReading], at: Sample | DryMatterReading | None, extra_variance: float = 0.0
) -> tuple[float, float]:
    """Dry matter [%] when a sample was taken and its variance, by generalized least squares."""
    noise = _noise(readings, at) + extra_variance * np.eye(len(readings))
    weights = np.linalg.solve(noise, np.ones(len(readings)))
    variance = 1 / float(weights.sum())
    return variance * float(weights @ [reading.pct for reading in readings]), variance


def _days(one: Sample | DryMatterReading, other: Sample | DryMatterReading | None) -> int:
    """Days between a sample and what was read; UNKNOWN_DAYS where one of them is not known."""
    if other is None or one.sample == other.sample:
        return 0
    if one.taken_on is None or other.taken_on is None:
        return UNKNOWN_DAYS
    return abs((one.taken_on - other.taken_on).days)


def _noise(readings: Sequence[DryMatterReading], at: Sample | DryMatterReading | None) -> Floats:
    """Covariance of the readings about the dry matter of a sample: errors, and a random walk from its day to theirs."""
    gone = [DRIFT_VARIANCE_PER_DAY * _days(reading, at) for reading in readings]
    noise = np.diag([reading.sd**2 + moved for reading, moved in zip(readings, gone, strict=True)])
    for i, one in enumerate(readings):
        for j, other in enumerate(readings[:i]):
            if at and at.taken_on and one.taken_on and other.taken_on:
                same_side = (one.taken_on > at.taken_on) == (other.taken_on > at.taken_on)
                noise[i, j] = noise[j, i] = min(gone[i], gone[j]) if same_side else 0.0
    return noise


def _chi_square(readings: Sequence[DryMatterReading], extra_variance: float) -> float:
    """How far the readings are from each other, with so much variance added to each."""
    at = next((reading for reading in reversed(readings) if reading.sample), None)
    noise = _noise(readings, at) + extra_variance * np.eye(len(readings))
    off = np.array([reading.pct for reading in readings]) - weighed(readings, at, extra_variance)[0]
    return float(off @ np.linalg.solve(noise, off))


def _variance_between(readings: Sequence[DryMatterReading]) -> float:
    """The variance that makes chi-square one for each degree of freedom.

    Source: memory, R. C. Paule and J. Mandel, Consensus values and weighting factors, Journal of Research of the
    National Bureau of Standards 87, 1982.
    """
    low, high = 0.0, LARGEST_SD**2
    for _ in range(STEPS):
        middle = (low + high) / 2
        if _chi_square(readings, middle) > len(readings) - 1:
            low = middle
        else:
            high = middle
    return high
