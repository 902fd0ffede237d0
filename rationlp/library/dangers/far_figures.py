"""A farm's own figure far off the table: a decimal point, a unit or a basis that slipped."""

from __future__ import annotations

from dataclasses import dataclass

from rationlp.library.read import Library
from rationlp.library.records import Feed
from rationlp.numbers import figure
from rationlp.units import as_fed, dry_matter_basis

FAR = 5.0
"""So many times more or less than the table is questioned (common practice: no lot of a feed is that far off)."""
FAR_OF_TRACES = 20.0
"""The same of trace minerals, vitamins and fatty acids of crops and meals, which soil and season move several times
over."""
FAR_OF_MINERALS = 8.0
"""The same of what crops and meals hold of minerals in %: a decimal point one place off is questioned."""
MADE_TO_MEASURE = ("mineral", "premix", "amino_acid", "additive")
"""Groups of feeds whose contents are made, not grown."""
STEADY_KINDS = ("proximate", "amino_acid", "digestible_amino_acid", "energy", "coefficient")
LEAST_THAT_MATTERS_PCT = {"amino_acid": 0.1, "digestible_amino_acid": 0.1}
LEAST_PCT = 0.5
"""Figures in % that are both below this are not compared: traces."""
ZERO_FOR_PCT = 1.0
"""A figure of 0 is questioned where the table has at least so much."""
SLIPS = (
    (10.0, "a decimal point one place off, or g/kg entered as %"),
    (100.0, "a decimal point two places off"),
    (1000.0, "grams and milligrams, or kilograms and tonnes, taken for each other"),
    (10_000.0, "% and mg/kg taken for each other"),
)
NEAR = 1.6


@dataclass(frozen=True, slots=True)
class FarOff:
    """A figure that lies far off: `times` over the table's, both in the library's unit on one basis.

    `brings` is what a premix with it would bring to a kilogram of feed, where that passes `safe`, the highest safe
    ceiling of its animals.
    """

    value: float
    table: float
    times: float
    basis: str
    brings: float | None = None
    safe: float | None = None

    @property
    def reading(self) -> str:
        """What it probably should be, in words."""
        if self.value == 0:
            return "it may have been left out; then delete the row"
        factor = max(self.times, 1 / self.times)
        for slip, words in SLIPS:
            if slip / NEAR < factor < slip * NEAR:
                meant = self.value / slip if self.times > 1 else self.value * slip
                return f"{figure(meant)} would fit: {words}"
        return "look at value, unit and basis"


def far_off(
    feed: str,
    nutrient: str,
    value: float,
    basis: str,
    dry_matter_pct: float | None,
    inclusion_pct: float | None,
    library: Library,
) -> FarOff | None:
    """Whether a figure, in the library's unit and on `basis`, lies far off the table's; None where it does not.

    `inclusion_pct` is the share of the ration that a premix is used at, in percent; None takes the table's.
    """
    known, row = library.feeds.get(feed), library.nutrients.get(nutrient)
    if known is None or row is None or nutrient == "dry_matter":
        return None
    premix = library.premix_figures.get(feed, {}).get(nutrient)
    stored = library.figures.get(feed, {}).get(nutrient)
    if premix is not None:
        table, here, on = premix.value, _as_fed(value, basis, dry_matter_pct), "as sold"
    elif stored is not None:
        table, here, on = stored.value, _on_dry_matter(value, basis, dry_matter_pct, row.kind), "on dry matter"
    else:
        return None
    if not _is_far(here, table, known, row.kind, row.unit):
        return None
    found = FarOff(here, table, here / table if table else float("inf"), on)
    if premix is None or here < table:
        return found
    brings = here * (inclusion_pct or known.premix_inclusion_pct or 0.0) / 100
    safe = _highest_safe(nutrient, known, library)
    return FarOff(here, table, found.times, on, brings, safe) if safe is not None and brings > safe else found


def _as_fed(value: float, basis: str, dry_matter_pct: float | None) -> float:
    return as_fed(value, dry_matter_pct) if basis == "dry_matter" and dry_matter_pct else value


def _on_dry_matter(value: float, basis: str, dry_matter_pct: float | None, kind: str) -> float:
    if basis == "dry_matter" or kind == "coefficient" or not dry_matter_pct:
        return value
    return dry_matter_basis(value, dry_matter_pct)


def _is_far(value: float, table: float, feed: Feed, kind: str, unit: str) -> bool:
    least = LEAST_THAT_MATTERS_PCT.get(kind, LEAST_PCT) if unit == "%" else 0.0
    if max(value, table) < least or table == 0:
        return False
    if value == 0:
        return unit == "%" and table >= ZERO_FOR_PCT
    grown = FAR_OF_MINERALS if unit == "%" else FAR_OF_TRACES
    factor = FAR if feed.group in MADE_TO_MEASURE or kind in STEADY_KINDS else grown
    return max(value / table, table / value) >= factor


def _highest_safe(nutrient: str, feed: Feed, library: Library) -> float | None:
    """The highest safe ceiling of any animal that the premix is made for."""
    pigs, birds = "swine" in feed.premix_species, bool({"poultry", "layer"} & set(feed.premix_species))
    rows = [
        row.maximum
        for row in library.ceilings
        if row.nutrient == nutrient
        and row.kind == "safety"
        and (row.scope == "all" or (pigs if row.scope.startswith(("swine", "sw_")) else birds))
    ]
    return max(rows, default=None)
