"""Crop shares and nutrients of a bin together, from hand sorts, assays and what is known of the crops' lots.

The state is (shares, nutrients on dry matter, dry matter of the bin), with one mean and one covariance. A hand sort
starts it: nutrients follow from the shares and the lots. Every assay, and every newer sort, is one linear-Gaussian
update (generalized least squares), which moves shares, nutrients and dry matter at once. Nutrients are a product of
shares and composition; they are made linear at the answer, and the answer is found again until it stays.

Shares are 0 to 1 as fed; nutrients in their unit on dry matter; dry matter in percent.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rationlp.bins.lots import Crop
from rationlp.bins.measure import crop_dry_matters
from rationlp.bins.sampling import KERNEL_MASS_CV, share_covariance
from rationlp.numbers import Flags, Floats

ROUNDS = 100
CALM_ROUNDS = 12
"""After so many rounds only half of each step is taken, so that a share at the edge of 0 does not go to and fro."""
SETTLED = 1e-12
"""Shares that move by less than this from one linearization to the next have settled."""


@dataclass(frozen=True, slots=True)
class Sorted:
    """Shares found by a hand sort of `sample_g` grams, in the order of the crops, and their covariance."""

    shares: Floats
    covariance: Floats
    sample_g: float = 0.0  # 0: nobody sorted anything


@dataclass(frozen=True, slots=True)
class Assays:
    """Laboratory figures of one sample.

    `picks` has a row per figure, with 1 under its nutrient. `values` are on dry matter with covariance `noise` where
    `as_fed` is false; where it is true they are as fed at the bin's own dry matter. `portion_g` is what the laboratory
    ground: its own share of kernels is not quite the bin's.
    """

    picks: Floats
    values: Floats
    noise: Floats
    as_fed: Flags
    portion_g: float


@dataclass(frozen=True, slots=True)
class SampleReading:
    """One sample: a hand sort, assays, or both.

    `drift` is the covariance by which shares may have moved since the sample before it; None: as much as they were
    unsure. `uneven` is that by which the grain of its few probes may differ from the bin's.
    """

    sample: str
    sort: Sorted | None
    assays: Assays | None
    drift: Floats | None = None
    uneven: Floats | None = None


@dataclass(frozen=True, slots=True)
class LeastSquaresProblem:
    """A bin as a least-squares problem: its crops, the nutrients asked for, its dry matter, its samples (oldest first).

    `prior` are the shares to start from where nothing was sorted.
    """

    crops: tuple[Crop, ...]
    nutrients: tuple[str, ...]
    dry_matter_pct: float
    dry_matter_sd: float
    readings: tuple[SampleReading, ...]
    prior: Sorted


@dataclass(frozen=True, slots=True)
class Blend:
    """Nutrients of the bin as a linear function of the shares, at `shares`: level + slopes (f - shares) + lots.

    `nutrients` and `dry_matter_pct` are where their product, a nutrient as fed, is made linear.
    """

    shares: Floats
    level: Floats
    slopes: Floats
    lots: Floats
    nutrients: Floats
    dry_matter_pct: float


@dataclass(frozen=True, slots=True)
class Belief:
    """Mean and covariance of (shares, nutrients, dry matter)."""

    mean: Floats
    covariance: Floats
    crops: int

    @property
    def shares(self) -> Floats:
        return self.mean[: self.crops]

    @property
    def nutrients(self) -> Floats:
        return self.mean[self.crops : -1]

    @property
    def dry_matter_pct(self) -> float:
        return float(self.mean[-1])

    @property
    def share_covariance(self) -> Floats:
        return self.covariance[: self.crops, : self.crops]


@dataclass(frozen=True, slots=True)
class Surprise:
    """What an observation differs from what was expected, and the covariance that difference should have."""

    difference: Floats
    covariance: Floats

    @property
    def chi_square(self) -> float:
        """difference' covariance^-1 difference."""
        return float(self.difference @ np.linalg.lstsq(self.covariance, self.difference, rcond=None)[0])


def sorted_shares(masses_g: Mapping[str, float], crops: Sequence[Crop]) -> Sorted:
    """The shares of a hand sort and their covariance; a heap of nothing may still be one kernel of its crop."""
    grams = np.array([masses_g.get(crop.crop, 0.0) for crop in crops])
    total = float(grams.sum())
    kernels = np.array([crop.kernel_mass_g for crop in crops])
    likely = np.maximum(grams, kernels)
    likely = likely / likely.sum()
    return Sorted(grams / total, share_covariance(likely, kernels, total, KERNEL_MASS_CV), total)


