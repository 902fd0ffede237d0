"""What moved in a bin from one sample to the next, and whether that is more than chance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from rationlp.bins import BinEstimate, NutrientValue, estimate_bin
from rationlp.book.lookup import samples_named
from rationlp.book.records import Book, Sample
from rationlp.errors import Problem, RequestError, given
from rationlp.farm import Farm
from rationlp.figures import FeedFigures

CLEARLY = 0.01
"""Below this probability a difference is more than chance, as rationlp.bins says of samples."""


@dataclass(frozen=True, slots=True)
class Moved:
    """A crop's share (0 to 1) or a nutrient as fed, in both samples taken by themselves.

    `sd` is the standard deviation of the difference if nothing moved, `p_value` how often chance alone would part two
    samples that far.
    """

    kind: str  # crop, nutrient
    name: str
    label: str
    unit: str
    before: float
    after: float
    sd: float

    @property
    def p_value(self) -> float:
        """How often chance alone moves it so far."""
        apart = abs(self.after - self.before)
        return min(2 * (1 - NormalDist().cdf(apart / self.sd)), 1.0) if self.sd > 0 else float(apart == 0)

    @property
    def change(self) -> float:
        return self.after - self.before

    @property
    def more_than_chance(self) -> bool:
        return self.p_value < CLEARLY


@dataclass(frozen=True, slots=True)
class Move:
    """A bin from one sample to the next; `sentence` speaks of all crops together, empty without two hand sorts."""

    bin: str
    before: Sample
    after: Sample
    lines: tuple[Moved, ...]
    sentence: str
    more_than_chance: bool


def two_samples(book: Book, before: str, after: str) -> tuple[Sample, Sample]:
    """The two samples asked for. Raises RequestError unless they are of one bin, with something known of each."""
    known = {row.sample: row for row in book.samples}
    problems: list[Problem] = []
    found = []
    for option, name in (("before", before), ("after", after)):
        try:
            found += samples_named([name], book, option)
        except RequestError as error:
            problems += error.problems
    if not problems:
        before, after = found
    if not problems and before == after:
        problems.append(Problem("error", "after", "", repr(after), "another sample than before", "Name the new one."))
    if not problems and known[before].bin != known[after].bin:
        problems.append(
            Problem(
                "error",
                "after",
                "",
                f"{after!r}, a sample of bin {known[after].bin!r}",
                f"a sample of bin {known[before].bin!r}, as {before!r} is",
                "Compare two samples of one bin.",
            )
        )
    speaking = {row.sample for row in book.sorted} | {row.sample for row in book.assays}
    for option, name in (("before", before), ("after", after)):
        if not problems and name not in speaking:
            problems.append(
                Problem(
                    "error",
                    option,
                    "",
                    f"{name!r}, of which nothing is known",
                    "a sample with rows in 'sorted' or 'assays'",
                    "Enter its hand sort or its laboratory figures.",
                )
            )
    if problems:
        raise RequestError(problems)
    return known[before], known[after]


def newest_pair(book: Book) -> tuple[str, str]:
    """The two newest samples of the one bin that has several: the older, then the newer.

    Raises RequestError where no bin has two, or more than one has.
    """
    by_bin = [book.samples_of(bin_id) for bin_id in dict.fromkeys(row.bin for row in book.samples)]
    pairs = [(rows[-2].sample, rows[-1].sample) for rows in by_bin if len(rows) > 1]
    if len(pairs) == 1:
        return pairs[0]
    words = " or ".join(f"--before {before} --after {after}" for before, after in pairs)
    found = "more than one bin with two samples" if pairs else "no bin with two samples"
    do = f"Write {words}." if pairs else "Enter the new sample first."
    raise RequestError([Problem("error", "before", "", found, "two samples of one bin", do)])


def _alone(sample: Sample, farm: Farm) -> BinEstimate:
    """The bin from one sample alone: the bin as the farm knows it, where the farm knows no other sample of it."""
    if [row.sample for row in farm.book.samples if row.bin == sample.bin] == [sample.sample]:
        return farm.bin(sample.bin)
    return estimate_bin(sample.bin, farm.book, farm.library, sample.sample)


def what_moved(farm: Farm, before: Sample, after: Sample, then: Farm | None = None) -> Move:
    """Crops and nutrients of the two samples side by side, those that moved most clearly first.

    `then` is the farm as it stood at the sample before, if it is at hand.
    """
    old, new = _alone(before, then or farm), _alone(after, farm)
    lines = [*_crops(old, new), *_nutrients(old, new, farm)]
    drift = next(
        (d for d in farm.bin(before.bin).drifts if (d.older, d.newer) == (before.sample, after.sample)),
        None,
    )
    return Move(
        before.bin,
        before,
        after,
        tuple(sorted(lines, key=lambda line: (line.kind, line.p_value))),
        drift.sentence if drift else "",
        drift.more_than_chance if drift else any(line.more_than_chance for line in lines),
    )


def _crops(old: BinEstimate, new: BinEstimate) -> list[Moved]:
    """Shares of the hand sorts; each sort's chance is its own."""
    first, second = ({crop.crop: crop for crop in estimate.crops} for estimate in (old, new))
    lines = []
    for crop in dict.fromkeys([*first, *second]):
        one, two = first.get(crop), second.get(crop)
        sd = sqrt((one.sd if one else 0.0) ** 2 + (two.sd if two else 0.0) ** 2)
        label = given(one or two, f"the share of {crop}").label
        before, after = (c.share if c else 0.0 for c in (one, two))
        lines.append(Moved("crop", crop, label, "%", before, after, sd))
    return lines


