"""How much of a contaminant a feed holds: laboratory results weighed against each other, sums and their parts.

Two results that cannot both be right count by the higher one until it is explained which of them is wrong.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import log, sqrt
from statistics import fmean

from rationlp.bins.sampling import lab_sd
from rationlp.book.records import Assay, Book, OwnFigure, Sample
from rationlp.library.contaminant_law import contaminants_known, lowest_limit
from rationlp.library.read import Library
from rationlp.numbers import plain
from rationlp.reasons import Kind, Reason, Severity
from rationlp.units import Z90

DRY_MATTER = "dry_matter"
DISAGREE = 2.0
"""Standard deviations (of the logarithms) between two results above which they are not of one lot."""
NO_MATTER = 0.1
"""Results below this part of the lowest published limit are alike for feeding (a judgement)."""


@dataclass(frozen=True, slots=True)
class Content:
    """A contaminant of a feed as fed, in the library's unit, with its standard deviation and who says so."""

    nutrient: str
    value: float
    sd: float
    origin: str  # in words: sample n1, lot maize_1, own figure

    @property
    def upper(self) -> float:
        """The content on the safe side: 95 of 100 draws lie below it."""
        return self.value + Z90 * self.sd


@dataclass(frozen=True, slots=True)
class Contents:
    """The contaminants of a feed by nutrient, and what is to be asked about them.

    `measured` are those with a result of their own, or of all their parts; the others follow from sums and parts.
    """

    by_nutrient: Mapping[str, Content]
    measured: frozenset[str] = frozenset()
    reasons: tuple[Reason, ...] = ()


def settled(results: Sequence[Sequence[Content]], feed: str, label: str, library: Library) -> Contents:
    """One content a contaminant from the results of each sample or lot, oldest first, sums and parts among them.

    `feed` names the bin or offer, `label` says it to people.
    """
    found: dict[str, Content] = {}
    reasons: list[Reason] = []
    for nutrient in dict.fromkeys(row.nutrient for rows in results for row in rows):
        groups = [group for rows in results if (group := [row for row in rows if row.nutrient == nutrient])]
        content, other = _settled(groups, library)
        found[nutrient] = content
        if other is not None:
            reasons.append(_disagreement(content, other, feed, label, library))
    sums = (name for name in contaminants_known(library) if library.nutrients[name].sum_of)
    whole = {name for name in sums if set(library.nutrients[name].sum_of) <= set(found)}
    return Contents(with_sums(found, library), frozenset({*found, *whole}), tuple(reasons))


def with_sums(contents: Mapping[str, Content], library: Library) -> dict[str, Content]:
    """`contents` with every sum at least that of its known parts, and every unknown part at most what its sum leaves.

    T-2 toxin counts into T-2 + HT-2; where the laboratory gives the sum alone, either part may be all of it.
    """
    found = dict(contents)
    for nutrient in contaminants_known(library):
        parts = library.nutrients[nutrient].sum_of
        known = [contents[part] for part in parts if part in contents]
        if known:
            added = Content(
                nutrient,
                sum(part.value for part in known),
                sqrt(sum(part.sd**2 for part in known)),
                " and ".join(dict.fromkeys(part.origin for part in known)),
            )
            stated = contents.get(nutrient)
            found[nutrient] = added if stated is None or added.value > stated.value else stated
        if nutrient not in contents:
            continue
        left = max(contents[nutrient].value - sum(part.value for part in known), 0.0)
        for part in parts:
            if part not in contents:
                found[part] = replace(contents[nutrient], nutrient=part, value=left)
    return found


def sample_contents(
    rows: Iterable[Assay], dry_matter_pct: float, own_dry_matter_pct: float | None, origin: str, library: Library
) -> list[Content]:
    """A laboratory's results of contaminants as fed at `dry_matter_pct`, which the sample had at its own dry matter."""
    dry = own_dry_matter_pct or dry_matter_pct
    scale = {"as_fed": dry_matter_pct / dry, "dry_matter": dry_matter_pct / 100}
    return [
        Content(row.nutrient, row.value * scale[row.basis], result_sd(row, library) * scale[row.basis], origin)
        for row in rows
        if is_contaminant(row.nutrient, library)
    ]


def bin_contents(
    bin_id: str,
    samples: Sequence[Sample],
    dry_matter_pct: float,
    crops: Mapping[str, float],
    book: Book,
    library: Library,
) -> Contents:
    """The contaminants of a bin from its samples, oldest first; of one nobody assayed, what its crops bring by share.

    A certificate on own_feeds speaks for the crop wherever it lies, until the bin itself is assayed.
    """
    results = []
    for sample in samples:
        rows = [row for row in book.assays if row.sample == sample.sample]
        dry = [row.value for row in rows if row.nutrient == DRY_MATTER]
        own = fmean(dry) if dry else None
        results.append(sample_contents(rows, dry_matter_pct, own, f"sample {sample.sample}", library))
    assayed = {content.nutrient for rows in results for content in rows}
    brought = [row for row in _brought(crops, dry_matter_pct, book, library) if row.nutrient not in assayed]
    return settled([brought, *results], bin_id, f"bin {bin_id}", library)


