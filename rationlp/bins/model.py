"""What is said of a bin: shares 0 to 1 by mass, nutrients in their units, as fed; sd is one standard deviation."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import TYPE_CHECKING

from rationlp.numbers import Floats
from rationlp.reasons import Reason

if TYPE_CHECKING:
    from rationlp.bins.toxins import Content


class EvidenceKind(StrEnum):
    """What an estimate of a bin rests on, beside the library."""

    BOTH = "sort and assay"
    SORT = "sort"
    ASSAY = "assay"
    NONE = "none"


class Accord(StrEnum):
    """Whether an assay is what one expects."""

    AGREE = "agree"
    DISAGREE = "disagree"
    NOT_COMPARED = "not compared"


class Gravity(StrEnum):
    """How much a finding matters."""

    DANGER = "danger"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class CropShare:
    """Share of a crop in the bin, 0 to 1 by mass; `sorted_share` is what the newest hand sort found, if any.

    `at_most` is what it is not above 19 times in 20, also where the sort found none of it.
    """

    crop: str
    label: str
    share: float
    sorted_share: float | None
    sd: float = 0.0
    sorted_sd: float | None = None
    dry_matter_pct: float | None = None
    at_most: float = 0.0


@dataclass(frozen=True, slots=True)
class NutrientValue:
    """A nutrient of the bin as fed, and whether a laboratory or the library says so.

    `from_sort` and `from_sort_sd` are what hand sort and library say without the assay; `assay` and `assay_sd` the
    laboratory's own figure; `assay_weight` how much of the uncertainty about the sample the assays took away, 0 to 1.
    """

    nutrient: str
    label: str
    unit: str
    value: float
    origin: str  # assay, library, both
    sd: float = 0.0
    from_sort: float | None = None
    from_sort_sd: float | None = None
    assay: float | None = None
    assay_sd: float | None = None
    assay_weight: float = 0.0


@dataclass(frozen=True, slots=True)
class Agreement:
    """Whether the assay is what hand sort and library lead one to expect.

    `p_value` is None where there was nothing to compare, and `sentence` says what is missing.
    """

    chi_square: float
    degrees: int
    p_value: float | None
    verdict: Accord
    sample: str
    sentence: str
    causes: tuple[str, ...] = ()


NOT_COMPARED = Agreement(0.0, 0, None, Accord.NOT_COMPARED, "", "There is no assay to compare with the hand sort.")


@dataclass(frozen=True, slots=True)
class ShareDrift:
    """How far a crop's share moved from one sample to the next, and the standard deviation of chance."""

    crop: str
    label: str
    change: float
    sd: float


@dataclass(frozen=True, slots=True)
class Drift:
    """Two hand sorts of one bin compared; `excess` is the variance of the drift, in units of what chance gives."""

    older: str
    newer: str
    chi_square: float
    degrees: int
    p_value: float
    more_than_chance: bool
    excess: float
    changes: tuple[ShareDrift, ...]
    sentence: str


IN_THE_GRAIN = ("toxin", "grain")
"""The kinds of findings that tell of what lies in the bin."""


@dataclass(frozen=True, slots=True)
class BinFinding:
    """Something to know before the bin is used; `source` says who says so."""

    kind: str  # agreement, drift, evidence, moisture, toxin, grain, people, book
    severity: Gravity
    text: str
    source: str = ""


@dataclass(frozen=True, slots=True, repr=False)
class BinEstimate:
    """A bin as it stands in the rations; `values` as fed, by nutrient, coefficients included.

    `covariance` is that of the nutrients in `nutrient_index`, as fed, in their units: with the share of the bin in a
    mix it gives the variance of any nutrient of the mix. `evidence` says what the estimate rests on. `contaminants` are
    those of the bin, sums and parts of sums among them; `reasons` count when grain of the bin is in a mix.
    """

    bin: str
    label: str
    tonnes: float | None
    sample: str
    taken_on: date | None
    dry_matter_pct: float
    moisture_from: str
    crops: tuple[CropShare, ...]
    values: Mapping[str, float]
    nutrients: tuple[NutrientValue, ...]
    notices: tuple[BinFinding, ...] = ()
    reasons: tuple[Reason, ...] = ()  # for the verdict on every mix with grain of this bin
    dry_matter_sd: float = 0.0
    tonnes_sd: float | None = None
    tonnes_from: str = ""
    evidence: EvidenceKind = EvidenceKind.SORT
    samples: tuple[str, ...] = ()
    agreement: Agreement = NOT_COMPARED
    drifts: tuple[Drift, ...] = ()
    nutrient_index: tuple[str, ...] = ()
    covariance: Floats | None = field(default=None, compare=False)
    contaminants: Mapping[str, Content] = field(default_factory=dict)

    def __repr__(self) -> str:
        held = ", ".join(f"{crop} {100 * share:.1f} %" for crop, share in self.shares.items())
        return f"<Bin {self.bin}, sample {self.sample}: {held}>"

    @property
    def findings(self) -> tuple[str, ...]:
        """The findings as sentences, dangers first."""
        return tuple(finding.text for finding in self.notices_by_weight)

    @property
    def notices_by_weight(self) -> tuple[BinFinding, ...]:
        """The findings, dangers first."""
        rank = list(Gravity)
        return tuple(sorted(self.notices, key=lambda finding: rank.index(finding.severity)))

    @property
    def harmful(self) -> bool:
        """Whether a danger lies in the grain itself: a toxin above its limit, a poisonous seed, a hold, a note of it;
        not one of how well it is known or how it keeps."""
        return any(found.severity is Gravity.DANGER and found.kind in IN_THE_GRAIN for found in self.notices)

    def sd(self, nutrient: str) -> float:
        """Standard deviation of a nutrient as fed, in its unit; 0 where it is not known."""
        if self.covariance is None or nutrient not in self.nutrient_index:
            return 0.0
        at = self.nutrient_index.index(nutrient)
        return math.sqrt(float(self.covariance[at, at]))

    @property
    def shares(self) -> dict[str, float]:
        """Share of each crop that is in the bin."""
        return {row.crop: row.share for row in self.crops if row.share > 0}

    def share_of(self, crop: str) -> float:
        """Share of a crop, 0 if it is not in the bin."""
        return next((row.share for row in self.crops if row.crop == crop), 0.0)