def blend(
    problem: LeastSquaresProblem,
    shares: Floats,
    share_variance: Floats,
    near: Belief | None = None,
    spreads: Sequence[Floats] | None = None,
) -> Blend:
    """The blend made linear at `shares` (as fed), with the covariance its lots leave.

    `near` is the last answer; `spreads` are the covariances of the crops' lots, if they are at hand.

    n(f) = sum f_s d_s c_s / D, with the dry matter d_s of each crop as moisture.crop_dry_matters has it: 100 - k m_s,
    m_s the crop's moisture in tables and k such that together they have the bin's dry matter D. Lots count with the
    expected square of the share: its square and its variance.
    """
    dry, whole = blend_dry_matters(problem, shares), problem.dry_matter_pct
    contents = np.array([[crop.values[n] for crop in problem.crops] for n in problem.nutrients]).reshape(
        -1, len(shares)
    )
    level = contents @ (shares * dry) / whole
    moist = 100 - dry
    wet = float(shares @ moist)
    of_moisture = contents @ (shares * moist) / wet if wet else np.zeros(len(level))
    slopes = (contents * dry + np.outer(of_moisture, moist)) / whole
    slopes -= (slopes @ shares)[:, None]
    lots = np.zeros((len(problem.nutrients),) * 2)
    weights = (shares**2 + share_variance) * (dry / whole) ** 2
    for weight, spread in zip(weights, spreads or lot_covariances(problem), strict=True):
        lots += weight * spread
    if near is None:
        return Blend(shares, level, slopes, lots, level, whole)
    return Blend(shares, level, slopes, lots, near.nutrients, near.dry_matter_pct)


def lot_covariances(problem: LeastSquaresProblem) -> list[Floats]:
    """Covariance of the nutrients between lots of each crop."""
    return [(loadings := crop.loadings(problem.nutrients)) @ loadings.T for crop in problem.crops]


def blend_dry_matters(problem: LeastSquaresProblem, shares: Floats) -> Floats:
    """Dry matter of each crop in the bin [%]."""
    named = {crop.crop: float(share) for crop, share in zip(problem.crops, shares, strict=True)}
    table = {crop.crop: crop.dry_matter_pct for crop in problem.crops}
    return np.array(list(crop_dry_matters(named, table, problem.dry_matter_pct).values()))


def begin(problem: LeastSquaresProblem, made: Blend, start: Sorted) -> Belief:
    """What shares with a covariance say of shares, nutrients and dry matter."""
    count, size = len(start.shares), len(made.level)
    covariance = np.zeros((count + size + 1,) * 2)
    through = np.vstack([np.eye(count), made.slopes])
    covariance[:-1, :-1] = through @ start.covariance @ through.T
    covariance[count:-1, count:-1] += made.lots
    covariance[-1, -1] = problem.dry_matter_sd**2
    nutrients = made.level + made.slopes @ (start.shares - made.shares)
    return Belief(np.concatenate([start.shares, nutrients, [problem.dry_matter_pct]]), covariance, count)


def observe(belief: Belief, picks: Floats, values: Floats, noise: Floats) -> tuple[Belief, Surprise]:
    """The generalized least-squares update by `values` = `picks` state + noise; noise and state may be singular."""
    surprise = Surprise(values - picks @ belief.mean, picks @ belief.covariance @ picks.T + noise)
    crossed = belief.covariance @ picks.T
    gain = np.linalg.lstsq(surprise.covariance, crossed.T, rcond=1e-13)[0].T
    covariance = belief.covariance - gain @ crossed.T
    return replace(
        belief, mean=belief.mean + gain @ surprise.difference, covariance=(covariance + covariance.T) / 2
    ), surprise


def observe_assays(belief: Belief, assays: Assays, made: Blend, kernels_g: Floats) -> tuple[Belief, Surprise]:
    """Laboratory figures beside what is believed of their sample."""
    return observe(belief, *_assay_rows(belief, assays, made, kernels_g))


def _assay_rows(belief: Belief, assays: Assays, made: Blend, kernels_g: Floats) -> tuple[Floats, Floats, Floats]:
    """Rows, values and noise of laboratory figures; an as-fed figure speaks of nutrient and dry matter at once.

    As fed, y = n D / 100 is made linear where `made` says; the constant of that line goes to the left side.
    """
    near = assays.picks @ made.nutrients
    scale = np.where(assays.as_fed, made.dry_matter_pct / 100, 1.0)
    rows = np.zeros((len(assays.values), len(belief.mean)))
    rows[:, belief.crops : -1] = assays.picks * scale[:, None]
    rows[:, -1] = np.where(assays.as_fed, near / 100, 0.0)
    values = assays.values + np.where(assays.as_fed, near * made.dry_matter_pct / 100, 0.0)
    through = (assays.picks @ made.slopes) * scale[:, None]
    likely = np.clip(made.shares, 0, 1)
    portion = share_covariance(likely / likely.sum(), kernels_g, assays.portion_g, KERNEL_MASS_CV)
    return rows, values, assays.noise + through @ portion @ through.T