def own_contents(feed: str, dry_matter_pct: float | None, book: Book, library: Library) -> list[Content]:
    """What a certificate on own_feeds says of a feed's contaminants, as fed."""
    found = []
    for row in book.own_feeds:
        if row.feed == feed and is_contaminant(row.nutrient, library):
            dry = row.basis == "dry_matter" and dry_matter_pct is not None
            times = (dry_matter_pct or 100.0) / 100 if dry else 1.0
            sd = row.sd if row.sd is not None else result_sd(row, library)
            found.append(Content(row.nutrient, row.value * times, sd * times, f"own figure of {feed}"))
    return found


def is_contaminant(nutrient: str, library: Library) -> bool:
    """Whether the library knows the nutrient as a toxin or another thing that does harm."""
    known = library.nutrients.get(nutrient)
    return known is not None and known.kind == "toxin"


def result_sd(row: Assay | OwnFigure, library: Library) -> float:
    """Standard deviation of one result in its unit and basis: its own, else the published one.

    A part without a published error has that of its sum.
    """
    if isinstance(row, Assay) and row.lab_sd is not None:
        return row.lab_sd
    name = row.nutrient
    if name not in library.lab_variation:
        name = next((s for s, n in library.nutrients.items() if name in n.sum_of and s in library.lab_variation), name)
    return lab_sd(name, row.value, row.unit, row.method if isinstance(row, Assay) else "", library)[0]


def _brought(crops: Mapping[str, float], dry_matter_pct: float, book: Book, library: Library) -> list[Content]:
    """What own figures of the crops bring into a bin, by share."""
    found: dict[str, Content] = {}
    for crop, share in crops.items():
        for row in own_contents(crop, dry_matter_pct, book, library):
            held = found.get(row.nutrient, Content(row.nutrient, 0.0, 0.0, row.origin))
            found[row.nutrient] = replace(held, value=held.value + share * row.value, sd=held.sd + share * row.sd)
    return list(found.values())


def _settled(groups: Sequence[Sequence[Content]], library: Library) -> tuple[Content, Content | None]:
    """The content that counts, and the one that disagrees with it, if any: the newest, or a higher one it contradicts.

    Results of one sample that agree are averaged.
    """
    means, apart = [], []
    for group in groups:
        highest, lowest = max(group, key=lambda row: row.value), min(group, key=lambda row: row.value)
        if _agree(highest, lowest, library):
            sd = sqrt(sum(row.sd**2 for row in group)) / len(group)
            means.append(replace(group[0], value=fmean(row.value for row in group), sd=sd))
        else:
            means.append(highest)
            apart.append((highest, lowest))
    newest = means[-1]
    rivals = [row for row in means[:-1] if not _agree(row, newest, library)]
    holds = max([newest, *rivals], key=lambda row: row.value)
    for highest, lowest in apart:
        if highest is holds:
            return holds, lowest
    return holds, newest if holds is not newest else min(rivals, key=lambda row: row.value, default=None)


def _agree(one: Content, other: Content, library: Library) -> bool:
    """Whether two results may be of one lot: their logarithms within the errors of both."""
    low, high = sorted((one, other), key=lambda row: row.value)
    floor = NO_MATTER * lowest_limit(one.nutrient, library)
    if high.value <= floor or high.value == low.value:
        return True
    bottom = max(low.value, floor)
    if bottom <= 0:
        return False
    spread = sqrt(_log_variance(high) + _log_variance(low))
    return log(high.value / bottom) <= DISAGREE * spread


def _log_variance(row: Content) -> float:
    """Variance of the logarithm of a result whose errors are in proportion to it (log-normal law)."""
    return log(1 + (row.sd / row.value) ** 2) if row.value else 0.0


def _disagreement(holds: Content, other: Content, feed: str, label: str, library: Library) -> Reason:
    nutrient = library.nutrients[holds.nutrient]
    same = " once more" if holds.origin == other.origin else ""
    return Reason(
        Kind.EVIDENCE,
        Severity.ASK,
        f"{nutrient.label} of {label}: {plain(holds.value)} {nutrient.unit} by {holds.origin}, but "
        f"{plain(other.value)} by {other.origin}{same}. The higher figure counts until it is known why: draw a new, "
        "larger sample from many probes and have it tested, then take the wrong result out of the book.",
        nutrient=holds.nutrient,
        feed=feed,
        unit=nutrient.unit,
        value=holds.value,
        limit=other.value,
        source="common practice",
    )
