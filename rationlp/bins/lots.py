"""How the lots of one crop differ: its composition on dry matter, and how far and how together the nutrients move.

A lot is described by independent causes of one standard deviation each (its protein, its hull, its digestibility ...).
A nutrient moves with some of them: amino acids with protein by the published lines, energies with the proximates by the
published equations, digestible parts with the whole, starch against whatever takes its room. So the covariance of a lot
is `loadings @ loadings.T`, and never less than nothing in any direction. For energies the library's own figure stays
where it is; only its change follows the equation.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np

from rationlp.book.columns import FOREIGN_MATTER
from rationlp.book.records import Book
from rationlp.errors import BookError, Problem
from rationlp.figures import feed_figures
from rationlp.library.equations.amino_acids import amino_acid_slope
from rationlp.library.equations.published import EquationError, OutsideRange
from rationlp.library.expressions import evaluate, inputs_of
from rationlp.library.read import Library
from rationlp.library.records import LotVariation, Nutrient
from rationlp.library.reestimate import ENERGIES, estimate_for
from rationlp.units import dry_matter_basis

HIGHEST_PROTEIN_CORRELATION = 0.741
"""No amino acid is held closer to protein than this, the highest published correlation (threonine of barley, n 58)."""
NESTED_CORRELATION = 0.9
"""Crude fibre lies within ADF and ADF within NDF, so they move together, but never as one (a judgement)."""
STARCH_CORRELATION = 0.7
"""Starch gives way to what takes its room; half of its spread, at least, is its own (a judgement)."""
FOREIGN_SHARE_OF_GRAIN = 0.5
"""Foreign matter is credited with nothing; what it may really hold spreads up to half of the grain's (a judgement)."""
CONSTANT_SHARE = "constant_share"
"""What the library calls amino acids that keep their share of protein."""
UNKNOWN_KERNEL_MASS_G = 0.2
"""Kernel mass of a crop nobody has a figure for: a pea's, on the safe side."""
_KNOWN: WeakKeyDictionary[Library, dict] = WeakKeyDictionary()
"""Crops worked out once, by library, crop and the farm's own figures of it."""

Moves = dict[str, float]
"""How far a nutrient moves, in its unit, with one standard deviation of each independent cause."""
EXACT = frozenset({"me_pig", "ne_pig"})
"""Energies that the library itself calculates by their equation from digestible energy: nothing is left beside it."""
STEP = 0.01


@dataclass(frozen=True, slots=True)
class Crop:
    """A crop as its lots are known: `values` on dry matter by nutrient, and `moves` of each of them."""

    crop: str
    label: str
    dry_matter_pct: float
    dry_matter_sd: float
    kernel_mass_g: float
    values: Mapping[str, float]
    moves: Mapping[str, Moves]
    own: frozenset[str] = frozenset()

    def loadings(self, nutrients: Sequence[str]) -> np.ndarray:
        """One row per nutrient, one column per cause; the covariance of a lot is loadings @ loadings.T."""
        causes = sorted({cause for nutrient in nutrients for cause in self.moves.get(nutrient, ())})
        column = {cause: index for index, cause in enumerate(causes)}
        made = np.zeros((len(nutrients), len(causes)))
        for row, nutrient in enumerate(nutrients):
            for cause, amount in self.moves.get(nutrient, {}).items():
                made[row, column[cause]] = amount
        return made


def known_crop(crop: str, book: Book, library: Library) -> Crop:
    """The crop as the farm and the library know it. Raises BookError if nobody knows its dry matter.

    What the farm says of it in `own_feeds` is all that a book adds, so bins and books share what was worked out once.
    """
    known = _KNOWN.setdefault(library, {})
    key = (crop, tuple(row for row in book.own_feeds if row.feed == crop))
    if key not in known:
        known[key] = _work_out(crop, book, library)
    return known[key]


