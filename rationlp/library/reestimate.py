"""What a farm's own assays change in the figures it did not assay.

The library keeps the level of its table and takes only the change from the published equation: table figure plus
equation at the farm's composition less equation at the table's. `estimates.csv` says which equation moves which feed.
Everything here is on dry matter, in the units of nutrients.csv.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass

from rationlp.library.equations import EquationError, OutsideRange
from rationlp.library.equations.amino_acids import amino_acid_ratio, amino_acid_slope, equation_for
from rationlp.library.equations.balance import starch_in_step
from rationlp.library.expressions import evaluate, inputs_of
from rationlp.library.read import Library
from rationlp.library.records import Estimate
from rationlp.numbers import figure

ENERGIES = ("gross_energy", "de_pig", "me_pig", "ne_pig", "amen_poultry")
"""In the order in which each follows from the ones before."""
MAIN_PARTS = ("crude_protein", "ether_extract", "ash", "ndf", "sugars")
"""Parts of the dry matter that do not overlap; what they take, starch gives up."""
FIBRE = ("ndf", "adf", "crude_fibre")
"""Measures of one thing: those not assayed keep their ratio to the one that was."""
ROOM_PCT = 0.5
"""By how much rounded parts may pass 100 % of dry matter."""
STARCHY_PCT = 15.0
"""Starch in dry matter above which it moves in step with the other parts."""
PROXIMATES = (*MAIN_PARTS, "starch", "crude_fibre", "adf")
IN_STEP = {  # figures that keep their share of another one
    "linoleic_acid": "ether_extract",
    "alpha_linolenic_acid": "ether_extract",
    "phytate_phosphorus": "phosphorus",
    "nonphytate_phosphorus": "phosphorus",
}


@dataclass(frozen=True, slots=True)
class FigureChange:
    """A figure that follows from what the farm assayed: the table's, the new one, by which equation and why.

    `because` names the assayed nutrients that moved it, `outside` says where an equation was used beyond its range.
    """

    nutrient: str
    old: float
    new: float
    equation: str
    because: tuple[str, ...]
    outside: tuple[str, ...] = ()


def reestimate(feed: str, own: Mapping[str, float], library: Library) -> tuple[FigureChange, ...]:
    """What follows from the figures `own` that the farm has of `feed`, on dry matter, for those it has not.

    Moved are fibre, starch, fatty acids, phytate phosphorus, amino acids and energies, each only if something it
    depends on is among `own`. A feed the library does not know has no table to start from: nothing follows. Raises
    EquationError where the farm's figures cannot be: parts over 100 %, an energy below nothing.
    """
    table = {nutrient: figure.value for nutrient, figure in library.figures.get(feed, {}).items()}
    if not table or not any(nutrient in table for nutrient in own):
        return ()
    moved = _Moved(feed, table, {n: value for n, value in own.items() if n in table}, library)
    moved.shares()
    moved.starch()
    moved.amino_acids()
    moved.energies()
    return tuple(moved.changes.values())


def energy_sensitivities(feed: str, library: Library) -> dict[str, dict[str, float]]:
    """By how many kcal/kg DM each energy of `feed` rises for one more percent of dry matter of each proximate.

    By the equations of estimates.csv, which are linear over the step of 0.1; DE counts within ME and NE. Each proximate
    is moved alone, all others kept.
    """
    table = {nutrient: figure.value for nutrient, figure in library.figures.get(feed, {}).items()}
    found: dict[str, dict[str, float]] = {energy: {} for energy in ENERGIES if energy in table}
    for part in PROXIMATES:
        if part not in table:
            continue
        step = 0.1 if table[part] < 99 else -0.1
        moved = _Moved(feed, table, {part: table[part] + step}, library)
        moved.energies()
        for energy in found:
            change = moved.changes.get(energy)
            found[energy][part] = (change.new - change.old) / step if change else 0.0
    return found


def amino_acid_sensitivities(feed: str, library: Library) -> dict[str, float]:
    """By how many percent of dry matter each amino acid of `feed` rises for one more percent of protein."""
    table = {nutrient: figure.value for nutrient, figure in library.figures.get(feed, {}).items()}
    protein = table.get("crude_protein", 0.0)
    grain = _grain(feed, library)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        return {
            name: table[name] * amino_acid_slope(grain, name, protein)
            for name in _amino_acids(table, library)
            if protein
        }


def estimate_for(feed: str, nutrient: str, library: Library) -> Estimate | None:
    """The row of estimates.csv that speaks for `feed`: by feed, family, group, else `all`."""
    rows = library.estimates.get(nutrient, {})
    return next((rows[word] for word in _words(feed, library) if word in rows), None)


def _words(feed: str, library: Library) -> Iterator[str]:
    yield feed
    yield from (family for family, members in library.families.items() if feed in members and family != feed)
    if feed in library.feeds:
        yield library.feeds[feed].group
    yield "all"


def _grain(feed: str, library: Library) -> str:
    row = estimate_for(feed, "amino_acids", library)
    return row.equation if row else "constant_share"


def _amino_acids(table: Mapping[str, float], library: Library) -> list[str]:
    return [n for n in table if n in library.nutrients and library.nutrients[n].kind == "amino_acid"]


def _heard(calculate: Callable[[], float]) -> tuple[float, tuple[str, ...]]:
    """A result and what the equations said of their range."""
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always", OutsideRange)
        value = calculate()
    return value, tuple(dict.fromkeys(str(line.message) for line in heard if line.category is OutsideRange))


def _what(line: str) -> str:
    """Equation and argument of an out-of-range line, without the number."""
    return " ".join(line.split()[:2])


class _Moved:
    """The table of one feed, the farm's figures over it, and what follows."""

    def __init__(self, feed: str, table: Mapping[str, float], own: Mapping[str, float], library: Library):
        self.feed = feed
        self.table = table
        self.own = own
        self.library = library
        self.now = {**table, **own}
        self.why: dict[str, tuple[str, ...]] = {nutrient: (nutrient,) for nutrient in own}
        self.changes: dict[str, FigureChange] = {}

    def shares(self) -> None:
        """Fatty acids with fat, phytate with phosphorus, measures of fibre with one another: they keep their ratio."""
        fibre = next((part for part in FIBRE if part in self.own), None)
        for nutrient, whole in (IN_STEP | dict.fromkeys(FIBRE, fibre)).items():
            if whole in self.own and self.table.get(whole) and nutrient in self.table:
                ratio = self.own[whole] / self.table[whole]
                self.move(nutrient, lambda n=nutrient, r=ratio: self.table[n] * r, f"in step with {whole}", [whole])

    def starch(self) -> None:
        """Starch in step with the parts that were assayed or followed, where it was not assayed itself."""
        parts = [part for part in MAIN_PARTS if part in self.why and part in self.table]
        before, after = (sum(figures[part] for part in parts) for figures in (self.table, self.now))
        if after > 100 + ROOM_PCT:
            raise EquationError(f"{', '.join(parts)} of {self.feed} add up to {after:.4g} % of dry matter")
        if parts and self.table.get("starch", 0.0) >= STARCHY_PCT:
            causes = [cause for part in parts for cause in self.why[part]]
            self.move("starch", lambda: starch_in_step(self.table["starch"], before, after), "starch_in_step", causes)

    def amino_acids(self) -> None:
        """Amino acids with protein, along the published line of the grain or in proportion."""
        if "crude_protein" not in self.own or not self.table.get("crude_protein"):
            return
        before, after = self.table["crude_protein"], self.own["crude_protein"]
        grain = _grain(self.feed, self.library)
        for name in _amino_acids(self.table, self.library):
            self.move(
                name,
                lambda n=name: self.table[n] * amino_acid_ratio(grain, n, before, after),
                equation_for(grain, name),
                ["crude_protein"],
            )

    def energies(self) -> None:
        """Energies by the change of their equations, each with the ones before it."""
        for energy in ENERGIES:
            row = estimate_for(self.feed, energy, self.library)
            if row is None or energy not in self.table or energy in self.own:
                continue
            because = [cause for part in sorted(inputs_of(row.equation)) for cause in self.why.get(part, ())]
            if because:
                self.move(energy, lambda e=energy, r=row: self.table[e] + self.difference(r), row.equation, because)

    def difference(self, row: Estimate) -> float:
        """How far the equation moves from the table's composition to this one; warns only of ranges newly left."""
        before, known = _heard(lambda: evaluate(row.equation, self.feed, {self.feed: self.table}))
        after, left = _heard(lambda: evaluate(row.equation, self.feed, {self.feed: self.now}))
        stood = {_what(line) for line in known}
        for line in left:
            if _what(line) not in stood:
                warnings.warn(line, OutsideRange, stacklevel=2)
        return after - before

    def move(self, nutrient: str, calculate: Callable[[], float], equation: str, because: Collection[str]) -> None:
        """Enter a new figure, unless the farm has its own or nothing changes. Raises EquationError below nothing."""
        if nutrient in self.own:
            return
        value, outside = _heard(calculate)
        if value < 0:
            raise EquationError(f"{nutrient} of {self.feed} would come to {value:.4g} by {equation}")
        old = self.table[nutrient]
        causes = tuple(dict.fromkeys(because))
        self.now[nutrient] = value
        self.why[nutrient] = causes
        if abs(value - old) > 1e-9 * max(1.0, abs(old)):
            self.changes[nutrient] = FigureChange(nutrient, old, value, equation, causes, outside)


def sentence(label: str, changes: Collection[FigureChange], library: Library) -> str:
    """In words, what was re-estimated of a feed, from what, by which equations; figures are on dry matter."""
    told = [change for change in changes if change.nutrient in (*ENERGIES[1:], "lysine", "starch")]
    others = [library.nutrients[change.nutrient].label for change in changes if change not in told]
    causes = dict.fromkeys(library.nutrients[n].label for change in changes for n in change.because)
    parts = []
    for change in told:
        row = library.nutrients[change.nutrient]
        parts.append(f"{row.label} {figure(change.old)} to {figure(change.new)} {row.unit}")
    if others:
        parts.append(f"and with them {', '.join(others)}")
    outside = dict.fromkeys(line for change in changes for line in change.outside)
    beyond = f" BEYOND THE RANGE of an equation, so a guess: {'; '.join(outside)}." if outside else ""
    return f"{label}: from the farm's own {', '.join(causes)}, in dry matter: {'; '.join(parts)}.{beyond}"