def _nutrients(old: BinEstimate, new: BinEstimate, farm: Farm) -> list[Moved]:
    """Nutrients known of both.

    What the laboratory measured is as unsure as the two estimates together. What follows from the shares alone moves
    with them: the crops' own figures are the same lots on both days, so that only the sorts' chance counts.
    """
    second = {line.nutrient: line for line in new.nutrients}
    crops = {crop.crop: farm.figures(crop.crop) for e in (old, new) for crop in e.crops}
    lines = []
    for line in old.nutrients:
        other = second.get(line.nutrient)
        if other is None:
            continue
        sd = sqrt(sum(_chance(n, e, crops) ** 2 for n, e in ((line, old), (other, new))))
        if sd > 0:
            lines.append(Moved("nutrient", line.nutrient, line.label, line.unit, line.value, other.value, sd))
    return lines


def _chance(line: NutrientValue, estimate: BinEstimate, crops: Mapping[str, FeedFigures]) -> float:
    """What chance does to this nutrient of this sample."""
    if line.origin != "library":
        return line.sd
    figures = {crop.crop: _figure(crops[crop.crop], line.nutrient, estimate) for crop in estimate.crops}
    return share_chance(line.value, {crop.crop: (crop.share, crop.sd) for crop in estimate.crops}, figures)


def share_chance(mean: float, shares: Mapping[str, tuple[float, float]], figures: Mapping[str, float]) -> float:
    """Standard deviation of sum(share x figure) for shares (share, sd) of a sample of kernels.

    The covariance of a multinomial, diag(f) - f f', with the count that each share's own sd stands for.
    """
    variance = sum(
        (figures[crop] - mean) ** 2 * sd**2 / (1 - share) for crop, (share, sd) in shares.items() if share < 1
    )
    return sqrt(variance)


def _figure(figures: FeedFigures, nutrient: str, estimate: BinEstimate) -> float:
    """A crop's figure at the bin's dry matter; foreign matter brings none."""
    value = figures.values.get(nutrient, 0.0)
    return value * estimate.dry_matter_pct / figures.dry_matter_pct if figures.dry_matter_pct else value