def _work_out(crop: str, book: Book, library: Library) -> Crop:
    figures = feed_figures(crop, book, library)
    if figures.dry_matter_pct is None:
        raise BookError([_no_dry_matter(crop, book)])
    values = {
        nutrient: value if is_coefficient(nutrient, library) else dry_matter_basis(value, figures.dry_matter_pct)
        for nutrient, value in figures.values.items()
        if nutrient != "dry_matter"
    }
    spread = _Spread(crop, values, book, library)
    feed = library.feeds.get(crop)
    thousand = feed.thousand_kernel_weight_g if feed else None
    return Crop(
        crop=crop,
        label=figures.label,
        dry_matter_pct=figures.dry_matter_pct,
        dry_matter_sd=spread.size("dry_matter", "dry_matter", figures.dry_matter_pct, "whole"),
        kernel_mass_g=thousand / 1000 if thousand else UNKNOWN_KERNEL_MASS_G,
        values=values,
        moves=spread.moves,
        own=figures.own,
    )


def foreign_matter(shares: Mapping[str, float], crops: Mapping[str, Crop]) -> Crop:
    """Stones, chaff and weed seeds among these crops: credited with nothing, perhaps half of what the grain holds."""
    whole = sum(shares[crop] for crop in crops) or 1.0
    weights = {crop: shares[crop] / whole for crop in crops}
    known = set.intersection(*(set(row.values) for row in crops.values())) if crops else set()
    grain = {n: sum(weights[crop] * crops[crop].values[n] for crop in crops) for n in known}
    cause = f"{FOREIGN_MATTER} composition"
    return Crop(
        crop=FOREIGN_MATTER,
        label="Foreign matter",
        dry_matter_pct=sum(weights[crop] * crops[crop].dry_matter_pct for crop in crops),
        dry_matter_sd=max(row.dry_matter_sd for row in crops.values()),
        kernel_mass_g=sum(weights[crop] * crops[crop].kernel_mass_g for crop in crops),
        values=dict.fromkeys(known, 0.0),
        moves={nutrient: {cause: FOREIGN_SHARE_OF_GRAIN * value} for nutrient, value in grain.items()},
    )


def is_coefficient(nutrient: str, library: Library) -> bool:
    """Whether a figure is a digestibility, in percent of another nutrient."""
    known = library.nutrients.get(nutrient)
    return known is not None and known.kind == "coefficient"


def _no_dry_matter(crop: str, book: Book) -> Problem:
    place = next((row.place for row in book.sorted if row.crop == crop), None)
    return Problem(
        "error",
        "sorted",
        place.cell("crop") if place else "",
        f"the crop {crop!r} without a dry matter figure",
        "a dry matter figure of it",
        f"Add a row to 'own_feeds': {crop}, dry_matter, 88, %, as_fed (or what your grain has).",
    )


