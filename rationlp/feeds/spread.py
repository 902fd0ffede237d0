"""How unsure the figures of a candidate are: the covariance of its nutrients as fed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Protocol

import numpy as np

from rationlp.bins import BinEstimate
from rationlp.bins.lots import Crop, known_crop
from rationlp.book.records import Book
from rationlp.errors import given
from rationlp.figures import FeedFigures
from rationlp.library.equations import EquationError
from rationlp.library.read import Library
from rationlp.numbers import Floats

GROWN = frozenset(
    {
        "cereal",
        "pulse",
        "oilseed",
        "protein_meal",
        "grain_byproduct",
        "forage_meal",
        "animal_protein",
    }
)
"""Groups of feeds whose lots differ as a crop's do; minerals, amino acids and premixes are made to a figure."""


class Spread(Protocol):
    """Covariance of two nutrients of one candidate, as fed, in the product of their units."""

    def covariance_of(self, first: str, second: str) -> float: ...

    def variance_of(self, first: str, times: float, second: str) -> float:
        """Variance of the first nutrient less `times` the second; nothing where rounding would have it below that."""
        of = self.covariance_of
        return max(of(first, first) - 2 * times * of(first, second) + times**2 * of(second, second), 0.0)

    def matrix(self, names: tuple[str, ...]) -> Floats:
        """The covariance of these nutrients with one another; nothing where the candidate has no figure."""
        ...


class LaterSpread(Spread):
    """A spread that is worked out when it is first asked for: most feeds on offer never come into a mix."""

    def __init__(self, make: Callable[[], Spread]):
        self._make = make
        self._made: Spread | None = None
        self._matrices: dict[tuple[str, ...], Floats] = {}
        self._covariances: dict[tuple[str, str], float] = {}
        self._variances: dict[tuple[str, float, str], float] = {}

    @property
    def _spread(self) -> Spread:
        if self._made is None:
            self._made = self._make()
        return self._made

    def covariance_of(self, first: str, second: str) -> float:
        """Kept for each pair, as `matrix` is."""
        found = self._covariances.get((first, second))
        if found is None:
            found = self._covariances[first, second] = self._spread.covariance_of(first, second)
        return found

    def variance_of(self, first: str, times: float, second: str) -> float:
        """Kept as `covariance_of` is: the rations of a stage ask for the same."""
        key = first, times, second
        found = self._variances.get(key)
        if found is None:
            found = self._variances[key] = super().variance_of(first, times, second)
        return found

    def matrix(self, names: tuple[str, ...]) -> Floats:
        """Kept for each set of names: many rations ask for the same."""
        if names not in self._matrices:
            self._matrices[names] = self._spread.matrix(names)
        return self._matrices[names]


class FeedSpread(Spread):
    """A feed made to a figure, or one of the farm's own: each nutrient with its own sd, independent of the others.

    A digestible part is as unsure as the nutrient it is part of; the parts of a sum move together, which is the careful
    reading. A figure without an sd counts as sure.
    """

    def __init__(self, sds: Mapping[str, float]):
        self.sds = sds

    def covariance_of(self, first: str, second: str) -> float:
        return self.sds.get(first, 0.0) ** 2 if first == second else 0.0

    def matrix(self, names: tuple[str, ...]) -> Floats:
        return np.diag([self.sds.get(name, 0.0) ** 2 for name in names])


class LotSpread(Spread):
    """A bought crop, meal or milling product: its lots differ as those of a crop in a bin do (rationlp.bins.lots).

    Amino acids and energy move with the proximates. The farm's own sd comes first, then the library's, then that of the
    feed's group.
    """

    def __init__(self, lots: Crop):
        self.moves = lots.moves
        self.scale = (lots.dry_matter_pct / 100) ** 2

    def covariance_of(self, first: str, second: str) -> float:
        one, other = self.moves.get(first, {}), self.moves.get(second, {})
        return self.scale * sum(amount * other[cause] for cause, amount in one.items() if cause in other)

    def matrix(self, names: tuple[str, ...]) -> Floats:
        causes = {cause: j for j, cause in enumerate(dict.fromkeys(c for n in names for c in self.moves.get(n, ())))}
        moves = np.zeros((len(names), len(causes)))
        for i, name in enumerate(names):
            for cause, amount in self.moves.get(name, {}).items():
                moves[i, causes[cause]] = amount
        return self.scale * (moves @ moves.T)


class BinSpread(Spread):
    """A bin: its nutrients move together, as the sample, the laboratory and the crops' lots say."""

    def __init__(self, estimate: BinEstimate):
        self._covariance = estimate.covariance
        self.place = {nutrient: i for i, nutrient in enumerate(estimate.nutrient_index)}

    def covariance_of(self, first: str, second: str) -> float:
        if self._covariance is None or first not in self.place or second not in self.place:
            return 0.0
        return float(self._covariance[self.place[first], self.place[second]])

    def matrix(self, names: tuple[str, ...]) -> Floats:
        found = np.zeros((len(names), len(names)))
        known = [i for i, name in enumerate(names) if name in self.place]
        if known and self._covariance is not None:
            places = [self.place[names[i]] for i in known]
            found[np.ix_(known, known)] = self._covariance[np.ix_(places, places)]
        return found


def feed_spread(figures: FeedFigures, book: Book, library: Library) -> Spread:
    """The spread of a feed between lots. Figures that no equation can read leave each nutrient by itself."""
    known = library.feeds.get(figures.feed)
    if known is not None and known.group in GROWN:
        try:
            return LotSpread(known_crop(figures.feed, book, library))
        except EquationError:
            pass
    return FeedSpread(_stated_sds(figures, book, library))


def _stated_sds(figures: FeedFigures, book: Book, library: Library) -> dict[str, float]:
    """The sd of every nutrient of a feed as fed: the farm's own, else the library's between-lot sd."""
    own = {row.nutrient: row for row in book.own_feeds if row.feed == figures.feed}
    sds: dict[str, float] = {}
    for nutrient, figure in library.figures.get(figures.feed, {}).items():
        if figure.sd is not None and library.nutrients[nutrient].kind != "coefficient":
            sds[nutrient] = figure.sd * _dry_matter_pct(figures) / 100
    for nutrient, row in own.items():
        if row.sd is not None:
            sds[nutrient] = row.sd * _dry_matter_pct(figures) / 100 if row.basis == "dry_matter" else row.sd
        else:
            sds.pop(nutrient, None)
    for known in library.nutrients.values():  # parts stand above what is made of them
        if known.nutrient in sds or known.nutrient in own:
            continue
        if known.part_of in sds and known.coefficient in figures.values:
            sds[known.nutrient] = sds[known.part_of] * figures.values[known.coefficient] / 100
        elif any(part in sds for part in known.sum_of):
            sds[known.nutrient] = sum(abs(w) * sds.get(part, 0.0) for part, w in known.parts.items())
    return sds


def _dry_matter_pct(figures: FeedFigures) -> float:
    return given(figures.dry_matter_pct, f"the dry matter of {figures.feed}")