def observe_reading(
    belief: Belief, reading: SampleReading, made: Blend, kernels_g: Floats, with_assays: bool = True
) -> Belief:
    """A newer sample beside what is believed of the bin.

    What its probes hold differs from the bin by one draw of `uneven`, which sort and laboratory see alike.
    """
    if not with_assays or reading.assays is None:
        rows, values, noise = np.zeros((0, len(belief.mean))), np.zeros(0), np.zeros((0, 0))
    else:
        rows, values, noise = _assay_rows(belief, reading.assays, made, kernels_g)
    if reading.sort is not None:
        shares = np.eye(belief.crops, len(belief.mean))
        rows, values = np.vstack([shares, rows]), np.concatenate([reading.sort.shares, values])
        own, noise = noise, np.zeros((len(values),) * 2)
        noise[: belief.crops, : belief.crops] = reading.sort.covariance
        noise[belief.crops :, belief.crops :] = own
    if reading.uneven is not None:
        through = rows @ _follow_shares(made)
        noise = noise + through @ reading.uneven @ through.T
    return observe(belief, rows, values, noise)[0] if len(values) else belief


def _follow_shares(made: Blend) -> Floats:
    """How the state moves with the shares: the shares themselves, nutrients by their slopes, dry matter not."""
    count = len(made.shares)
    return np.vstack([np.eye(count), made.slopes, np.zeros((1, count))])


def widen(belief: Belief, by: Floats | None, made: Blend) -> Belief:
    """The same belief of shares that may differ by a covariance, and of nutrients that follow them."""
    if by is None:
        return belief
    through = _follow_shares(made)
    return replace(belief, covariance=belief.covariance + through @ by @ through.T)


def age(belief: Belief, drift: Floats | None, made: Blend) -> Belief:
    """The same belief some time later: shares may have moved by `drift`, and nutrients with them."""
    return widen(belief, belief.share_covariance if drift is None else drift, made)


def filter_readings(problem: LeastSquaresProblem, made: Blend, with_assays: bool = True) -> Belief:
    """All readings, oldest first, at one linearization, before shares are held within 0 and 1."""
    kernels = np.array([crop.kernel_mass_g for crop in problem.crops])
    first = next((i for i, reading in enumerate(problem.readings) if reading.sort is not None), None)
    belief = begin(problem, made, start_of(problem))
    if first is not None:  # the first sort is of its sample; the bin may differ from that
        reading = problem.readings[first]
        belief = observe_reading(belief, replace(reading, sort=None, uneven=None), made, kernels, with_assays)
        belief = widen(belief, reading.uneven, made)
    for index, reading in enumerate(problem.readings):
        if index and (first is None or index > first):
            belief = age(belief, reading.drift, made)
        if index != first:
            belief = observe_reading(belief, reading, made, kernels, with_assays)
    return belief


def start_of(problem: LeastSquaresProblem) -> Sorted:
    """The oldest hand sort, or what is known of the shares without one."""
    return next((reading.sort for reading in problem.readings if reading.sort is not None), problem.prior)


def solve(problem: LeastSquaresProblem, with_assays: bool = True) -> tuple[Belief, Blend]:
    """The joint estimate, shares within 0 and 1, and the blend it was made linear at."""
    start = next((r.sort for r in reversed(problem.readings) if r.sort is not None), problem.prior)
    shares, variance, near, spreads = start.shares, np.diag(start.covariance), None, lot_covariances(problem)
    for turn in range(ROUNDS):
        made = blend(problem, shares, variance, near, spreads)
        belief = near = hold_in_simplex(filter_readings(problem, made, with_assays))
        moved = float(np.max(np.abs(belief.shares - shares)))
        step = 1.0 if turn < CALM_ROUNDS else 0.5
        shares = shares + step * (belief.shares - shares)
        variance = variance + step * (np.clip(np.diag(belief.share_covariance), 0, None) - variance)
        if moved < SETTLED:
            break
    return belief, made


def hold_in_simplex(belief: Belief) -> Belief:
    """The most likely state with no share below 0; the covariance stays, on the safe side.

    Minimizes (x - mean)' V^-1 (x - mean) over shares >= 0 by an active set: with the crops of set A held at 0 the
    answer is mean - V[:, A] V[A, A]^-1 mean[A], and the multipliers of A must not be negative. Sums stay, as V knows
    them.
    """
    held: list[int] = []
    mean = belief.mean
    for _ in range(4 * belief.crops):
        multipliers: Floats = np.zeros(0)
        if held:
            inner = belief.covariance[np.ix_(held, held)]
            multipliers = -np.linalg.lstsq(inner, belief.mean[held], rcond=None)[0].astype(np.float64)
            mean = belief.mean + belief.covariance[:, held] @ multipliers
            mean[held] = 0.0
        else:
            mean = belief.mean
        lowest = int(np.argmin(mean[: belief.crops]))
        if mean[lowest] < -SETTLED:
            held.append(lowest)
        elif len(multipliers) and multipliers.min() < -SETTLED:
            held.pop(int(np.argmin(multipliers)))
        else:
            return replace(belief, mean=mean)
    raise ArithmeticError("the shares found no place within 0 and 1")