class _Spread:
    """Works out how the nutrients of one crop move, each after those it follows."""

    def __init__(self, crop: str, values: Mapping[str, float], book: Book, library: Library):
        self.crop, self.values, self.book, self.library = crop, values, book, library
        feed = library.feeds.get(crop)
        self.words = [
            crop,
            *(f for f, members in library.families.items() if crop in members),
            feed.group if feed else "",
        ]
        self.moves: dict[str, Moves] = {}
        self._proximates()
        self._amino_acids()
        self._energies()
        for nutrient in values:  # minerals, vitamins, and whatever the farm added
            if nutrient not in self.moves and not self._derived(nutrient):
                self.alone(nutrient)
        self._digestibilities()
        for nutrient in library.nutrients.values():  # table order: parts stand above what is made of them
            if nutrient.nutrient in values and nutrient.nutrient not in self.moves:
                self._follow_parts(nutrient)

    # The size of a spread ---------------------------------------------------------------------------------------

    def size(self, nutrient: str, kind: str, value: float, of: str) -> float:
        """Standard deviation between lots, in the nutrient's unit on dry matter: own, the library's, or borrowed."""
        if of == "whole":
            own = next((r for r in self.book.own_feeds if r.feed == self.crop and r.nutrient == nutrient), None)
            if own is not None and own.sd is not None:
                return own.sd / own.value * value if own.value else own.sd
            figure = self.library.figures.get(self.crop, {}).get(nutrient)
            if figure is not None and figure.sd is not None and figure.value:
                return figure.sd / figure.value * value
        row = self._borrowed(nutrient, kind, of)
        return row.sd if row.sd is not None else row.cv_pct / 100 * value

    def _borrowed(self, nutrient: str, kind: str, of: str) -> LotVariation:
        for key in (nutrient, kind, "all"):
            rows = [row for row in self.library.lot_variation.get(key, ()) if row.of == of]
            for word in (*self.words, "all"):
                found = next((row for row in rows if row.feeds == word), None)
                if found is not None:
                    return found
        raise BookError(
            [
                Problem(
                    "error",
                    "lot_variation.csv",
                    "",
                    f"no spread of {nutrient} between lots of {self.crop}",
                    "a row for all feeds and all nutrients",
                    "Copy the row all,all,whole of the shipped feed library.",
                )
            ]
        )

    def _kind(self, nutrient: str) -> str:
        known = self.library.nutrients.get(nutrient)
        return known.kind if known else "all"

    # How nutrients follow each other ----------------------------------------------------------------------------

    def alone(self, nutrient: str) -> None:
        """A nutrient that moves by itself."""
        size = self.size(nutrient, self._kind(nutrient), self.values[nutrient], "whole")
        self.moves[nutrient] = {f"{self.crop} {nutrient}": size} if size else {}

    def follow(self, nutrient: str, slopes_on: Mapping[str, float], closest: float) -> None:
        """A nutrient that moves with others, and by itself so far that its whole spread is the known one.

        The others never explain more of it than `closest`, a correlation.
        """
        whole = self.size(nutrient, self._kind(nutrient), self.values[nutrient], "whole")
        led = self._led(slopes_on)
        led_size = _size(led)
        if led_size > closest * whole:
            led = {cause: amount * closest * whole / led_size for cause, amount in led.items()}
            led_size = closest * whole
        self._set(nutrient, led, (whole**2 - led_size**2) ** 0.5)

    def follow_beside(self, nutrient: str, slopes_on: Mapping[str, float], exact: bool = False) -> None:
        """A nutrient that moves with others, and by itself by what the library says remains beside them."""
        beside = 0.0 if exact else self.size(nutrient, self._kind(nutrient), self.values[nutrient], "beside")
        self._set(nutrient, self._led(slopes_on), beside)

    def _led(self, slopes_on: Mapping[str, float]) -> Moves:
        led: Moves = {}
        for leader, slope in slopes_on.items():
            for cause, amount in self.moves.get(leader, {}).items():
                led[cause] = led.get(cause, 0.0) + slope * amount
        return led

    def _set(self, nutrient: str, led: Moves, by_itself: float) -> None:
        self.moves[nutrient] = {**led, f"{self.crop} {nutrient}": by_itself} if by_itself else led

    def _derived(self, nutrient: str) -> bool:
        known = self.library.nutrients.get(nutrient)
        if known is None or known.kind == "coefficient":
            return known is not None
        made_of = {*known.sum_of, known.part_of, known.coefficient} - {""}
        return bool(made_of) and made_of <= set(self.values)

    # The nutrients ----------------------------------------------------------------------------------------------

    def _proximates(self) -> None:
        has = self.values
        for nutrient in ("crude_protein", "ether_extract", "ash", "sugars", "crude_fibre", "phosphorus"):
            if nutrient in has:
                self.alone(nutrient)
        for inner, outer in (("crude_fibre", "adf"), ("adf", "ndf")):
            if outer in has:
                self.follow(outer, {inner: 1.0} if inner in has else {}, NESTED_CORRELATION)
        if "starch" in has:
            takers = [n for n in ("crude_protein", "ether_extract", "ash", "sugars", "ndf") if n in has]
            rest = max(100 - sum(has[n] for n in takers), has["starch"])
            self.follow("starch", dict.fromkeys(takers, -has["starch"] / rest if rest else 0.0), STARCH_CORRELATION)
        fat, phosphorus = "ether_extract", "phosphorus"
        parts = (("linoleic_acid", fat), ("alpha_linolenic_acid", fat), ("phytate_phosphorus", phosphorus))
        for part, whole in parts:
            if part in has and has.get(whole):
                self.follow_beside(part, {whole: has[part] / has[whole]})
        if {"nonphytate_phosphorus", "phytate_phosphorus", "phosphorus"} <= set(has):
            self.follow_beside("nonphytate_phosphorus", {"phosphorus": 1.0, "phytate_phosphorus": -1.0}, exact=True)

    def _amino_acids(self) -> None:
        protein, row = self.values.get("crude_protein"), estimate_for(self.crop, "amino_acids", self.library)
        grain = row.equation if row else CONSTANT_SHARE
        for nutrient, value in self.values.items():
            if self._kind(nutrient) != "amino_acid" or self._derived(nutrient):
                continue
            slope = value * _protein_slope(grain, nutrient, protein) if protein else 0.0
            self.follow(nutrient, {"crude_protein": slope}, HIGHEST_PROTEIN_CORRELATION)

    def _energies(self) -> None:
        for nutrient in ENERGIES:
            if nutrient in self.values:
                found = slopes(nutrient, self.crop, self.values, self.library)
                if found is None:
                    self.alone(nutrient)
                else:
                    self.follow_beside(nutrient, found, nutrient in EXACT)

    def _digestibilities(self) -> None:
        """All amino acids of a lot are digested well or badly together, in pigs and in poultry each for themselves."""
        for nutrient in self.values:
            if self._kind(nutrient) == "coefficient":
                size = self.size(nutrient, "coefficient", self.values[nutrient], "whole")
                animal = nutrient.rsplit("_", 1)[-1] if nutrient.endswith(("_pig", "_poultry")) else nutrient
                self.moves[nutrient] = {f"{self.crop} digestibility {animal}": size}

    def _follow_parts(self, nutrient: Nutrient) -> None:
        """A digestible part, or a sum: exactly what its parts make of it."""
        if nutrient.part_of:
            whole, share = self.values[nutrient.part_of], self.values[nutrient.coefficient]
            slopes_on = {nutrient.part_of: share / 100, nutrient.coefficient: whole / 100}
        else:
            slopes_on = nutrient.parts
        self.follow_beside(nutrient.nutrient, slopes_on, exact=True)


def _protein_slope(grain: str, amino_acid: str, protein: float) -> float:
    """Relative change of an amino acid for each percent of protein by the published line, else in proportion."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        try:
            return max(amino_acid_slope(grain, amino_acid, protein), 0.0)
        except EquationError:
            return 1 / protein


def _size(moves: Moves) -> float:
    return sum(amount**2 for amount in moves.values()) ** 0.5


def slopes(energy: str, crop: str, figures: Mapping[str, float], library: Library) -> dict[str, float] | None:
    """Change of an energy [kcal/kg DM] for each unit of each figure it is calculated from, at `figures` of the crop.

    None if the library names no equation for it, or a figure the equation needs is missing or impossible.
    """
    row = estimate_for(crop, energy, library)
    if row is None or not inputs_of(row.equation) <= figures.keys():
        return None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        try:
            base = evaluate(row.equation, crop, {crop: figures})
            return {
                name: (evaluate(row.equation, crop, {crop: {**figures, name: figures[name] + STEP}}) - base) / STEP
                for name in sorted(inputs_of(row.equation))
            }
        except EquationError:
            return None
